"""Our rows <-> open formats."""
