"""Settings, addresses and shared pages of Holdfast."""
