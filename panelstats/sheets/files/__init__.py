"""A source opened: files and folders, whatever their format, as sheets of cells."""
