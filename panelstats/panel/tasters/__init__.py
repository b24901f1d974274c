"""Who can be relied on, for what."""
