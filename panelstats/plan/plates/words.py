"""What a plan of difference tests says of itself, in whole sentences."""

from panelstats.speech import Phrase

QUESTION = Phrase("Is every order served equally often?")
BALANCED, NEARLY = "balanced", "nearly balanced"

EVEN = Phrase("{sets} of {kind}: each of the {orders} orders is served {times}.")
UNEVEN = Phrase(
    "{sets} of {kind}: {orders} orders, {extra} of them, drawn at random, served once more than the others."
)
UNEVEN_STEP = Phrase("{more} more would balance them.")
SINGLES = Phrase("{servings} of {kind}: {n_a} and {n_not}, told to nobody, never more than {run} alike running.")
FEW = Phrase(
    "Orders are balanced over tasters and, where a taster takes several sets, within each as far as they go. Two like "
    "cups of a set carry different codes; if both are poured from one pot, they are not two preparations."
)
METHOD = Phrase(
    "Orders of {kind} ({standard}) dealt in whole balanced sets, then distinct ones at random; codes of three digits, "
    "fresh for every set, safe from slips within it; seed {seed}. Same temperature, fill and cups; colour that gives "
    "the answer away asks for covered cups or coloured light."
)
STANDARDS = {"triangle": Phrase("ISO 4120"), "duo-trio": Phrase("ISO 10399"), "paired": Phrase("ISO 5495")}
GENERAL = Phrase("serving orders by enumeration")
