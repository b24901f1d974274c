"""Statistics that know nothing of tea."""
