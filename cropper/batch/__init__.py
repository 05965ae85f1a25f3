"""Long work: many masters at once, here or on other machines, and what became of it."""
