"""What is said of tasters: whole sentences with named fields."""

from __future__ import annotations

from panelstats.panel.tasters.crossedwords import FOLLOWS, IMPRESSION, SWAPPED
from panelstats.panel.tasters.finding import (
    AGREEMENT,
    DISCRIMINATION,
    LEVEL,
    NOTICED,
    REPEATABILITY,
    SCALE_USE,
    SCATTER,
    Finding,
)
from panelstats.speech import Phrase
from panelstats.words import number

QUESTION, PANEL_QUESTION = Phrase("Can this taster be relied on?"), Phrase("Does the panel hold together?")

# What an aspect is called in a sentence.
SAID = {
    LEVEL: Phrase("level"),
    REPEATABILITY: Phrase("repeatability"),
    DISCRIMINATION: Phrase("telling lots apart"),
    AGREEMENT: Phrase("order"),
    SCALE_USE: Phrase("scale use"),
    SCATTER: Phrase("scatter"),
    NOTICED: Phrase("what is noticed"),
}
# Fewer descriptors than this are named rather than counted (ours).
FEW_WORDS = 3
ON_ONE, ON_ALL = Phrase("{aspect} of {descriptors}"), Phrase("{aspect} over all descriptors")

# What helps against a fault of each aspect (common practice).
LESSON = {
    LEVEL: Phrase("Set the level again with reference bowls."),
    REPEATABILITY: Phrase("Taste hidden repeats again, a few lots at a time."),
    DISCRIMINATION: Phrase("Practise on lots the others know to differ."),
    AGREEMENT: Phrase("The word may mean something else here: go through it with the others, lot by lot."),
    SCALE_USE: Phrase("Taste the weakest and the strongest lots side by side and use the whole scale."),
    SCATTER: Phrase("Taste the lots that lay farthest off again, blind."),
    NOTICED: Phrase(
        "Taste lots that clearly have it beside lots that have none, and agree from where on it is marked."
    ),
}
WRONG_WAY = Phrase("{descriptor} is scored the wrong way round: check the anchor words first.")
CONTROL_DECIDES = Phrase("Two against one: a hidden control can say who is right.")
PAIR_DECIDES = Phrase("With two tasters nobody can say which of them is off.")

# Whose marks they are held against, and where an order was shown.
OF_ONE, OF_OTHERS, AMONG_OTHERS = Phrase("{name}'s"), Phrase("the others'"), Phrase("among the others")
ALL_TOGETHER = Phrase("all words together")

# One finding as a clause; `others` is whose marks it is held against, as "the others'".
LEVEL_ABOVE = Phrase("marks lie {size} points above {others} on {descriptor} ({low} to {high}; tolerance {ceiling})")
LEVEL_BELOW = Phrase("marks lie {size} points below {others} on {descriptor} ({low} to {high}; tolerance {ceiling})")
NOTICED_MORE = Phrase(
    "something is noticed{on} in {size} % more of the lots than {others} notice it in ({low} to {high} %; up to "
    "{ceiling} % passes)"
)
NOTICED_LESS = Phrase(
    "something is noticed{on} in {size} % fewer of the lots than {others} notice it in ({low} to {high} %; up to "
    "{ceiling} % passes)"
)
CLAUSE = {
    LEVEL: Phrase(
        "marks lie {size} points from {others} on a typical descriptor ({low} to {high}; tolerance {ceiling})"
    ),
    REPEATABILITY: Phrase(
        "two servings of one lot lie {n} times as far apart as {others}{on} ({low} to {high}; up to {ceiling} passes)"
    ),
    SCATTER: Phrase(
        "marks stray from the line of {others} {n} times as far as theirs do{on} ({low} to {high}; up to "
        "{ceiling} passes)"
    ),
    SCALE_USE: Phrase(
        "a difference of one point {among} comes out as {n}{on} ({low} to {high}; {floor} to {ceiling} passes)"
    ),
    AGREEMENT: Phrase(
        "the order of the lots meets {others}{on} at {n}, where 1 is the same order and 0 none ({low} to "
        "{high}; from {floor} passes)"
    ),
    DISCRIMINATION: Phrase(
        "of what one mark says{on}, {n} % is the lot and the rest noise ({low} to {high} %; from {floor} % passes)"
    ),
}
ON_DESCRIPTOR, ON_ALL_DESCRIPTORS = Phrase(" on {descriptor}"), Phrase(" over all descriptors")

IS_APART = Phrase("{taster}: apart on {worst}: {finding}.")
IS_APART_TODAY = Phrase(
    "{taster}: apart today on {worst}: {finding}. One session shows the day's level, not yet the taster's."
)
IS_APART_OF_THREE = Phrase("{taster}: apart from {others}, who agree, on {worst}: {finding}.")
IS_APART_OF_THREE_TODAY = Phrase(
    "{taster}: apart today from {others}, who agree, on {worst}: {finding}. One session shows the day's level, not yet "
    "the taster's."
)
CROSSED = {
    SWAPPED: Phrase(
        "{taster}'s {word} goes with the others' {other}, and {taster}'s {other} with their {word}: swapped columns or "
        "words?"
    ),
    FOLLOWS: Phrase("{taster}'s {word} goes with the others' {other}, not with their {word}."),
    IMPRESSION: Phrase(
        "{taster} puts one impression under several words: {word} and more go with the others' {other}."
    ),
}
CROSSED_STEP = Phrase(
    "Check the columns of the sheet first; then taste {word} and {other} side by side with the others."
)
APART_CROSSED = Phrase("{taster}: apart on {worst}. {crossed}")
ALSO_APART = Phrase(" Also apart: {more}.")
# Simulated: 6 tasters alike, 24 log-normal lots (log-SD 1), opinions of 0.4 point growing by 0.4 a point, 15 words: in
# 16 of 100 panels, and in 21 of 120 others, somebody was named on scale use, instead of in 2.
OPINIONS_GROW = Phrase(
    " The others disagree more on the lots marked high: where opinions grow with the lot like this, somebody innocent "
    "is named on scale use in about 1 panel of 6."
)
IS_WITH_EACH_OTHER = Phrase("{taster}: with {others}: {finding}; {order}.")
IS_WITH_PANEL = Phrase(
    "{taster}: with the panel on {judged}{missing}; {order}. Shown on {shown} of {descriptors} taken alone; {finding}."
)
IS_WITH_PANEL_TODAY = Phrase(
    "{taster}: with the panel in this session on {judged}{missing}; {order}. Shown on {shown} of {descriptors} taken "
    "alone; {finding}."
)
ORDER_SHOWN = Phrase("order shown on {on} of {descriptors}")
ORDER_SHOWN_ONLY = Phrase("order shown on {names} only")
MISSING = Phrase("; {aspects} not tested")
IS_UNDECIDED = Phrase("{taster}: cannot tell; undecided is {worst}: {finding}.")
SAME_MARK = Phrase(
    "{taster}: cannot tell: gave every lot the same mark on {descriptors}, where the others tell the lots apart."
)
SAME_MARK_STEP = Phrase("Taste two lots that clearly differ beside the others, and say which has more of it.")
FOLLOWS_NOBODY = Phrase(
    "{taster}: cannot tell. The marks lie level but are not shown to follow the others' order of the lots."
)
FOLLOWS_NOBODY_STEP = Phrase("Taste lots that clearly differ again beside the others, or hide a pair known to differ.")
NOT_LEVEL = Phrase("{taster}: cannot tell: {finding}; to reassure, a tolerance may be a tenth of the scale at most.")
NOT_LEVEL_STEP = Phrase("Set the level again with references, and taste more lots together.")
NO_ORDER = Phrase(
    "{taster}: cannot tell: the panel's marks do not follow the lots, so a level like the others' says nothing."
)
TOO_FEW_LOTS = Phrase("{taster}: cannot tell: too few lots of a class to show whether marks follow them.")
AS_BLIND = Phrase(" The marks spread as widely as if drawn over the scale.")
PANEL_TOO_FEW = Phrase("Too few lots of a class were tasted together to show whether the marks follow them.")
PANEL_WITHOUT_ORDER = Phrase(
    "The marks show no common order of the lots: the lots may be alike, or the tasters tell nothing apart. Marks like "
    "these cannot say which."
)
KNOWN_PAIR = Phrase("Serve two lots you know to differ, six hidden cups each: who tells them apart can be relied on.")
CANNOT_TELL = Phrase("{taster}: cannot tell.")
MORE_TOGETHER = Phrase("taste more lots together")
NEED_LOTS = Phrase("at least 4 lots scored by 3 tasters together are needed")
MORE_LOTS_TOGETHER = Phrase("Taste five lots or more of one class together.")

TWO_DIFFER = Phrase("{one} and {other} differ on {worst}: cannot tell which is off.")
THREE_DIFFER = Phrase("These three do not agree on {worst}: cannot tell which; a hidden control can say.")
SPLIT = Phrase("The panel is split on {worst}; a hidden control can say who is right.")
SPLIT_SIDES = Phrase("The panel is split on {worst}: {above} against {below}; a hidden control can say who is right.")
SPLIT_STEP = Phrase("Serve a hidden control, and agree on the word before the next sitting.")

ALONE_ONCE = Phrase("{taster}: cannot tell; one taster, each lot once.")
ALONE_ONCE_STEP = Phrase("Serve some lots twice, hidden, and taste with two others.")
ALONE = Phrase(
    "{taster}: alone, so only the own repeats speak: two servings of one lot agree within {gap} points, 19 times in 20 "
    "({between})."
)
ALONE_STEP = Phrase("Level, order and scale use need at least two others on the same lots.")


def finding_said(
    aspect: str, found: Finding, at: tuple[int, ...], descriptor: str, *, others: str = OF_OTHERS,
    among: str = AMONG_OTHERS,
) -> str:  # fmt: skip
    """One finding in a clause, with its interval and its tolerance."""
    unit = 100 if aspect in (DISCRIMINATION, NOTICED) else 1
    value, low, high, floor, ceiling = (
        unit * float(x[at]) for x in (found.estimate, found.low, found.high, found.floor, found.ceiling)
    )
    places = 0 if unit > 1 else 1 if high - low > 0.5 else 2
    signed = {LEVEL: (LEVEL_ABOVE, LEVEL_BELOW), NOTICED: (NOTICED_MORE, NOTICED_LESS)}
    if aspect in signed and (descriptor or aspect == NOTICED):
        template = signed[aspect][0 if value > 0 else 1]
        low, high = (low, high) if value > 0 else (-high, -low)
    else:
        template = CLAUSE[aspect]
    return template.format(
        n=number(value, places),
        size=number(abs(value), places),
        on=ON_DESCRIPTOR.format(descriptor=descriptor) if descriptor else ON_ALL_DESCRIPTORS,
        descriptor=descriptor,
        low=number(low, places),
        high=number(high, places),
        floor=number(floor, 0 if unit > 1 else 2),
        ceiling=number(ceiling, 0 if unit > 1 else 2),
        others=others,
        among=among,
    )
