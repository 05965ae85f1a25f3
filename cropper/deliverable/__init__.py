"""The deliverable room."""
