"""Every non-trivial read of the registry."""
