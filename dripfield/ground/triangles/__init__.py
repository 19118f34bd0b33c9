"""Triangles over points: locating, breaklines as edges, voids cut out."""
