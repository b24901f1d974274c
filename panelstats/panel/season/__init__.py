"""The season: which taster has moved, since when, by how much, and what cannot be seen."""
