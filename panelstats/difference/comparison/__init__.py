"""Several tests beside one another."""
