"""What is said of a map: whole sentences whose fields come formatted."""

MAPPED, ONE_AXIS, NOTHING, CANNOT_TELL = "a map", "one axis", "nothing to map", "cannot tell"
GROUPS, NO_GROUPS = "groups", "no clear groups"
ONE_PICTURE, NO_PICTURE = "one picture", "no picture"
TOGETHER, APART, DIFFERS = "together", "not shown together", "differs"
GOES, NOT_ON_MAP = "goes with the map", "not shown by the map"

IS_THERE = "Is there a map to draw?"
WHO_ALIKE = "Which lots lie near one another, and which apart?"
WHAT_GROUPS = "Do the lots fall into groups?"
HOW_FAR = "How far do the lots lie from {standard}?"
ONE_STORY = "Do the stages tell one story?"
SAME_PICTURE = "Do the tasters see one picture, apart from words?"
GOES_WITH = "Does what is known of the lots go with the map?"

OF_CLASS = "{name}: "
MAP = "the tasters agree on {axes} ({each}), and the map shows {shown}. {ways}{unsure}"
STRIP = "the tasters agree on one axis only ({each}): the lots are shown on a line. {ways}"
AXIS = "axis {at}: {share}, p {p}"
WAY = "Axis {at}: one way {high}; the other way {low}."
NONE = (
    "the tasters did not agree on any axis along which the lots differ (p {p}, {tasters}, {lots}): no map is drawn. "
    "Whether the lots differ otherwise is not known from it."
)
NONE_NEXT = "Compare the lots word by word (panelstats SOURCE), or let more tasters taste them."
AT_LEAST = "at least {n} axes"
ASKED = "The {axes} shown were asked for; the tasters agree on {trusted}."
ARBITRARY = (
    " Directions inside the plane are arbitrary (a single taster turns them by more than 30 degrees): read distances "
    "only."
)
TURNED = " It was turned onto the stored map."
SHORT = {
    "lots": "no map: {lots}, and a map needs 3 or more. The differences stand in the comparison of the lots.",
    "tasters": "no map: marks of {tasters}, and a map needs 3 or more who each tasted the lots.",
    "descriptors": "no map: the lots differ on {descriptors}, and a map needs 2 or more.",
    "error": (
        "no map on the scale of the error: {df} degrees of freedom for {descriptors} do not tell how the tasters' "
        "errors go together, or two descriptors say the same."
    ),
}  # fmt: skip
SHORT_NEXT = {
    "lots": "Taste more lots of this class in one session, or map all classes together.",
    "tasters": "Let more tasters meet these lots.",
    "descriptors": "Score more descriptors on every lot.",
    "error": "Map the lots in points, or score with more tasters.",
}
NO_REGIONS = " Three tasters are too few to say how sure a place is; a fourth would."

ALIKE = "farthest apart: {far}; nearest: {near}. {out}"
PAIR = "{one} and {other} ({size})"
OUTERMOST = "{lots}: {words}."
RULE = (
    "Regions are of single lots: whether two lots differ is not told by regions that overlap or touch. Pairs are "
    "judged where the lots are compared."
)
GROUPED = "{n} groups: {groups} (p {p}; kept when tasters are drawn again: {stable})."
ONE_GROUP = "{lots} ({words})"
UNGROUPED = "no clear groups; the lots lie on a continuum (p {p})."
OF_SAMPLE = " Looked for among {n} of them, drawn at random."
UNSTABLE = " A group kept by less than 60 % is hardly one."

FAR = "from {standard}, the nearest first: {near}{far}.{differ}"
FAR_OFF = "; farthest {far}"
ONE_FAR = "{lot} {size} ({interval})"
DIFFER = " Shown to differ from it: {lots}."
NONE_DIFFER = " None is shown to differ from it; that does not make them match."
MATCH_NEXT = "A match needs a tolerance: panelstats match SOURCE --standard {standard}."
NOT_HERE = "{standard} is not among the lots of {name}."
ALL_TOGETHER = "Map all classes together to see it."

STAGES = "{pairs}.{out}"
ONE_PAIR = "{one} and {other} {told} (RV {rv}, p {p})"
LIKE, UNLIKE = "place the lots alike", "are not shown to place the lots alike"
STAGE_OUT = " {stages}: no axis of its own, left out of the joint map."
NO_JOINT = "only {stages} has an axis of its own: there is nothing to join."
NO_STAGE = "no stage has an axis of its own: there is nothing to join."

PICTURE = (
    "their mean holds {plain} of their marks as scored (by chance {plain_chance}), {turned} once each is turned to fit "
    "(by chance {turned_chance}; p {p}). {finding}"
)
ALIKE_APART = (
    "They order the lots alike, words apart; turning makes noise agree too, so read each share beside what chance "
    "gives."
)
NOT_ONE = "That is no more than chance."

FITS = "{variable} goes with the map ({how}, p {p})"
DOES_NOT = "not shown by the map: {variables}"
HOW_NUMBER, HOW_CATEGORY = "multiple R {size}, higher towards {way}", "{size} of the spread lies between them"
TOO_FEW = "too few lots to tell: {variables}"

LEFT_LOTS = "Left out, a descriptor without any mark: {lots}."
LEFT_WORDS = "Left out, lots without any mark on them: {words}."
INSTEAD = " {what} could be left out instead: {names}."
FLAT = "The same for every lot: {words}."
WIDTHS = "Descriptors scored between other ends were brought to 10 points."
UNLIKE_ENDS = "Scales differ and not all ends are declared: a point counts as a point."
ONE_BREW = (
    "One shared brew of each lot: place, axes and regions speak of these brews; what another brew would do is not in "
    "them."
)
POTS_IN = "Regions allow for pots as well as tasters."

FOOTER = "{tasters}, {lots}, trusted axes {trusted} ({p}){regions}{incomplete}"
REGIONS = ", regions: {level}, other tasters like these"
AND_POTS = " and other pots"
INCOMPLETE = "; {lots} incomplete"

METHOD = (
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
BY_SPREAD = ", each descriptor divided by its standard deviation over the lots"
BY_ERROR = ", in standard deviations of the lot-by-taster error (canonical axes)"
