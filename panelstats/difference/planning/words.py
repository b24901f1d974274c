"""What is said of the number of answers to plan: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

HOW_MANY, CAN_THIS_PANEL = Phrase("How many answers are needed?"), Phrase("Can this panel settle it?")
PLANNED, YES, NO = "planned", "yes", "no"

PLAN = Phrase(
    "{kind} test: with {differ} answers a difference of {size} is found in {power} of tests or more ({least} right "
    "show it), and with {match} answers a match within it is shown as often ({most} right or fewer show it)."
)
SIGNAL_PLAN = Phrase(
    "{kind} test: with {differ} answers, half of each kind of serving, a difference of d' {d} is found in {power} of "
    "tests or more; a match within it takes about {match}."
)
ENOUGH = Phrase("{answers} answers are enough to settle {size} either way.")
ONLY_LARGER = Phrase(
    "{kind} test: it cannot settle this with {answers} answers: only a difference that {share} of the tasters can tell "
    "is found in {power} of tests."
)
NEVER = Phrase("{kind} test: it cannot settle this with {answers} answers: no result at all would show a difference.")
SIGNAL_SHORT = Phrase("{kind} test: it cannot settle d' {d} with {answers} answers: about {enough} are needed.")
INSTEAD = Phrase("Compare descriptor scores instead, or find more tasters.")
SITTINGS = Phrase(
    "{sittings} sittings of {answers} tasters, one {kind} set for each of them in every sitting, would settle it in "
    "{power} of cases; else compare descriptor scores."
)

METHOD = Phrase(
    "Exact binomial power at every number of answers; error rates {error} (differ) and {match_error} (match), power "
    "{power}. One answer from each taster: repeats by one taster do not replace tasters, since they count for less "
    "the more tasters differ.{tiring}"
)
TIRING = Phrase(" Four servings a set are supposed to tire nobody.")
SIGNAL_METHOD = Phrase(
    "Difference: exact power of Fisher's one-sided test at error rate {error}, power {power}, for tasters whose line "
    "favours neither answer. Match: normal approximation for two rates."
)
