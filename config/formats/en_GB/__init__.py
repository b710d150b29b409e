"""British formats."""
