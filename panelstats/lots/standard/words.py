"""What is said of a lot held against the standard: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

MATCH, DIFFER, CANNOT_TELL = "match", "differ", "cannot tell"
QUESTION = Phrase("Does it match the standard {standard}?")

IN_SESSION = Phrase(" in {session}")
LOT = "{lot}{where}: {says}"
MATCHES = Phrase(
    "matches {standard} on {descriptors}, {tolerance}. Largest: {largest}; {level} interval, so that a lot at the "
    "tolerance gets this verdict in at most {risk} of tastings.{detected}"
)
DETECTED = Phrase(" A difference was detected on {descriptors}, smaller than the tolerance.")
DIFFERS = Phrase("differs from {standard}{allowing}: {largest}{beyond} ({level} intervals, {tolerance}).")
ALLOWING = Phrase(" after allowing for {descriptors}")
ALL_OUTSIDE = Phrase(", outside the tolerance")
SOME_OUTSIDE = Phrase(", {count} of them outside the tolerance")
NOT_TOLD = Phrase("cannot tell whether it matches {standard} or differs from it, {tolerance}.")
SOME_MATCH = Phrase(" {descriptors} of {all} match.")
OPEN = Phrase(" Open: {largest} ({level} intervals).")
SILENT = Phrase(" No answer on {descriptors}.")

# A descriptor with its difference and interval: a part of the field `largest`.
ONE = "{descriptor} {difference} ({interval})"
TOLERANCE = Phrase("tolerance {high}, {whose}")
TOLERANCES = Phrase("tolerance {low} to {high}, {whose}")

FAR = Phrase(" Over all, {distance} points a descriptor from it ({interval}).")
ONE_BREW = Phrase(
    " One shared brew of each cannot prove anything of the blends: these brews may differ where the blends do not."
)
TWO_POTS = Phrase(
    " Two pots of each leave pot-to-pot differences uncertain, so a match is rarely shown and a difference often "
    "missed."
)
UNSTEADIED = Phrase(
    " So few pots and fewer than four descriptors of the stage leave the pot error poorly known: blends that are not "
    "apart get this verdict in about 9 % of tastings where pots differ by half a point. Taste again before you act."
)

# What would settle it.
TASTE_AGAIN = Phrase("Taste the lots again beside the standard, by more tasters.")
POTS_WOULD = Phrase(
    "{pots} of each, by {tasters}, would settle {descriptor} within {tolerance} in 8 cases of 10.{assumed}"
)
ASSUMED_POTS = Phrase(" Pots are taken to differ by {sd} points (standard deviation).")
TASTERS_WOULD = Phrase("{tasters} would settle {descriptor} within {tolerance} in 8 cases of 10.")
NOBODY_WOULD = Phrase(
    "No number of tasters up to {most} settles {descriptor} within {tolerance} in 8 cases of 10. Ask a wider tolerance."
)

METHOD = Phrase(
    "Lot less standard from score = lot + taster + lot:taster + lot:pot + error (REML, lots fixed, lot:pot only where "
    "pots are shared), Satterthwaite degrees of freedom. Match: both one-sided limits, each at {risk}, lie inside the "
    "tolerance, on every descriptor. Differ: p below {risk} after Holm over the descriptors of the lot. Distance: root "
    "mean square difference, the errors' share taken off; interval, never empty, after Feldman and Cousins from the "
    "noncentral F with degrees of freedom after Box."
)
