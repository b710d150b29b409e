"""Background work of the follow-up."""
