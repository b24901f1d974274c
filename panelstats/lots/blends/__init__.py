"""Trial recipes: which lots of the stock, in which shares, come nearest to a standard."""
