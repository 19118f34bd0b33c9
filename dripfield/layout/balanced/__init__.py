"""Stripe fields in panels along seams: level and evenly spaced at once."""
