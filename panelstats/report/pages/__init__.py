"""Pages: one self-contained file each."""
