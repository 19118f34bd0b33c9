"""What the crew sets out and how: stakes, flags, base line, rod readings."""
