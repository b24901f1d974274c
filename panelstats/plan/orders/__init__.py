"""Serving orders: squares, incomplete blocks, and how balanced they are."""
