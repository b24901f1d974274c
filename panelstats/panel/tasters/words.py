"""What is said of tasters: whole sentences with named fields, and the verdicts made of them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.tasters.assessed import Assessed, finding_at, shown_with_panel, untested, worst_of
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
from panelstats.panel.tasters.naming import APART, CANNOT, EACH_OTHER, WITH, Split
from panelstats.panel.tasters.reasons import reason_of
from panelstats.result import Act, Verdict
from panelstats.words import count, interval, listing, number

if TYPE_CHECKING:
    from panelstats.panel.tasters.ownlots import TypicalRepeat

QUESTION, PANEL_QUESTION = "Can this taster be relied on?", "Does the panel hold together?"

# What an aspect is called in a sentence.
SAID = {
    LEVEL: "level",
    REPEATABILITY: "repeatability",
    DISCRIMINATION: "telling lots apart",
    AGREEMENT: "order",
    SCALE_USE: "scale use",
    SCATTER: "scatter",
    NOTICED: "what is noticed",
}
# Fewer descriptors than this are named rather than counted (ours).
FEW_WORDS = 3
ON_ONE, ON_ALL = "{aspect} of {descriptors}", "{aspect} over all descriptors"

# What helps against a fault of each aspect (common practice).
LESSON = {
    LEVEL: "Set the level again with the references for this word.",
    REPEATABILITY: "Taste hidden repeats again, a few lots at a time.",
    DISCRIMINATION: "Practise on lots the others know to differ.",
    AGREEMENT: "The word may mean something else here: go through it with the others, lot by lot.",
    SCALE_USE: "Taste the weakest and the strongest lots side by side and use the whole scale.",
    SCATTER: "Taste the lots that lay farthest off again, blind.",
    NOTICED: "Taste lots that clearly have it beside lots that have none, and agree from where on it is marked.",
}
WRONG_WAY = "{descriptor} is scored the wrong way round: check the anchor words first."
CONTROL_DECIDES = "Two against one: a hidden control can say who is right."
PAIR_DECIDES = "With two tasters nobody can say which of them is off."

# One finding as a clause; `others` is whose marks it is held against, as "the others'".
LEVEL_ABOVE = "marks lie {size} points above {others} on {descriptor} ({low} to {high}; tolerance {ceiling})"
LEVEL_BELOW = "marks lie {size} points below {others} on {descriptor} ({low} to {high}; tolerance {ceiling})"
NOTICED_MORE = (
    "something is noticed{on} in {size} % more of the lots than {others} notice it in ({low} to {high} %; up to "
    "{ceiling} % passes)"
)
NOTICED_LESS = (
    "something is noticed{on} in {size} % fewer of the lots than {others} notice it in ({low} to {high} %; up to "
    "{ceiling} % passes)"
)
CLAUSE = {
    LEVEL: "marks lie {size} points from {others} on a typical descriptor ({low} to {high}; tolerance {ceiling})",
    REPEATABILITY: "two servings of one lot lie {n} times as far apart as {others}{on} ({low} to {high}; up to "
    "{ceiling} passes)",
    SCATTER: "marks stray from the line of {others} {n} times as far as theirs do{on} ({low} to {high}; up to "
    "{ceiling} passes)",
    SCALE_USE: "a difference of one point {among} comes out as {n}{on} ({low} to {high}; {floor} to {ceiling} passes)",
    AGREEMENT: "the order of the lots meets {others}{on} at {n}, where 1 is the same order and 0 none ({low} to "
    "{high}; from {floor} passes)",
    DISCRIMINATION: "of what one mark says{on}, {n} % is the lot and the rest noise ({low} to {high} %; from {floor} % "
    "passes)",
}
ON_DESCRIPTOR, ON_ALL_DESCRIPTORS = " on {descriptor}", " over all descriptors"

IS_APART = "{taster}: apart on {worst}: {finding}."
IS_APART_TODAY = "{taster}: apart today on {worst}: {finding}. One session shows the day's level, not yet the taster's."
IS_APART_OF_THREE = "{taster}: apart from {others}, who agree, on {worst}: {finding}."
IS_APART_OF_THREE_TODAY = (
    "{taster}: apart today from {others}, who agree, on {worst}: {finding}. One session shows the day's level, not yet "
    "the taster's."
)
ALSO_APART = " Also apart: {more}."
IS_WITH_EACH_OTHER = "{taster}: with {others}: {finding}; {order}."
IS_WITH_PANEL = (
    "{taster}: with the panel on {judged}{missing}; {order}. Shown on {shown} of {descriptors} taken alone; {finding}."
)
IS_WITH_PANEL_TODAY = (
    "{taster}: with the panel in this session on {judged}{missing}; {order}. Shown on {shown} of {descriptors} taken "
    "alone; {finding}."
)
ORDER_SHOWN = "order shown on {on} of {descriptors}"
ORDER_SHOWN_ONLY = "order shown on {names} only"
MISSING = "; {aspects} not tested"
IS_UNDECIDED = "{taster}: cannot tell; undecided is {worst}: {finding}."
FOLLOWS_NOBODY = "{taster}: cannot tell. The marks lie level but are not shown to follow the others' order of the lots."
FOLLOWS_NOBODY_STEP = "Taste lots that clearly differ again beside the others, or hide a pair known to differ."
NOT_LEVEL = "{taster}: cannot tell: {finding}; to reassure, a tolerance may be a tenth of the scale at most."
NOT_LEVEL_STEP = "Set the level again with references, and taste more lots together."
NO_ORDER = "{taster}: cannot tell: the panel's marks do not follow the lots, so a level like the others' says nothing."
AS_BLIND = " The marks spread as widely as if drawn over the scale."
PANEL_WITHOUT_ORDER = (
    "The marks show no common order of the lots: the lots may be alike, or the tasters tell nothing apart. Marks like "
    "these cannot say which."
)
KNOWN_PAIR = "Serve two lots you know to differ, six hidden cups each: who tells them apart can be relied on."
CANNOT_TELL = "{taster}: cannot tell."
MORE_TOGETHER = "taste more lots together"
NEED_LOTS = "at least 4 lots scored by 3 tasters together are needed"

TWO_DIFFER = "{one} and {other} differ on {worst}: cannot tell which is off."
THREE_DIFFER = "These three do not agree on {worst}: cannot tell which; a hidden control can say."
SPLIT = "The panel is split on {worst}; a hidden control can say who is right."
SPLIT_SIDES = "The panel is split on {worst}: {above} against {below}; a hidden control can say who is right."
SPLIT_STEP = "Serve a hidden control, and agree on the word before the next sitting."

ALONE_ONCE = "{taster}: cannot tell; one taster, each lot once."
ALONE_ONCE_STEP = "Serve some lots twice, hidden, and taste with two others."
ALONE = (
    "{taster}: alone, so only the own repeats speak: two servings of one lot agree within {gap} points, 19 times in 20 "
    "({between})."
)
ALONE_STEP = "Level, order and scale use need at least two others on the same lots."


def worst_said(a: Assessed, i: int) -> str:
    """What matters most of taster `i` in words, "" where nothing does."""
    aspect, d = worst_of(a, i)
    return where_said(a, aspect, d) if aspect else ""


def where_said(a: Assessed, aspect: str, d: int) -> str:
    """An aspect and the descriptor it is about."""
    return (ON_ALL if d < 0 else ON_ONE).format(aspect=SAID[aspect], descriptors=a.descriptors[d])


def finding_said(
    aspect: str, found: Finding, at: tuple[int, ...], descriptor: str, *, others: str = "the others'",
    among: str = "among the others",
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


def taster_verdict(a: Assessed, i: int) -> Verdict:
    """The verdict on one taster."""
    call = a.calls.overall[i]
    write = {APART: _apart, WITH: _with_panel, EACH_OTHER: _with_each_other, CANNOT: _cannot_tell}[call]
    sentence, step = write(a, i)
    act = {APART: Act.DECIDE, CANNOT: Act.TASTE_AGAIN}.get(call, Act.KNOW)
    return Verdict(QUESTION, str(a.tasters[i]), call, sentence, _numbers(a, i), step, act)


def _numbers(a: Assessed, i: int) -> dict[str, float]:
    aspect, d = worst_of(a, i)
    found, at = finding_at(a, aspect or LEVEL, i, d)
    return {name: float(getattr(found, name)[at]) for name in ("estimate", "low", "high", "p", "floor", "ceiling")}


def _said(a: Assessed, aspect: str, i: int, d: int) -> str:
    found, at = finding_at(a, aspect, i, d)
    others = f"{a.tasters[1 - i]}'s" if len(a.tasters) == 2 else "the others'"
    return finding_said(aspect, found, at, "" if d < 0 else str(a.descriptors[d]), others=others)


def _apart(a: Assessed, i: int) -> tuple[str, str]:
    aspect, d = worst_of(a, i)
    others = [str(t) for k, t in enumerate(a.tasters) if k != i]
    three = a.size == 3 and len(others) == 2
    fields = {"taster": a.tasters[i], "worst": where_said(a, aspect, d), "finding": _said(a, aspect, i, d)}
    today = aspect == LEVEL and len(a.bench.pool.sessions) == 1
    template = (IS_APART, IS_APART_OF_THREE, IS_APART_TODAY, IS_APART_OF_THREE_TODAY)[three + 2 * today]
    sentence = template.format(others=listing(others), **fields)
    more = _also(a, i, aspect)
    sentence += ALSO_APART.format(more=listing(more)) if more else ""
    step = LESSON[aspect]
    if d >= 0 and a.names.judgement.cells[SCALE_USE].high[i, d] < 0:
        step = WRONG_WAY.format(descriptor=a.descriptors[d])
    return sentence, f"{step} {CONTROL_DECIDES}" if three else step


def _also(a: Assessed, i: int, aspect: str) -> list[str]:
    """What else a taster is named for."""
    out = []
    for k in a.judged:
        on, everywhere = a.names.cells[k][i], a.names.tasters[k][i]
        if k != aspect and (on.any() or everywhere):
            template = ON_ALL if everywhere else ON_ONE
            out.append(template.format(aspect=SAID[k], descriptors=listing(a.descriptors[on])))
    return out


def _with_each_other(a: Assessed, i: int) -> tuple[str, str]:
    rest = [str(a.tasters[k]) for k in a.pairs if k != i]
    said = finding_said(LEVEL, a.pairs[i], (0,), "", others=f"{listing(rest)}'s")
    sentence = IS_WITH_EACH_OTHER.format(taster=a.tasters[i], others=listing(rest), finding=said, order=_order_said(a))
    return sentence, PAIR_DECIDES


def _order_said(a: Assessed) -> str:
    """On which descriptors the panel's marks follow the lots."""
    on = a.descriptors[a.calls.orders.on]
    if len(on) < FEW_WORDS:
        return ORDER_SHOWN_ONLY.format(names=listing(on) if len(on) else "all words together")
    return ORDER_SHOWN.format(on=len(on), descriptors=count(len(a.descriptors), "descriptor"))


def _with_panel(a: Assessed, i: int) -> tuple[str, str]:
    missing = ", ".join(SAID[k] for k in untested(a))
    template = IS_WITH_PANEL_TODAY if len(a.bench.pool.sessions) == 1 else IS_WITH_PANEL
    sentence = template.format(
        taster=a.tasters[i],
        judged=listing(SAID[k] for k in a.judged),
        missing=MISSING.format(aspects=missing) if missing else "",
        shown=shown_with_panel(a)[i],
        descriptors=count(len(a.descriptors), "descriptor"),
        finding=_said(a, LEVEL, i, -1),
        order=_order_said(a),
    )
    return sentence, ""


def _cannot_tell(a: Assessed, i: int) -> tuple[str, str]:
    aspect, d = worst_of(a, i)
    if not aspect:
        return _not_reassured(a, i)
    split = [s for s in a.names.splits if s.aspect == aspect and s.descriptor == d]
    sentence = IS_UNDECIDED.format(taster=a.tasters[i], worst=where_said(a, aspect, d), finding=_said(a, aspect, i, d))
    if split:
        return sentence, split_said(a, split[0])
    found, _ = finding_at(a, aspect, i, d)
    wide = found if d >= 0 else found.as_column()
    return sentence, _as_sentence(reason_of(a, aspect, wide, CANNOT, i, max(d, 0)) or MORE_TOGETHER)


def _not_reassured(a: Assessed, i: int) -> tuple[str, str]:
    """Nothing stands out, and yet what reassurance needs is not shown."""
    shown, taster = a.calls.orders, a.tasters[i]
    if not a.judged:
        return CANNOT_TELL.format(taster=taster), _why_not(a, i)
    if not shown.panel_shown:
        sentence, step = NO_ORDER.format(taster=taster), KNOWN_PAIR
    elif not shown.own_shown[i]:
        sentence, step = FOLLOWS_NOBODY.format(taster=taster), FOLLOWS_NOBODY_STEP
    elif not shown.level_held[i]:
        sentence, step = NOT_LEVEL.format(taster=taster, finding=_said(a, LEVEL, i, -1)), NOT_LEVEL_STEP
    else:
        return CANNOT_TELL.format(taster=taster), _why_not(a, i)
    return sentence + (AS_BLIND if shown.as_blind[i] else ""), step


def no_order_verdict(a: Assessed) -> Verdict:
    """The verdict on a panel whose marks show no order of the lots."""
    shown = a.calls.orders
    return Verdict(PANEL_QUESTION, "", CANNOT, PANEL_WITHOUT_ORDER, {"p": shown.panel_p}, KNOWN_PAIR, Act.TASTE_AGAIN)


def _why_not(a: Assessed, i: int) -> str:
    """Why nothing at all stands in the way and yet nothing is shown."""
    reasons = {reason_of(a, k, a.names.judgement.cells[k], CANNOT, i, 0) for k in a.judged}
    return _as_sentence(sorted(reasons)[0] if reasons else NEED_LOTS)


def _as_sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def split_said(a: Assessed, split: Split) -> str:
    """A panel that falls apart on one aspect, without a name."""
    sides = [listing(a.tasters[list(side)]) for side in (split.above, split.below)]
    template = {2: TWO_DIFFER, 3: THREE_DIFFER}.get(
        len(a.tasters), SPLIT_SIDES if all(sides) and split.aspect == LEVEL else SPLIT
    )
    return template.format(
        worst=where_said(a, split.aspect, split.descriptor), above=sides[0], below=sides[1],
        one=a.tasters[0], other=a.tasters[-1],
    )  # fmt: skip


def split_verdict(a: Assessed, split: Split) -> Verdict:
    """The verdict on a split panel."""
    return Verdict(
        PANEL_QUESTION, "", CANNOT, split_said(a, split), next_step=SPLIT_STEP, act=Act.TASTE_AGAIN
    )  # fmt: skip


def alone_verdict(taster: str, repeat: TypicalRepeat) -> Verdict:
    """All that can be said of a taster who sat alone."""
    if np.isnan(repeat.gap):
        sentence, numbers, step = ALONE_ONCE.format(taster=taster), {}, ALONE_ONCE_STEP
    else:
        between = interval(repeat.low, repeat.high, 1)
        sentence = ALONE.format(taster=taster, gap=number(repeat.gap, 1), between=between)
        numbers, step = {"estimate": repeat.gap, "low": repeat.low, "high": repeat.high}, ALONE_STEP
    return Verdict(QUESTION, taster, CANNOT, sentence, numbers, step, Act.TASTE_AGAIN)
