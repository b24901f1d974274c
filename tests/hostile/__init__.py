"""Hostile cases, made by seeded scripts: names, numbers, files and moments that a careless tool does not withstand."""
