"""A review for each question that is asked of a room: the analyses it calls for, in reading order."""
