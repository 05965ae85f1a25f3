"""The master room."""
