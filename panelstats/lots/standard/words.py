"""What is said of a lot held against the standard: whole sentences whose fields come formatted."""

MATCH, DIFFER, CANNOT_TELL = "match", "differ", "cannot tell"
QUESTION = "Does it match the standard {standard}?"

IN_SESSION = " in {session}"
LOT = "{lot}{where}: {says}"
MATCHES = (
    "matches {standard} on {descriptors}, {tolerance}. Largest: {largest}; {level} interval, so that a lot at the "
    "tolerance gets this verdict in at most {risk} of tastings.{detected}"
)
DETECTED = " A difference was detected on {descriptors}, smaller than the tolerance."
DIFFERS = "differs from {standard}{allowing}: {largest}{beyond} ({level} intervals, {tolerance})."
ALLOWING = " after allowing for {descriptors}"
ALL_OUTSIDE = ", outside the tolerance"
SOME_OUTSIDE = ", {count} of them outside the tolerance"
NOT_TOLD = "cannot tell whether it matches {standard} or differs from it, {tolerance}."
SOME_MATCH = " {descriptors} of {all} match."
OPEN = " Open: {largest} ({level} intervals)."
SILENT = " No answer on {descriptors}."

# A descriptor with its difference and interval: a part of the field `largest`.
ONE = "{descriptor} {difference} ({interval})"
TOLERANCE = "tolerance {high}, {whose}"
TOLERANCES = "tolerance {low} to {high}, {whose}"

FAR = " Over all, {distance} points a descriptor from it ({interval})."
ONE_BREW = (
    " One shared brew of each cannot prove anything of the blends: these brews may differ where the blends do not."
)
TWO_POTS = (
    " Two pots of each leave pot-to-pot differences uncertain, so a match is rarely shown and a difference often "
    "missed."
)
UNSTEADIED = (
    " So few pots and fewer than four descriptors of the stage leave the pot error poorly known: blends that are not "
    "apart get this verdict in up to 8 % of tastings where pots differ by half a point. Taste again before you act."
)

# What would settle it.
TASTE_AGAIN = "Taste the lots again beside the standard, by more tasters."
POTS_WOULD = "{pots} of each{assumed}, by {tasters}, would settle {descriptor} within {tolerance} in 8 cases of 10."
ASSUMED_POTS = " (if pots differ by an SD of {sd})"
TASTERS_WOULD = "{tasters} would settle {descriptor} within {tolerance} in 8 cases of 10."
NOBODY_WOULD = (
    "No number of tasters up to {most} settles {descriptor} within {tolerance} in 8 cases of 10. Ask a wider tolerance."
)

METHOD = (
    "Lot less standard from score = lot + taster + lot:taster + lot:pot + error (REML, lots fixed, lot:pot only where "
    "pots are shared), Satterthwaite degrees of freedom. Match: both one-sided limits, each at {risk}, lie inside the "
    "tolerance, on every descriptor. Differ: p below {risk} after Holm over the descriptors of the lot. Distance: root "
    "mean square difference, the errors' share taken off; interval, never empty, after Feldman and Cousins from the "
    "noncentral F with degrees of freedom after Box."
)
