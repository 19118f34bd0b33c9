"""Laterals joined end to end, zones of them, manifolds and the lines to and from the tank."""
