"""The columns of a file of cases, as data."""
