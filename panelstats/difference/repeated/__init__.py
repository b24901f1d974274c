"""Difference and match tests where tasters answered several times."""
