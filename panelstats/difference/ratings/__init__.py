"""Difference from control by ratings."""
