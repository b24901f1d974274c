"""What runs across a table and what stands at its side: a recogniser for each way of laying out a sheet."""
