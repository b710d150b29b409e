"""Template tags of the shared pages."""
