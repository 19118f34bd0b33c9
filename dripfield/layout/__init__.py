"""The engine: lines over a bed that are level and evenly spaced as far as both go together."""
