"""The plan of a layout."""
