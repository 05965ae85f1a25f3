"""What we were given: opened upright, checked, hashed, with its colours known."""
