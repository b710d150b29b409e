"""Background work of the registry."""
