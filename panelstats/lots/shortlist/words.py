"""What is said of a day of many lots tasted once: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

LIST = Phrase("Which lots belong on the short list?")
OF_A_WORD = Phrase("Which lots stand highest on one word?")
ERROR = Phrase("How far may one look be off?")
DAY = Phrase("Did the level move over the day?")

SHORT = Phrase(
    "{take} lots{where} are on the short list, {best} the likeliest ({chance} to be among the best {take}). "
    "Some {right} of the {take} belong there; {out} of {lots} are out."
)
THE_ONE = Phrase("{best} stands highest{where} ({chance} to be the best); {out} of {lots} are out.")
ABOVE = Phrase("above 60 %")
LOPSIDED = Phrase(" The lots are lopsided: chances at their longer tail promise too much.")
AT_THE_END = Phrase(" {share} of the marks stand at an end of the scale: believe the chances less.")
AGAIN = Phrase(
    "Taste {looks} again from new pots, {names} first: then {then} of the list is expected right, {now} now."
)

ALIKE = Phrase("Cannot tell which lots{where} are better: they spread no more than one look explains (p = {p}).")
NO_ERROR = Phrase(
    "Cannot tell which lots{where} are better: marks of one lot never differed beyond the levels of the tasters, so "
    "nothing says how far a look may be off."
)
FEW = Phrase("Cannot rank the lots{where}: {lots}, and a spread needs at least 3.")
NOBODY_OUT = Phrase("No short list of the lots{where}: {lots}, and a list of {take} leaves nobody out.")
UNKNOWN = Phrase("Cannot tell which lots{where} are better: nothing is known of this room's error.")
POTS_ONLY = Phrase(
    "Cannot tell which lots{where} are better: no lot had two pots, so a mark speaks of its pot, not of the lot."
)
SERVE = Phrase("Serve {repeats} hidden repeats in the row ({cups} more cups): lots brewed again under another number.")
MORE = Phrase(
    "Serve {repeats} hidden repeats a day ({cups} more cups), or read the room's earlier sessions with this one."
)
BY_HAND = Phrase("Taste them all again from new pots: they are few.")
OF_CLASS = Phrase(" of {name}")
ON = Phrase(" on {descriptors}")

REACH = Phrase(
    "One look of {tasters}{where} is good to ±{half} points; two lots must lie {least} apart before they are called "
    "different.{caution}"
)
ERROR_DF = Phrase(" This error stands on {df} degrees of freedom.")
WEAK = Phrase(" This error is weakly known.")
SPEAKS = {
    "this taster only": Phrase(" It speaks of this taster only."),
    "these pots only": Phrase(" It speaks of these pots only."),
}
BORROWED = Phrase(" For {classes} it is borrowed from the other classes.")

FELL = Phrase(
    "Marks on {descriptor} {moved} by {size} points along the row ({low} to {high}); lots are corrected for {part} of "
    "it."
)
FALLEN, RISEN = Phrase("fell"), Phrase("rose")
JUMPED = Phrase(
    "Marks on {descriptor} jumped along the row: what was served again left a line by more than its error allows (p = "
    "{p})."
)
WALKED = Phrase(
    " Each lot is corrected by the level of what was served again beside it, from {low} to {high} points about the "
    "mean of the row (standard error {error}); where exactly it jumped between two of these is not known."
)
NOT_WALKED = Phrase(" Lots are not corrected for it: too little was served again inside the row.")
TIRED = Phrase(
    "On {descriptor} the tasters disagree {times} times as much in the last third of the row as in the first."
)
REST = Phrase("Give breaks, or serve fewer lots a sitting.")
CONTROLS = Phrase("Serve a control every 25 lots, each taster's row in an order of its own.")

REASONS = {
    "in": Phrase("at least 95 % to be among the best {take}"),
    "out": Phrase("at most 5 % to be among the best {take}"),
    "taste again": Phrase("{chance} to be among the best {take}"),
    "alike": Phrase("no more spread than one look explains"),
    "few": Phrase("fewer than 3 lots in the class"),
    "nobody out": Phrase("a list of {take} leaves nobody out"),
    "nothing": Phrase("the error of a look is not known"),
    "these pots only": Phrase("no lot had two pots"),
}
ADVICE_TASTER, ADVICE_POT = Phrase("another taster too, if there is one"), Phrase("a new pot")
METHOD = Phrase(
    "Merit of a lot: its mean score, each taster freed of his level, less the mean of its class, times lot / (lot + "
    "V) (best linear unbiased prediction, Henderson 1975). V, the error of one look, is joined from mean squares of "
    "repeats, controls and lots tasted by several as a sum of pot, lot:taster and look variance (gamma model with "
    "identity link; Satterthwaite degrees of freedom), each borrowed over classes and descriptors where few (after "
    "Smyth 2004). That lots differ at all is tested by the variance of their scores over V, F on (lots - 1, df of V):"
    " never against lot:taster, for one shared pot is one pot. Chances and intervals carry the error of V and of the "
    "spread: {draws} seeded draws; from {cut} lots on the prior of the lots is bent by the scores themselves (Laird"
    " 1978). Gain of a second look by the same tasters from a new pot: Gupta & Miescke 1996. Errors are taken to be "
    "of one size along the scale: where they grew by half with each point, 9 of 100 lots lay outside their interval "
    "(promised: 5), and chances of 30 to 70 % were 11 points too high, in simulated days. {weights}"
)
DAY_METHOD = Phrase(
    "The level of the row is taken off by a line through what was served again, as far as luck does not explain it "
    "(James & Stein 1961). Where the three slowest ways of leaving that line move more than all others (F, p below "
    "0.01 after Holm), it is taken off by a random walk through what was served again, variance by REML, kriged to "
    "each cup (Harville 1977); its error is added to each lot's."
)
NO_WEIGHTS = Phrase("Nothing is declared as wanted: one list for each word.")
BY_WEIGHT = Phrase("Overall counts {parts}; a serving that lacks one of these words has none. Faults never enter it.")
PART = Phrase("{points} for a point of {descriptor}")
