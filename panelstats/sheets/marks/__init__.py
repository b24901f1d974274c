"""Every cell that may hold a mark, in long form with its keys, and what stands beside the marks."""
