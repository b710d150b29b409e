"""Protocols, reviews and findings of Holdfast."""
