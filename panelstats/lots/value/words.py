"""What is said of a price: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

GOES, NOT_SHOWN, CANNOT_TELL, TOGETHER, BEYOND = (
    "goes with it", "not shown", "cannot tell", "cannot be told apart", "beyond the others",
)  # fmt: skip
ABOVE, BELOW, AS_EXPECTED = "sold above", "sold below", "as expected"
QUESTION = Phrase("Do the scores carry the {by}?")
WORD_QUESTION = Phrase("Which words go with the {by}?")
REST_QUESTION = Phrase("What does this rest on?")
KNOWN = "known"
LOT_QUESTION = Phrase("Which lots were sold far from what their scores say?")

CARRIED = Phrase("Beyond {strata} the scores foretell about {share} of what differs in {by} (over {lots}).")
CARRIED_ANEW = Phrase(" Of lots that had no part in any choice they foretell {share}.")
OPEN = Phrase(
    "Cannot tell whether the scores carry the {by} beyond {strata}: over {lots} they foretell no more than shuffled "
    "ones."
)
MORE_LOTS = Phrase(
    "Taste more lots with a {by}: where one word carries 30 % of its differences, 24, 40, 60 and 100 lots show it in "
    "about 18, 50, 68 and 97 of 100 rooms."
)
FEW = Phrase("Cannot tell whether the scores carry the {by}: {lots} with one, and a test needs {least}.")
FEW_STEP = Phrase("Write the {by} of {more} of the same class into the lots register, or taste several sales together.")
NO_ORDER = Phrase(
    "Cannot tell whether the scores carry the {by}: the tasters' marks are not shown to follow the lots at all (p {p})."
)
NO_ORDER_STEP = Phrase(
    "First let the tasters show that they tell lots apart: serve two lots known to differ, six hidden cups each."
)
NO_SPREAD = Phrase("Cannot tell whether the scores carry the {by}: within {strata} all lots fetched the same.")
NO_SPREAD_STEP = Phrase("Take lots whose {by} differs within a class.")
NO_SCORES = Phrase("Cannot tell whether the scores carry the {by}: within {strata} no word was scored unalike.")

MORE = Phrase("Lots scored higher on {word} fetched more, within {strata}: {slope} a point ({interval}).")
LESS = Phrase("Lots scored higher on {word} fetched less, within {strata}: {slope} a point ({interval}).")
UNLIKE = Phrase(
    "{words} go with one another and cannot be told apart: which of them goes with the {by}, these lots cannot tell."
)
UNLIKE_STEP = Phrase("Taste lots that are high on one of them and low on another.")
BEYOND_OTHERS = Phrase("Beyond the other words, {word} goes with the {by}: {slope} a point ({interval}).")
NOT_BEYOND = Phrase("Beyond the other words, cannot tell of any word that it goes with the {by}.")
NOT_BEYOND_STEP = Phrase("More lots, tasted by more people, part words that go together.")

LOT_ABOVE = Phrase("{lot} fetched {price}, where its scores say {expected} ({interval}).")
LOT_STEP = Phrase("Taste it again: a bargain or a dear one, or a taste that the market does not share.")
LOTS_NONE = Phrase("No lot was sold beyond what its scores and chance leave room for (over {lots}).")

UNSOLD = Phrase("{n} without a {by} left out: unsold lots are seldom like the sold.")
LEFT_OUT = Phrase("{n} stand alone in their {strata}, or lack scores, and are left out.")
NOT_BLIND = Phrase("The tasting was not blind: the scores may follow the {by}.")
BLIND_UNKNOWN = Phrase(
    "Nobody wrote whether the tasters knew garden or valuation; if they did, the scores may follow the {by}."
)
POTS_UNKNOWN = Phrase("One pot a lot: what pots do is in the scores, so that slopes are shown flatter than they are.")
ERROR_UNKNOWN = Phrase(
    "One taster and no repeats: nothing shows his error, so that slopes are shown flatter than they are."
)

METHOD = Phrase(
    "The logarithm of the {by}{unit} against lot means (tasters' levels taken off), both within {strata}; strata of "
    "fewer than {least} lots left out. Whether scores carry it: ridge regression, each lot foretold by the others; "
    "the share is 1 less squared errors over those of the strata alone; p from {shuffles} shuffles within strata, "
    "each with a penalty of its own. Words alone: correlation against the largest over all words in the same shuffles"
    " (Westfall and Young), which holds over all of them; slope with the tasters' error taken out, interval at "
    "{level} from leaving out each lot, {df} degrees of freedom. Words beyond the others are asked from {beyond} lots"
    " and {each} lots a word, words whose error-free correlation is {alike} or more as one; Holm over them. Lots: "
    "error of foretelling against that of the others, Holm over lots. It goes with; it need not be why: garden, "
    "grade, season and fashion go with scores too."
)
STRATA = {False: Phrase("class and sale"), True: Phrase("class, grade and sale")}
