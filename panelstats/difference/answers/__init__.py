"""Difference and match tests from sheets of answers."""
