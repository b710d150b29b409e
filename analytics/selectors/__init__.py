"""Every non-trivial read of the analytics."""
