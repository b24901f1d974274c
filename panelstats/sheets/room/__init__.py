"""What the room declared in its registers, what it is asked, and what it is told is wrong."""
