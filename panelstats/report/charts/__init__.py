"""Drawings of results: rows of intervals on one scale."""
