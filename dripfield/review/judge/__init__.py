"""A plan or a layout against another, line by line, with totals and setbacks."""
