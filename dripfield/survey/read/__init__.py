"""One reader for every kind of survey file."""
