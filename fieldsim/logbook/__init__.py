"""Runs driven at the table, held against their forecast."""
