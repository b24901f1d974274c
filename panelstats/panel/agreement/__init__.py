"""Whether the tasters agree on the lots."""
