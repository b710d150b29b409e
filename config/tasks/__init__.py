"""Background work that spans the rooms."""
