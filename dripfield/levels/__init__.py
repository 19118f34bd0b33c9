"""Level lines of a surface and the interval between them."""
