"""The survey sheet and its report."""
