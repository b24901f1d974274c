"""What is said of a blend that is tasted week after week against its master: sentences whose fields come formatted."""

from panelstats.speech import Phrase

ON, CREEPING, LEFT, CANNOT_TELL = "on the standard", "creeping", "left the standard", "cannot tell"
QUESTION = Phrase("Is the blend still on its master?")

MOVED = Phrase(
    "{descriptor}: the blend {says}, since {since}; now {now} ({interval}) from the master ({tolerance}). {chain}"
)
HAS_LEFT = Phrase("left {standard}")
STILL_WITHIN = Phrase("is creeping from {standard}, still within")
PERHAPS_WITHIN = Phrase("is creeping from {standard}, whether still within the tolerance cannot be told")
TOLERANCE = Phrase("tolerance {tolerance}, {whose}")
CORRECT = Phrase("Correct the blend against the master itself, not against last week's.")
ON_STANDARD = Phrase("{descriptors}: on {standard} after {weeks}, within the tolerance; {furthest}.{past} {chain}")
NOT_TOLD = Phrase("{descriptors}: cannot tell whether the blend is still on {standard}: {few}{furthest}.{past} {chain}")
FEW = Phrase("{weeks} are too few to chart; ")
ONE_BREW_A_WEEK = Phrase("one shared brew a week says no more than one match; ")
PAST_ALARMS = Phrase(" It had alarmed before: {descriptors}.")
FURTHEST = Phrase("furthest, {descriptor}, {interval} from the master ({level} interval)")
MORE_WEEKS = Phrase("Taste the blend beside the master in more weeks, from more pots of each.")
CHAIN = Phrase(
    "From one week to the next the blend was told apart in {told} of {pairs} comparisons: a chain of matches is not a "
    "match."
)

MASTER_QUESTION = Phrase("Has the master itself moved?")
MASTERS_APART = Phrase(
    "The masters {other} and {standard} have drawn apart ({descriptors}): one of them may have moved."
)
FRESH_MASTER = Phrase("Open a fresh master and taste all of them together before correcting the blend.")
MASTERS_TOGETHER = Phrase("Cannot tell whether the master has moved: {other} and {standard} kept together for {weeks}.")
OVERLAP_MASTERS = Phrase(
    "Masters that age alike move alike: open them at different dates and overlap them for three weeks."
)

METHOD = Phrase(
    "Blend less master from each session's own model (lot + taster + lot:taster + lot:pot + error, REML), both on "
    "their own pots; its error is pooled over the weeks, and steadied over four descriptors or more. Weeks are "
    "smoothed with weight 0.2 and precision 1/(se^2 + w^2), w^2 the variance between weeks from successive "
    "differences; the target is 0. Limit {limit} standard deviations, simulated so that any alarm on any descriptor in "
    "{weeks} weeks has a chance of {risk} at most while the blend stays put and weeks are independent of one another; "
    "where neighbouring weeks resemble each other (correlation 0.3) a quiet season alarms in about {wander} of cases, "
    "where they do strongly (0.5) in up to {strong}."
)
# Simulated beside the limit: `weeklychart.RESEMBLANCE`.
WANDER_RATE, STRONG_RATE = "10 %", "50 %"
