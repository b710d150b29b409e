"""Our answers in open formats: pages and tables."""
