"""The publication room."""
