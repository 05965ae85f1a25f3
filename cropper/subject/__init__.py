"""Who is in the picture: eyes, heads, turn, and how sure we are of each."""
