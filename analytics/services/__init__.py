"""Every write of the analytics."""
