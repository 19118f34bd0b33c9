"""Shots to doubt: duplicates, blunders, no readings, exclusions."""
