"""A survey placed in the site's coordinates."""
