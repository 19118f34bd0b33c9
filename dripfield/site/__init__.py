"""The site folder: what may stand in it, read and checked."""
