"""Difference and match tests from counts."""
