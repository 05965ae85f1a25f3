"""The job room."""
