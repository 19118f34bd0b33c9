"""Candidate layouts and which of them to take."""
