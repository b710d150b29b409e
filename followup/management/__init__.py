"""Commands of the follow-up."""
