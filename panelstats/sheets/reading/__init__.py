"""All stations in order: what a source holds, put together as scores, and accounted for."""
