"""What everything stands on: units, errors, lengths, coordinate systems, safe files."""
