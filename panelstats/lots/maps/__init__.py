"""Maps of lots: which taste alike, along which words they differ, how sure each place is; or nothing to map."""
