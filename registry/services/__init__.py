"""Every write of the registry."""
