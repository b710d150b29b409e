"""The invented service, written as rows."""
