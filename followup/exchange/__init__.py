"""Our rows and an open format, or the outside."""
