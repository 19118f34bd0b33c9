"""A site laid out: candidates, the choice among them by measurement, the design."""
