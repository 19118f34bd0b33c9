"""The ground as a triangulated surface, and how far it can be trusted."""
