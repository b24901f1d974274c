"""Sheets in, nothing lost: every cell of a score sheet becomes a score, a blank, a fact or a named problem."""
