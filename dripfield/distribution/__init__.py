"""A site's laterals with water in them: its own figures led through zones and hydraulics."""
