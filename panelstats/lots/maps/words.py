"""What is said of a map: whole sentences whose fields come formatted."""

from panelstats.speech import Phrase

MAPPED, ONE_AXIS, NOTHING, CANNOT_TELL = "a map", "one axis", "nothing to map", "cannot tell"
GROUPS, NO_GROUPS = "groups", "no clear groups"
ONE_PICTURE, NO_PICTURE = "one picture", "no picture"
TOGETHER, APART, DIFFERS = "together", "not shown together", "differs"
GOES, NOT_ON_MAP = "goes with the map", Phrase("not shown by the map")

IS_THERE = Phrase("Is there a map to draw?")
WHO_ALIKE = Phrase("Which lots lie near one another, and which apart?")
WHAT_GROUPS = Phrase("Do the lots fall into groups?")
HOW_FAR = Phrase("How far do the lots lie from {standard}?")
ONE_STORY = Phrase("Do the stages tell one story?")
SAME_PICTURE = Phrase("Do the tasters see one picture, apart from words?")
GOES_WITH = Phrase("Does what is known of the lots go with the map?")

OF_CLASS = "{name}: "
MAP = Phrase("the tasters agree on {axes} ({each}), and the map shows {shown}. {ways}{unsure}")
STRIP = Phrase("the tasters agree on one axis only ({each}): the lots are shown on a line. {ways}{unsure}")
AXIS = Phrase("axis {at}: {share}, p {p}")
WAY = Phrase("Axis {at}: one way {high}; the other way {low}.")
NONE = Phrase(
    "the tasters did not agree on any axis along which the lots differ (p {p}, {tasters}, {lots}): no map is drawn. "
    "Whether the lots differ otherwise is not known from it."
)
NONE_NEXT = Phrase("Compare the lots word by word (panelstats SOURCE), or let more tasters taste them.")
AT_LEAST = Phrase("at least {n} axes")
ARBITRARY = Phrase(
    " Directions inside the plane are arbitrary (a single taster turns them by more than 30 degrees): read distances "
    "only."
)
TURNED = Phrase(" It was turned onto the stored map.")
SHORT = {
    "lots": Phrase("no map: {lots}, and a map needs 3 or more. The differences stand in the comparison of the lots."),
    "tasters": Phrase("no map: marks of {tasters}, and a map needs 3 or more who each tasted the lots."),
    "descriptors": Phrase("no map: the lots differ on {descriptors}, and a map needs 2 or more."),
    "error": Phrase(
        "no map on the scale of the error: {df} degrees of freedom for {descriptors} do not tell how the tasters' "
        "errors go together, or two descriptors say the same."
    ),
}  # fmt: skip
ALONE = Phrase(
    " The marks of {taster} alone hold {axes} beyond what marks at random hold (parallel analysis, Horn 1965): that is "
    "weaker than a panel, for whether others would see the same is not known."
)
SHORT_NEXT = {
    "lots": Phrase("Taste more lots of this class in one session, or map all classes together."),
    "tasters": Phrase("Let more tasters meet these lots."),
    "descriptors": Phrase("Score more descriptors on every lot."),
    "error": Phrase("Map the lots in points, or score with more tasters."),
}
NO_ERROR = Phrase(
    " Nothing says how sure a place is: the tasters never differed, or a word was scored by one of them alone."
)
NO_REGIONS = Phrase(" Three tasters are too few to say how sure a place is; a fourth would.")

ALIKE = Phrase("farthest apart: {far}; nearest: {near}. {out}")
PAIR = Phrase("{one} and {other} ({size})")
OUTERMOST = "{lots}: {words}."
RULE = Phrase(
    "Regions are of single lots: whether two lots differ is not told by regions that overlap or touch. Pairs are "
    "judged where the lots are compared."
)
GROUPED = Phrase("{n} groups: {groups} (p {p}; kept when tasters are drawn again: {stable}).")
ONE_GROUP = "{lots} ({words})"
UNGROUPED = Phrase("no clear groups; the lots lie on a continuum (p {p}).")
OF_SAMPLE = Phrase(" Looked for among {n} of them, drawn at random.")
UNSTABLE = Phrase(" A group kept by less than 60 % is hardly one.")

FAR = Phrase("from {standard}, the nearest first: {near}{far}.{differ}")
FAR_OFF = Phrase("; farthest {far}")
ONE_FAR = "{lot} {size} ({interval})"
DIFFER = Phrase(" Shown to differ from it: {lots}.")
NONE_DIFFER = Phrase(" No lot is shown to differ from it; that does not make them match.")
MATCH_NEXT = Phrase("A match needs a tolerance: panelstats match SOURCE --standard {standard}.")
NOT_HERE = Phrase("{standard} is not among the lots of {name}.")
ALL_TOGETHER = Phrase("Map all classes together to see it.")

STAGES = "{pairs}.{out}"
ONE_PAIR = Phrase("{one} and {other} {told} (RV {rv}, p {p})")
LIKE, UNLIKE = Phrase("place the lots alike"), Phrase("are not shown to place the lots alike")
STAGE_OUT = Phrase(" {stages}: no axis of its own, left out of the joint map.")
NO_JOINT = Phrase("only {stages} has an axis of its own: there is nothing to join.")
NO_STAGE = Phrase("no stage has an axis of its own: there is nothing to join.")

PICTURE = Phrase(
    "their mean holds {plain} of their marks as scored (by chance {plain_chance}), {turned} once each is turned to fit "
    "(by chance {turned_chance}; p {p}). {finding}"
)
ALIKE_APART = Phrase(
    "They order the lots alike, words apart; turning makes noise agree too, so read each share beside what chance "
    "gives."
)
NOT_ONE = Phrase("That is no more than chance.")

FITS = Phrase("{variable} goes with the map ({how}, p {p})")
DOES_NOT = Phrase("not shown by the map: {variables}")
HOW_NUMBER, HOW_CATEGORY = (
    Phrase("multiple R {size}, higher towards {way}"),
    Phrase("{size} of the spread lies between them"),
)
TOO_FEW = Phrase("too few lots to tell: {variables}")

LEFT_LOTS = Phrase("Left out, a descriptor without any mark: {lots}.")
DASHED = Phrase(" Where the descriptors they were scored on would put them is drawn dashed.")
LEFT_WORDS = Phrase("Left out, lots without any mark on them: {words}.")
INSTEAD = Phrase(" {what} could be left out instead: {names}.")
FLAT = Phrase("The same for every lot: {words}.")
WIDTHS = Phrase("Descriptors scored between other ends were brought to 10 points.")
UNLIKE_ENDS = Phrase("Scales differ and not all ends are declared: a point counts as a point.")
ONE_BREW = Phrase(
    "One shared brew of each lot: place, axes and regions speak of these brews; what another brew would do is not in "
    "them."
)
POTS_IN = Phrase("Regions allow for pots as well as tasters.")

FILLED = Phrase(
    "Filled in, as asked: {n} of {places} ({share}), where nobody scored a lot on a descriptor ({which}), {how}. That "
    "is a guess, drawn dashed; no region and no interval covers it."
)
FROM_AXES, FROM_MEANS = Phrase("from {axes} of the other marks"), Phrase("by the mean of the lots on it")
ONE_GAP = "{lot}: {words}"
NOT_FILLED = {
    "all": Phrase("Not filled in: {share} of the table of lots and descriptors has no mark, and 10 % is the most."),
    "lots": Phrase("Not filled in: of {names} half of the descriptors or more have no mark."),
    "words": Phrase("Not filled in: on {names} half of the lots or more have no mark."),
}

BY_STAGE = Phrase(
    "Where {stages} each see the lots, on the axes of all stages together: near lots were marked alike. The stages "
    "agree least on {least}, most on {most}."
)
FOOTER = Phrase("{tasters}, {lots}, axes the tasters agree on: {trusted}{p}{regions}{incomplete}")
FOOTER_P = " (p {p})"
REGIONS = Phrase(", regions: {level}, other tasters like these")
AND_POTS = Phrase(" and other pots")
INCOMPLETE = Phrase("; {lots} incomplete")
GUESSED = Phrase("; filled in, as asked: {lots}, {share} of the marks, which no region covers")

METHOD = Phrase(
    "Maps: means of lot + taster (levels of tasters in each session off), principal axes of their covariance (divisor "
    "lots - 1){scale}. Trusted axes: the panel's mean with whole lots relabelled within each taster, {resamples} "
    "times, axis by axis; where a lot had several shared pots these were dealt out again too, what is left of each "
    "taster's marks relabelled and added, and the larger p counts; "
    "read up to the first axis not shown at {alpha}. Regions: Hotelling's T-squared of the lot-by-taster error pooled "
    "over lots, {level}, of the lot's mean among other tasters like these; shared pots add their spread, degrees of "
    "freedom by Satterthwaite in the plane. Signs: a stored map, an anchor, else the sum of cubed loadings positive. "
    "Groups: Ward on the trusted axes, largest mean silhouette against clouds without groups. Distances: T-squared on "
    "three trusted axes at most, noncentral F turned about, along the direction seen. Shared picture: "
    "generalised Procrustes, beside the median of panels with lots relabelled. Sources: Mardia, Kent & Bibby 1979; "
    "Gower 1975; Wakeling, Raats & MacFie 1992; Escofier & Pages 1994; Rousseeuw 1987; Hennig 2007."
)
BY_SPREAD = Phrase(", each descriptor divided by its standard deviation over the lots")
BY_ERROR = Phrase(", in standard deviations of the lot-by-taster error (canonical axes)")
