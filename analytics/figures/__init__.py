"""Figures of the answers, in one template."""
