"""A day of many lots tasted once: which belong on the short list, and which to taste again."""
