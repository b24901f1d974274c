"""What is said of packs: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

FITS, OVERFLOWS, SLACK, CANNOT_TELL = "fits", "overflows", "slack", "cannot tell"
QUESTION = Phrase("Will {grams} g of it fit {millilitres} ml?")
LOT_QUESTION = Phrase("Which lots trouble the pack?")
MIX_QUESTION = Phrase("How dense is the mixture?")
TOLD, DENSE = "known", "between two bounds"

NEW_LOTS = Phrase(
    "{what}: of packs of new lots {share} would overflow ({interval}; {allowed} allowed), {density} g/ml over {lots}."
)
SLACK_LOTS = Phrase(
    "{what}: {share} of packs of new lots would be less than {fill} full ({interval}; {allowed} allowed)."
)
ONE_LOT = Phrase("{what}: one lot was weighed: {density} g/ml; of new lots nothing can be said.")
OF_THIS_LOT = Phrase(" Of packs of this lot {share} would {trouble} ({interval}; {allowed} allowed).")
OVERFLOW, BE_SLACK = Phrase("overflow"), Phrase("look slack")
ALIKE = Phrase("{what}: every reading says {density} g/ml: nothing shows how lots differ.")
# Why nothing can be said of new lots, as the table has it.
ONE_REASON, ALIKE_REASON = Phrase("one lot was weighed"), Phrase("every reading says the same density")
RUNS = Phrase(" Trouble comes in runs: about 1 lot in {k} would overflow in most of its packs.")
NONE_BEYOND = Phrase(" None of the {lots} lies beyond; by their number alone up to {limit} of all lots may.")
ONE_READING = Phrase(" Each lot was weighed once: what lots and weighings differ by is one.")

OVER = Phrase("{lot}: {share} of its packs would overflow ({interval}), {density} g/ml.")
LOOSE_FULL = Phrase("{lot}: {share} of its packs would be less than {fill} full ({interval}), {density} g/ml.")

CHARGE_LESS = Phrase(
    "Charge at most {grams} g, or take {millilitres} ml: then at most {allowed} overflow, {level} sure."
)
CHARGE_MORE = Phrase("Charge more, if the label allows it, or take a smaller pack.")
MORE_LOTS = Phrase("Weigh {n}: if packs are as good as they look, that would show it four times in five.")
MANY_LOTS = Phrase(
    "So near to what is allowed that no number of lots would show it: charge less, or take a larger pack."
)
SECOND_LOT = Phrase("Weigh other lots of the grade, {n} or more, each two or three times.")
FINER = Phrase("Weigh on a finer scale, or more lots.")
WEIGH_AGAIN = Phrase("Weigh it again before it is packed, or pack it into the larger pack.")

UNLIKELY = Phrase("{what}: {density} g/ml is outside 0.05 to 0.80: is the volume in ml and the mass in g?")
UNLIKELY_STEP = Phrase("Look at the weighings of {lots}.")

MIXED = Phrase(
    "{shares}: between {low} and {high} g/ml, if volumes at least add and fine leaf at most fills the gaps of coarse; "
    "no sum gives the density of a mixture."
)
MEASURE = Phrase("Mix a sample in these shares and weigh it, three times.")

NET = Phrase(
    "What a pack must hold and may say is ruled by local weights-and-measures law and decided by its inspectors; a "
    "pack that holds the volume may still be under mass."
)
HANDLING = Phrase(
    "Tapping breaks leaf: a portion that was tapped is never weighed loose again. A mixture parts on its way, fine "
    "leaf sinks: weigh early, middle and late in a run. Tapping and sieving raise dust, which is a nuisance, may carry "
    "allergens and, in bulk, can explode: extraction and local rules. Mouldy or tainted leaf is set aside, not tasted."
)
HANDLING_QUESTION = Phrase("What is minded when it is weighed and packed?")
SETTLES = Phrase(
    "{what}: tapped leaf is {ratio} times as dense as loose leaf{span}: what is filled loose may settle to {share} of "
    "its height."
)
SETTLING_QUESTION = Phrase("How far may a pack settle?")
NET_QUESTION = Phrase("What else rules the pack?")
METHOD = Phrase(
    "Density {state} as weighed; a pack overflows where charge / density exceeds its capacity ({grams} g in "
    "{millilitres} ml: below {line} g/ml), and is slack where less than {fill} of it is full (above {top} g/ml). Lots"
    " random, readings within lots: analysis of variance; shares of new lots by generalised pivots (Krishnamoorthy "
    "and Mathew 2004; {draws} draws, seed {seed}), for one reading a lot by the noncentral t; a lot that was weighed "
    "lies at its mean drawn towards its grade's. Readings hold what a lot differs in itself and what weighing adds; "
    "packs feel only the first, so that the shares are upper ones (lower, of lots alone: column over_lots_only). "
    "Largest charge and capacity needed: tolerance limits. Cpk of "
    "the density between the two (Bissell 1990)."
)
VARIES = Phrase(
    " Charges vary by {charge} and capacities by {capacity} from pack to pack: computed on logarithms, whose variances "
    "add."
)

LIGHT, DENSE_LOT, LIKE_OTHERS = "light", "dense", "like the others"
WEIGHED_QUESTION = Phrase("How dense is the leaf?")
APART_LOT = Phrase("{lot}: {density} g/ml, where the other lots of its grade lie at {others}: {call} for it.")
WEIGHED = Phrase("Weighed: {lots}, {span} g/ml{what}.")
HOLD_PACK = Phrase("Hold it against the pack: panelstats pack SOURCE --grams G --millilitres ML.")
WEIGHED_METHOD = Phrase(
    "Mean of a lot's weighings against the other lots of its grade and state (t of a new observation, the lot itself "
    "left out; Holm over them); fewer than five lots of a grade say nothing of one another."
)
