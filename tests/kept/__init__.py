"""Kept answers: what every analysis says of many small rooms, so that no change of a number or a word goes unseen.

They prove nothing true: what is true is tested against the outside. `python -m tests.kept` writes them anew; what a
change moved then stands in its commit.
"""
