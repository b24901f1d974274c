"""A tasting of lots, planned."""
