"""Migrations of the record, found through importlib.resources."""
