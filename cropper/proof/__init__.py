"""The proof room."""
