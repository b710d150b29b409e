"""Date and number formats of the service."""
