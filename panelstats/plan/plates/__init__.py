"""Sets of a difference test, planned."""
