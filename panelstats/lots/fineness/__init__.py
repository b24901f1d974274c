"""Does a finer grade brew darker: the order of grades against the panel's marks."""
