"""Blind codes that survive a slip of the pen."""
