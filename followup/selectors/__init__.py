"""Every non-trivial read of the follow-up."""
