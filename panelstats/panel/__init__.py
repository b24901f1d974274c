"""Who can be relied on, for what, and since when."""
