"""The ground as surveyed: triangles over the shots, and how far they can be trusted."""
