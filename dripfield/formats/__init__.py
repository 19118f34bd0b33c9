"""Kinds of file opened as what they hold: tables of fields, drawings, GeoJSON features."""
