"""Which lots differ, and by how much."""
