"""The staking drawing."""
