"""What was read: scores, cells, and the account of both."""
