"""Maps of lots: which lie near one another, along which words they differ, how sure each place is; or none."""
