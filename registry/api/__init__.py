"""Machine access to the registry."""
