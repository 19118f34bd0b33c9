"""Tables, points and data files in the formats that people exchange."""
