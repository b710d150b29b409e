"""Copies of everything: written down encrypted, looked through, put back."""
