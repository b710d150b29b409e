"""Invented services with known rates, seeded."""
