"""What one content of a cell, or one heading, says by itself: a number, a role, a scale, a fault, an amount."""
