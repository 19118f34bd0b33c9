"""One family of lines over the whole bed: straight, offset, contour."""
