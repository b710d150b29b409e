"""A year of a small invented service, driven day by day through the services that people use."""
