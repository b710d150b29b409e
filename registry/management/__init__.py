"""Commands of the registry."""
