"""Every write of the follow-up."""
