"""Sheets to fill in, lists for the kitchen, and the register of codes."""
