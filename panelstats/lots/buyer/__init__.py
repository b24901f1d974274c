"""Lots told to a buyer who was not in the room: only what their intervals support."""
