"""What is said of pots beside their sister pots: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

QUESTION = Phrase("Was a pot brewed wrong?")
TWO = Phrase(
    "The two pots of lot {lot} disagree: pot {pot} is {differences} against pot {other}, {tasters}; nothing says "
    "which of them is wrong."
)
MORE = Phrase("Pot {pot} of lot {lot} stands apart from its {sisters} sister pots: {differences}, {tasters}.")
ONE_PALATE = Phrase(
    "The pots of lot {lot} differ ({differences}), but not without the cups of one taster: his cups, not the pot."
)
DIFFERENCE = Phrase("{size} on {descriptor}")
SAME_WAY = Phrase("{same} of {tasters} tasters the same way")
BREW_THIRD = Phrase("Brew a third pot; trust no place given until then.")
BREW_AGAIN = Phrase("Brew a new pot; trust no place given until then.")
ASK_HIM = Phrase("Let him taste the lot again from both pots.")
NOTHING = Phrase(
    "No pot stands apart from its sister pots on the {stages}. A pot off by less than {least} points on one word would "
    "pass unseen more than 2 times in 10."
)
UNTESTED = Phrase("Cannot tell whether a pot was brewed wrong: {reason}.")
ONE_POT = Phrase("there is one pot a lot")
OWN_POTS = Phrase("each taster had his own pots")
EQUAL = Phrase("the pots of every lot were marked alike to the last digit")
USE_SCALE = Phrase("Use more of the scale, or check whether the second pot was tasted.")
FEW_LOTS = Phrase("only {lots} with two pots or more, tasted from each by two tasters or more, and 8 are needed")
SERVE_TWO = Phrase("Brew two pots of every lot for all tasters, or three of those that matter.")
METHOD = Phrase(
    "Pots: panel means of each lot's pots, on tasters who tasted all of them; how far a lot's pots lie apart against "
    "the other lots of the session (their largest left out), several words at once, in units of the spread between "
    "sister pots, moderated over words (Smyth 2004). The largest of all lots is referred to {draws} simulated tables "
    "without a wrong pot: in at most {error} of sessions is any lot named by chance. A lot is named only where a word "
    "differs by its tolerance or more and no single taster carries the difference."
)
