"""Background work of the analytics."""
