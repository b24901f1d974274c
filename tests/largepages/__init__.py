"""The largest pages a room may make, and what holds for them."""
