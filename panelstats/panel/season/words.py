"""What is said of a season: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

STEADY, APART, CANNOT_TELL = "steady", "moved apart", "cannot tell"
SWAPPED_WORDS = "crossed words"

QUESTION = Phrase("Who has moved over the season, and since when?")
NOISE_QUESTION = Phrase("Who repeats less closely than before, and since when?")
AGREEMENT_QUESTION = Phrase("Who puts the lots in another order than before, and since when?")
WORDS_QUESTION = Phrase("Whose words have crossed, and since when?")
REST_QUESTION = Phrase("On what else have those who moved been steady?")
JUMPED = Phrase("{taster} has scored {descriptor} {way} since {since}: jumped by {change} points ({interval}).")
DRIFTED = Phrase(
    "{taster} has been drifting {way} on {descriptor} since {since}: {change} points ({interval}) by {last}."
)
MOVED = Phrase(
    "{taster} has moved {way} on {descriptor} since {since}; by drift or by jump cannot be told: {change} "
    "points ({interval}) at {last}."
)
SINCE_EXACTLY, SINCE_BETWEEN = "{since}", Phrase("{since} (not before {low}, not after {high})")
WAYS = {
    "jumped": (Phrase("higher"), Phrase("lower")),
    "drifting": (Phrase("up"), Phrase("down")),
    "moved": (Phrase("up"), Phrase("down")),
}
ON_CONTROLS_TOO = Phrase("The hidden controls show it too.")
ON_CONTROLS = Phrase("On the hidden controls: ")
TWO_AGAINST_ONE = Phrase("Two against one, {others}, who kept together: a hidden control can say who is right.")
PAIR = Phrase("Or {other} has moved the other way: of two tasters nobody can tell which.")
TRAIN = Phrase("Taste three recent lots again beside another taster, and settle aloud what {descriptor} each deserves.")

NOISIER = Phrase(
    "{taster} has {what} less closely since {since}: the spread is {change} times ({interval}) what it was, beside the "
    "others'."
)
REPEATED, KEPT = Phrase("repeated marks"), Phrase("kept to the others' line")
REST = Phrase("Serve {taster} two hidden pots of each of six lots, rested and in small flights.")
LESS_AGREED = Phrase(
    "{taster} has gone less with the others' order of the lots since {since}: the correlation, {before} before, is "
    "{after} since."
)
RELEARN = Phrase("Go through the words on which {taster} ranks the lots otherwise, lot by lot, beside another taster.")

SWAPPED = Phrase(
    "{taster}'s {word} goes with the others' {other}, and {other} with their {word}, since {since}: swapped columns or "
    "words?"
)
FOLLOWS = Phrase("{taster}'s {word} goes with the others' {other}, not with their {word}, since {since}.")
ASK_WORDS = Phrase("Ask {taster} what the two words mean, and look at the sheet's columns.")

SPLIT, NOT_TOGETHER = "the panel is split", "these three do not keep together"
BASELINE_ONLY, WIDE, CLOSE = "baseline only", Phrase("the interval is too wide"), "close to the tolerance"
SPLIT_SAID = Phrase("Cannot tell who has moved on {what}: {reason} ({tasters}).")
ASK_CONTROL = Phrase("Serve two hidden controls in each session: they say who has moved.")

RULING_QUESTION = Phrase("Who has moved, by the hidden controls?")
RULED = Phrase(
    "The hidden controls say who moved on {descriptor}: {taster}, by {change} points ({interval}) since {since}; of "
    "the others no move was shown."
)
RULED_ALL = Phrase(
    "On the hidden controls all have moved on {descriptor} since {since}: the control or the whole panel has moved."
)
RULED_SOME = Phrase(
    "On the hidden controls {tasters} have moved on {descriptor} since {since}: more than one, and not all."
)
RULED_NONE = Phrase("The hidden controls cannot tell yet who has moved on {descriptor} since {since}.")
MORE_CONTROLS = Phrase("Go on serving two hidden controls in each session, two cups of each if you can.")

BASELINE_QUESTION = Phrase("Were the first sessions quiet, which say what is usual?")
MOVING_BASELINE = Phrase(
    "The first {sessions} of {taster} were themselves moving on {which}. Whether {taster} is steady or has moved is "
    "told against their mean, which is not settled there."
)
MOVING_WORD = Phrase("{descriptor} ({change} points, standard error {se})")
LATER_BASELINE = Phrase("Leave the first sessions out, or ask with a longer baseline (--baseline 12).")
AWAY = Phrase(" Not seen since {last}.")

STEADY_SAID = Phrase("{taster}: steady on {steady} after {sessions}.{open}")
OPEN_SAID = Phrase(" Cannot tell on {open}.")
NOTHING_TOLD = Phrase("{taster}: cannot tell on {open}, after {sessions}.")
NO_BASELINE = Phrase("{taster}: {sessions} so far, too few to say anything; a chart begins after {needed}.")
MORE_SESSIONS = Phrase("About {more} would tell.")
OUT_OF_REACH = Phrase(
    "More sessions will not tell: score more lots in each, or take a longer baseline (of 12 sessions)."
)
NOISE_NAMES = {"noise": Phrase("repeats"), "agreement": Phrase("order")}
SCATTER_NAME = Phrase("scatter")

PANEL_QUESTION = Phrase("Has the whole panel moved?")
PANEL_UNSEEN = Phrase(
    "Whether all tasters move together cannot be seen: no hidden control was followed, and against one another nothing "
    "of it shows."
)
PANEL_MOVED = Phrase(
    "On the hidden controls all tasters together have moved on {descriptor} since {since}: {change} points "
    "({interval}). Cannot tell whether the panel moved or the controls did."
)
PANEL_STEADY = Phrase(
    "On the hidden controls ({controls}) the panel has kept its level within the tolerance on {steady}.{open}"
)
PANEL_OPEN = Phrase("On the hidden controls ({controls}) cannot tell whether the panel has kept its level on {open}.")
SERVE_CONTROLS = Phrase("Keep two controls of different opening dates sealed, and serve both hidden in each session.")
FRESH_CONTROL = Phrase("Open a fresh control beside the old one for three sessions: the one that stays is right.")
UNLINKED = Phrase(
    "The control {controls} is not counted: it stood beside no other control in three sessions, so that a change of "
    "control and of taster could not be told apart."
)
OVERLAP = Phrase("Serve an old and a new control side by side in three sessions before the old one goes.")
ALONE = Phrase("{taster} tasted alone: against nobody no level, order or words can be judged{controls}.")
ALONE_CONTROLS = Phrase("; what follows rests on the hidden controls and on own repeats")
COMPANY = Phrase("Let a second and a third taster score the same lots, and serve hidden controls.")

HALVES_QUESTION = Phrase("Does anybody repeat otherwise in the second half than in the first?")
WIDER, CLOSER, NOT_SHOWN = "repeats wider", "repeats closer", "not shown"
HALVES_DIFFER = Phrase(
    "{taster}'s repeats spread {ratio} times ({interval}) as wide from {since} on, in the second half, as in the first."
)
HALVES_ALIKE = Phrase(
    "No change of repeats from the first half to the second was shown for {who}; a spread less than {factor} times as "
    "wide or as narrow would mostly not show."
)
HALVES_OPEN = Phrase(
    "Whether {who} repeat otherwise in the second half cannot be told: in one half too few repeats were served, or "
    "none differed."
)
REPEAT_ALWAYS = Phrase("Serve everybody two hidden repeats in each session.")
HALVES_METHOD = Phrase(
    "Repeats of the second half against the first: F of the pooled mean squares within lots, all descriptors together "
    "each as a share of the panel's; where the cups' squares spread more than those of normal, independent errors, "
    "degrees of freedom are divided by how much more (Layard 1973). Brown and Forsythe's test asks for single marks, "
    "which a season no longer holds. Corrected over tasters (Holm, 5 %)."
)

DRIFT_QUESTION = Phrase("Do the tasters drift at all?")
DRIFT = "they drift"
DRIFT_SHOWN = Phrase(
    "The tasters drift apart over the season, more than their errors explain: in ten sessions their trends spread by "
    "{which}."
)
DRIFT_OF_MOVERS = Phrase(
    "In ten sessions the tasters' trends spread by {which}: those are the moves told above. Without them no drift of "
    "the tasters in general was shown."
)
DRIFT_ON = Phrase("{spread} points on {what} ({interval})")
DRIFT_OTHERS = Phrase("so, too, on {others} more")
ALL_TOGETHER = Phrase("the mean of all descriptors")
DRIFT_NOT_SHOWN = Phrase(
    "That tasters drift in general was not shown: in ten sessions their trends spread by at most {high} points on any "
    "descriptor."
)
TOGETHER = Phrase("Let all tasters meet over the same three lots each month, and settle aloud what each word deserves.")
DRIFT_METHOD = Phrase(
    "Trends: a mixed model with an own level and an own slope of each taster, slopes random, by restricted maximum "
    "likelihood with the variances of the sessions as weights, descriptor by descriptor and for their mean, against "
    "the whole panel; the test is F on the weighted squares of the slopes, corrected over descriptors (Holm, 5 %), the "
    "interval Viechtbauer's (2007). Each slope is told as it is and drawn to the panel's by what its error leaves of "
    "it. Sessions that resemble their neighbours make trends look surer than they are."
)

CAUTION_QUESTION = Phrase("How far may the charts be trusted?")
WANDERING = "wanders"
WANDERS = Phrase(
    "{taster}'s level wanders from session to session by {own} points ({interval}), the others' by {others}. The "
    "limits take one wander for all: an alarm on {taster} is less sure than promised, on the others surer."
)
SAME_DAY = Phrase(
    "Ask {taster} what differs from day to day: the hour, the seat, food before. A hidden control in each session "
    "tells a bad day from a move."
)
LEFT_OUT = Phrase(
    "Left out, for their marks leave no spread from which an error could be told: {which}. Such a session counts as "
    "missed, not as exact."
)
LEFT_OUT_ON = Phrase("{taster} on {what} ({sessions})")
LEFT_OUT_OTHERS = Phrase("{charts} besides")
MORE_LOTS = Phrase("Score more lots in each session, and on the finest step of the scale that is used with ease.")

METHOD = Phrase(
    "Each session's mean difference to the other tasters on the same lots, who never include the taster; its error is "
    "pooled over the season and steadied over four descriptors or more. The variance between sessions beyond it, one "
    "for each descriptor, comes from differences of successive sessions ({between}). Sessions are smoothed with "
    "weight 0.2 and precision 1/variance, against the taster's own first {baseline} sessions ({short} for who came "
    "late). Noise: the logarithm of the variance {noise}, over the others' in the same session, descriptors pooled. "
    "Agreement: Fisher's z with the others, mean over descriptors, less the others' median in that session. Limits in "
    "standard deviations: {limits}; they are simulated for this timetable, up to {planned} sessions, so that any "
    "alarm in the whole panel and season has a chance of at most {risk} if nobody moves. {honest} Who alarms leaves "
    "the others' references of that descriptor, at most {most}, and the charts are made again; nobody is named where "
    "those who stay do not keep together. A jump is the best step, a drift the best straight rise, by weighted least "
    "squares; the sessions given are those whose fit is worse by at most 3.84. Steady: the interval ({level}) of the "
    "smoothed level lies within the tolerance at the last session, which does not exclude a move that came and went. "
    "Position in the row is not taken out. EWMA: NIST/SEMATECH e-Handbook 6.3.2.4; limits for all charts: Sidak "
    "(1967); von Neumann (1941)."
)
HONEST = Phrase(
    "That holds for tasters of one variance between sessions, and for neighbouring sessions that resemble each other "
    "up to a correlation of 0.3, which the limit on level takes from the record. In simulated quiet seasons of 30 "
    "sessions and four descriptors any chart alarmed in {three} with three tasters, in {six} with six and in {ten} "
    "with ten; where neighbouring sessions resembled each other (autocorrelation 0.3), in {alike} with six, and the "
    "tasters were said to drift in {trends}; where they did more (0.5), in {more} and {more_trends}. Where days are "
    "wild now and then, or tasters differ in how steady their sessions are, it is more often, too."
)
# Of 200 seasons each (tests/calibration/rates.md).
HONEST_RATES = {
    "three": "5.0 %", "six": "5.0 %", "ten": "3.5 %", "alike": "3.0 %", "trends": "10.5 %", "more": "16.0 %",
    "more_trends": "16.5 %",
}  # fmt: skip
NOTHING_BETWEEN = Phrase("no extra session-to-session variation shown")
HERE = Phrase(
    "Here successive differences have a correlation of {lag} (independent sessions: -0.5); the limit on level allows "
    "for a correlation of neighbouring sessions of {alike}."
)
