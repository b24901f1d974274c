"""What a plan of difference tests says of itself, in whole sentences."""

QUESTION = "Is every order served equally often?"
BALANCED, NEARLY = "balanced", "nearly balanced"

EVEN = "{sets} of {kind}: each of the {orders} orders is served {times}."
UNEVEN = "{sets} of {kind}: {orders} orders, {extra} of them, drawn at random, served once more than the others."
UNEVEN_STEP = "{more} more would balance them."
SINGLES = "{servings} of {kind}: {n_a} and {n_not}, told to nobody, never more than {run} alike running."
FEW = (
    "Orders are balanced over tasters and, where a taster takes several sets, within each as far as they go. Two like "
    "cups of a set carry different codes; if both are poured from one pot, they are not two preparations."
)
METHOD = (
    "Orders of {kind} ({standard}) dealt in whole balanced sets, then distinct ones at random; codes of three digits, "
    "fresh for every set, safe from slips within it; seed {seed}. Same temperature, fill and cups; colour that gives "
    "the answer away asks for covered cups or coloured light."
)
STANDARDS = {"triangle": "ISO 4120", "duo-trio": "ISO 10399", "paired": "ISO 5495"}
GENERAL = "serving orders by enumeration"
