"""The error of one look as the room has shown it, session after session."""
