"""A letter to a garden: its lots against their class, and what its making went with."""
