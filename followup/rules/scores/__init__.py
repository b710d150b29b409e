"""One file for each outcome instrument."""
