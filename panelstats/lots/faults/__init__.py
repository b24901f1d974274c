"""Faults noticed in lots."""
