"""What every mark must pass before it counts, and what is asked about those that do not."""
