"""Pages of the quality meeting."""
