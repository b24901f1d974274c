"""Before the tasting: who gets what, in which order, under which code; and what that can prove."""
