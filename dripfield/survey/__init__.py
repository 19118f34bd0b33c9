"""Surveys in every kind of file, turned into shots and checked."""
