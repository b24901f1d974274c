"""How many answers a difference or match test needs."""
