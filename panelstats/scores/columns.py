"""Names of columns, born here; what a pot number may mean."""

SESSION, LOT, TASTER, POT, LOOK = "session", "lot", "taster", "pot", "look"
POSITION, DESCRIPTOR, SCORE, BREW = "position", "descriptor", "score", "brew"
LOOKS, MEAN, REST, WITHIN_SS = "looks", "mean", "rest", "within_ss"
CLASS, ROLE, STAGE, POTS = "class", "role", "stage", "pots"
KEYS = [SESSION, LOT, TASTER, BREW, DESCRIPTOR]
LABELS = (SESSION, LOT, TASTER, DESCRIPTOR)  # the keys that are names

# What a pot number means (methods: identity of the brew).
SHARED, OWN, SAME = "shared", "own", "same"
