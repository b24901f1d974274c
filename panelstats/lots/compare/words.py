"""What a lot comparison says in words: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

DIFFER, WITHIN, CANNOT_TELL = "differ", "within tolerance", "cannot tell"
# What can be shown of lots that stand on one shared brew each.
BREWS_DIFFER = "these brews differ"
QUESTION = Phrase("Do the lots differ?")

# Which lots: fills the field `lots` of the sentences below.
OF_CLASS = Phrase(" of class {lot_class}")
IN_SESSION = Phrase(" in session {session}")

# One lot above another: fills the field `gap`.
GAP = Phrase("Lot {above} scores {difference} points above lot {below}")
LOTS_DIFFER = Phrase(
    "{descriptor}: the lots{lots} differ. {gap} ({level} interval {interval}, all pairs taken together)."
)
BREWS_ARE_APART = Phrase(
    "{descriptor}: these brews{lots} differ; whether the teas do, one brew cannot tell. {gap} ({level} interval "
    "{interval}, all pairs taken together)."
)
BREW_AGAIN = Phrase("Brew each lot at least twice: only a second pot tells a tea from its brew.")
PAIRS_APART = Phrase(" {apart} of {pairs} are told apart.")
NO_SINGLE_PAIR = Phrase(" No single pair is told apart: that they differ is shown, which ones is not.")
LEAST_APART = Phrase(" Two lots must lie {least} points apart before this panel tells them apart.")
WITHIN_TOLERANCE = Phrase(
    "{descriptor}: all lots{lots} lie within the tolerance of {tolerance} point of one another; the largest "
    "difference, lot {above} above lot {below}, is {difference} (at most {high})."
)
NOT_TOLD = Phrase(
    "Cannot tell whether the lots{lots} differ on {descriptors}: a difference between two lots would have to reach "
    "{least} points to show with this panel, and smaller ones are not ruled out."
)
NO_ANSWER = Phrase("{descriptor}: cannot tell whether the lots{lots} differ; {reason}.")

# Why there is no answer, and what to do; by the state of the fit.
NO_VARIATION_WORDS = Phrase("no variation in this descriptor: every score is one value")
NO_ERROR_WORDS = Phrase("no error to test against: every taster's scores move in step to the last digit")
NO_DF_WORDS = Phrase("one look by one taster at each lot leaves nothing to measure a difference against")
ONE_LOT_WORDS = Phrase("one lot: there is nothing to compare it with")
NO_VARIATION_STEP = Phrase("Use more of the scale.")
NO_ERROR_STEP = Phrase("Check whether the tasters scored apart from one another.")
NO_DF_STEP = Phrase("Have a second taster score the lots, or serve some lots twice under two codes.")
ONE_LOT_STEP = Phrase("Taste it beside another lot of its class.")
NO_ERROR_TOLD_WORDS = Phrase("so few marks do not tell the error a difference is held against")

# What weakens a sentence.
ONE_BREW = Phrase("Each lot stands on one brew: the intervals speak of that brew, not of the lot.")
ONE_TASTER = Phrase(" This speaks for this taster only.")
NEAR_LINE = Phrase(" The verdict is near the line: taste again before acting on it.")

# What would settle it.
TASTE_AGAIN = Phrase("Taste the lots again, by more tasters.")
TWO_POTS = Phrase("Two pots a lot leave pot-to-pot differences uncertain. ")
POTS_WOULD = Phrase(
    "{pots} a lot and {tasters} would find a difference of {difference} {points} in 8 cases of 10.{assumed}"
)
ASSUMED_POTS = Phrase(" Pots are taken to differ by {sd} points (standard deviation).")
TASTERS_WOULD = Phrase("{tasters} would find a difference of {difference} {points} in 8 cases of 10.")
NOBODY_WOULD = Phrase(
    "No number of tasters up to {most} would make sure of {difference} {points} here: widen the question."
)

# The method.
MODEL = Phrase(
    "Model: score = lot + taster + lot:taster + lot:pot + error, fitted by REML for each session and class; lots "
    "fixed, the rest random (lot:pot only where pots are shared)."
)
MEASURED = Phrase("A lot difference is measured against {error_terms}.")
NO_MODEL = Phrase("nothing: no model could be fitted")
FREEDOM = Phrase("Degrees of freedom by Satterthwaite, for the test of all lots by Fai and Cornelius.")
SLIPS = Phrase(
    "Marks that slipped into a wrong cell are not told from others: where one in twenty lies anywhere on the scale, "
    "the interval of a lot's mean misses in about 7 cases of 100 instead of 5."
)
FAMILY = Phrase("Lot tests allow for {tests} of a page, {descriptors} in {classes} ({correction}).")
STEADIED_TASTERS = Phrase(
    "Few tasters or lots: the variance of lot:taster is steadied over the descriptors of a stage, with {df} degrees of "
    "freedom{but}."
)
NOT_STEADIED = Phrase(", but not on {descriptors}, which stands out from the others")
OWN_SQUARE = Phrase(
    "On {descriptors} lots are tested against the mean square of lot:taster itself, on its own degrees of freedom: too "
    "few for it to be pooled."
)
CLASSES_POOLED = Phrase("Classes share their variances{but}: lots are compared within their class only.")
CLASSES_APART = Phrase(", but not on {descriptors}, where they are shown to differ")
PAIRS = Phrase("Pairs within a descriptor allow for one another ({correction}).")
CORRECTIONS = {
    "holm": Phrase("Holm"),
    "bh": Phrase("Benjamini-Hochberg"),
    "none": Phrase("no correction"),
    "tukey": Phrase("the studentised range"),
}
DUNNETT = Phrase("the multivariate t against lot {control} (Dunnett)")
UNDECLARED = Phrase(
    "Pots were not declared; taken as shared, the careful choice. If each taster had his own, declare pots = own: "
    "the intervals become narrower."
)
OWN_POTS = Phrase("Each taster had pots of his own: pot-to-pot variation is part of the residual.")
SAME_POT = Phrase("Pot numbers are repeated tastings of one brew: the intervals speak of that brew.")
OF_STAGE = "{stages}: {sentence}"
SHARED_POTS = Phrase(
    "All tasters shared the pots: lots are compared against lot:taster and pot-to-pot variation (pot SD {sd}, {df} df; "
    "{bound})."
)
RECORDED_POTS = Phrase(
    "All tasters shared the pots: lots are compared against lot:taster and pot-to-pot variation; few pots: pot SD "
    "{sd}, {df} df, from the room's earlier sessions."
)
STEADIED_POTS = Phrase(
    "All tasters shared the pots: lots are compared against lot:taster and pot-to-pot variation; few pots: pot SD "
    "{sd}, {df} df, steadied over {descriptors}."
)
ALIKE_POTS = Phrase(
    "All tasters shared the pots: lots are compared against lot:taster and pot-to-pot variation; no pot-to-pot "
    "variation shown, {bound}."
)
BOUND = Phrase("an SD up to {upper} is not ruled out")
NO_BOUND = Phrase("nothing here bounds its SD")
MOVING_TOGETHER = Phrase(
    "Pots were taken as own, but scores of equal pot numbers move together on {descriptors}: were the pots shared? If "
    "so, declare pots = shared: the intervals given here are then too short."
)

ONE_ORDER = Phrase(
    "All tasters tasted the lots in one order{session}: place in the row and lot cannot be told apart, and a palate "
    "that tires along the row would be taken for a difference between lots."
)
OWN_ORDERS = Phrase(
    "Give each taster an order of his own, or serve one control at several places along the row: its marks then show "
    "what the row does."
)
ALONG_THE_LIST = Phrase(
    "All sheets list the lots in one order{session}, and marks run along it ({moves} points from the first to the "
    "last): if the lots were tasted in that order, place in the row and lot cannot be told apart."
)
SAY_THE_ORDER = Phrase(
    "Write beside each lot the place at which it was tasted (position), or say in the register of sessions whether the "
    "order was randomised or as listed; next time give each taster an order of his own."
)
ALONG_THE_ROW = Phrase(
    "Marks move along the row{session}, from its first place to its last by {moves} points: lots are compared as if "
    "tasted at one place."
)

# Where the model should be believed less.
NOT_LINKED = Phrase(
    "no taster joins these groups of lots: {groups}. Differences across them lean on the tasters' being a random draw: "
    "compare within a group, or have one taster score some of each."
)
ALONE = Phrase("scored by one taster only: {lots}. Their intervals are wide.")
FEW_REPEATS = Phrase("only {looks}: the error between looks is weakly known.")
AT_END = Phrase("{share} of the scores stand at the {end} end ({score}): differences there are squeezed.")
HEAPED = Phrase("{share} of the scores are {score}: little of the scale is used.")
WILD_TASTER = Phrase(
    "{taster} lies {ratio} times as far from the panel as the others do: intervals average over tasters."
)
UNEQUAL_SLOPES = Phrase(
    "tasters spread the lots unequally (from {low} to {high} times as far as the panel): an interval of the two "
    "furthest lots may miss in up to 13 cases of 100 instead of 5."
)
UNEVEN_SPREAD = Phrase("scores of {way} lots scatter more: intervals are too short there and too long elsewhere.")

# The same comparison without the pots in doubt.
QUESTION_WITHOUT = Phrase("Do the answers rest on the pots that stand apart?")
ORDER_CHANGES, ORDER_STANDS = Phrase("the order changes"), Phrase("the order stands")
WITHOUT = Phrase("Without the pots in doubt of {pots}, {order}; {pairs}.")
MOVED, KEPT = (
    Phrase("{lots} stand elsewhere in their class"),
    Phrase("all other lots keep their order, near ties aside"),
)
MORE_PAIRS, FEWER_PAIRS = Phrase("pairs shown different: {pairs} more"), Phrase("pairs shown different: {pairs} fewer")
AS_MANY = Phrase("as many pairs are shown different as with them")
METHOD_WITHOUT = Phrase(
    "The same model with the pots that stand apart left out, on the words of their stage: of two that disagree both, "
    "for nothing says which is wrong (each is shown alone, without a place); of three or more the one that stands "
    "apart. Variances are estimated anew. An exploration: the lots were picked by their scores, so the comparison with "
    "all pots stands until the room sets a pot aside."
)
