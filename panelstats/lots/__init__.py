"""What the lots are: which differ, which to taste again, how far from the standard."""
