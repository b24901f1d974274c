"""What a plan of difference tests says of itself, in whole sentences."""

from panelstats.speech import Phrase

QUESTION = Phrase("Is every order served equally often?")
BALANCED, NEARLY = "balanced", "nearly balanced"
POTS_QUESTION = Phrase("Are like cups brewed apart?")
APART, SHARED, UNKNOWN = "apart", "from one pot", "not known yet"
POTS_APART = Phrase("{pots} of each product: like cups of a set are always poured from different ones.")
POTS_SHARED = Phrase(
    "{pots} of each product: in {sets} two cups share a pot. They are not two preparations: a fault of that pot looks "
    "like a difference of the products, or hides one."
)
POTS_MORE = Phrase("Brew {pots} of each product, or more.")
POTS_UNSAID = Phrase("Nobody said how many pots are brewed: two cups poured from one are not two preparations.")
POTS_STEP = Phrase(
    "Say how many of each product (--pots, in Python pots_of_each): the list for the kitchen names them."
)

EVEN = Phrase("{sets} of {kind}: each of the {orders} orders is served {times}.")
UNEVEN = Phrase(
    "{sets} of {kind}: {orders} orders, {extra} of them, drawn at random, served once more than the others."
)
UNEVEN_STEP = Phrase("{more} more would balance them.")
SINGLES = Phrase("{servings} of {kind}: {n_a} and {n_not}, told to nobody, never more than {run} alike running.")
OF_A, NOT_OF_A = Phrase("{n} of A"), Phrase("{n} of what is not A")
FEW = Phrase(
    "Orders are balanced over tasters and, where a taster takes several sets, within each as far as they go. Two like "
    "cups of a set carry different codes."
)
METHOD = Phrase(
    "Plan {plan}. Orders of {kind} ({standard}) dealt in whole balanced sets, then distinct ones at random; codes of "
    "three digits, fresh for every set, safe from slips within it; seed {seed}. Same temperature, fill and cups; "
    "colour that gives the answer away asks for covered cups or coloured light."
)
STANDARDS = {"triangle": Phrase("ISO 4120"), "duo-trio": Phrase("ISO 10399"), "paired": Phrase("ISO 5495")}
GENERAL = Phrase("serving orders by enumeration")

# What a taster is asked, and how the answer is written; standards as in the method.
ASKED = {
    "triangle": Phrase("Two cups of a set hold one tea, the third another. Taste from left to right, write its code."),
    "duo-trio": Phrase("Taste the cup marked R, then the others from left to right. Write the code of the one like R."),
    "tetrad": Phrase("The cups are two pairs, a tea each. Taste from left to right, write the codes of one pair."),
    "two-out-of-five": Phrase("Two cups of each set hold one tea, three another. Write the codes of the two."),
    "a-not-a": Phrase("Taste A, which is named, until you know it. Then say of each coded cup: A, or not A."),
    "same-different": Phrase("Taste from left to right and say of each set: same, or different."),
    **dict.fromkeys(
        ("paired", "2-afc", "3-afc"),
        Phrase("Taste from left to right and write the code of the cup that has most of what was asked about."),
    ),
}
SAID = {"a-not-a": ("A", "not A"), "same-different": ("same", "different")}
