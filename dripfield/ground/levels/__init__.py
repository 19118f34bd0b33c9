"""Level lines and their interval."""
