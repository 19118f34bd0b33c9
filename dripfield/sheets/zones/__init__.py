"""Zones as sheets: map, profile, loading, choice, tables and drawing."""
