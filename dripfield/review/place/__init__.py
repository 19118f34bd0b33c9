"""A plan of somebody else placed on the site."""
