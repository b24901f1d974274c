"""What is said to a taster: in the words of the room, each number with its interval."""

from __future__ import annotations

import numpy as np

from panelstats.panel.tasters.finding import (
    AGREEMENT,
    DISCRIMINATION,
    LEVEL,
    REPEATABILITY,
    SCALE_USE,
    SCATTER,
    Finding,
)
from panelstats.panel.tasters.naming import APART, CANNOT, EACH_OTHER, WITH, Split, pair_levels
from panelstats.panel.tasters.tables import (
    SAID,
    Assessed,
    not_tested,
    over_all,
    reason_of,
    shown_with_panel,
    worst_of,
)
from panelstats.result import Act, Verdict
from panelstats.words import count, interval, listing, number

# What helps against a fault of each aspect (common practice).
LESSON = {
    LEVEL: "Set the level again with the references for this word.",
    REPEATABILITY: "Taste hidden repeats again, a few lots at a time.",
    DISCRIMINATION: "Practise on lots the others know to differ.",
    AGREEMENT: "The word may mean something else here: go through it with the others, lot by lot.",
    SCALE_USE: "Taste the weakest and the strongest lots side by side and use the whole scale.",
    SCATTER: "Taste the lots that lay farthest off again, blind.",
}
CONTROL_DECIDES = "Two against one: a hidden control can say who is right."
# Two servings differ by less than this many standard deviations 19 times in 20: Bland & Altman, BMJ 1996; 313: 744.
PAIR_FACTOR = 1.96 * np.sqrt(2)


_SENTENCE = {
    LEVEL: "marks lie {size} points from the others' on a typical descriptor ({between}; tolerance {ceiling})",
    REPEATABILITY: "two servings of one lot lie {n} times as far apart as the others'{on} ({between}; up to {ceiling} "
    "passes)",
    SCATTER: "marks stray from the line of the others' {n} times as far as theirs do{on} ({between}; up to {ceiling} "
    "passes)",
    SCALE_USE: "a difference of one point among the others comes out as {n}{on} ({between}; {floor} to {ceiling} "
    "passes)",
    AGREEMENT: "the order of the lots meets the others'{on} at {n}, where 1 is the same order and 0 none ({between}; "
    "from {floor} passes)",
    DISCRIMINATION: "of what one mark says{on}, {n} % is the lot and the rest noise ({between} %; from {floor} % "
    "passes)",
}


def finding_said(aspect: str, found: Finding, at: tuple[int, ...], descriptor: str) -> str:
    """One finding in a clause, with its interval and its tolerance."""
    unit = 100 if aspect == DISCRIMINATION else 1
    value, low, high = (unit * float(x[at]) for x in (found.estimate, found.low, found.high))
    floor, ceiling = unit * float(found.floor[at]), unit * float(found.ceiling[at])
    places = 0 if unit > 1 else 1 if high - low > 0.5 else 2
    if aspect == LEVEL and descriptor:
        way = "above" if value > 0 else "below"
        ends = (low, high) if value > 0 else (-high, -low)
        return (
            f"marks lie {number(abs(value), places)} points {way} the others' on {descriptor} "
            f"({interval(*ends, places=places)}; tolerance {number(ceiling, 2)})"
        )
    return _SENTENCE[aspect].format(
        n=number(value, places),
        size=number(abs(value), places),
        on=f" on {descriptor}" if descriptor else " over all descriptors",
        between=interval(low, high, places),
        floor=number(floor, 0 if unit > 1 else 2),
        ceiling=number(ceiling, 2),
    )


def taster_verdict(a: Assessed, i: int) -> Verdict:
    """The verdict on one taster."""
    call = a.calls.overall[i]
    write = {APART: _apart, WITH: _with_panel, EACH_OTHER: _with_panel, CANNOT: _cannot_tell}[call]
    sentence, step = write(a, i)
    act = {APART: Act.DECIDE, CANNOT: Act.TASTE_AGAIN}.get(call, Act.KNOW)
    return Verdict("Can this taster be relied on?", str(a.tasters[i]), call, sentence, _numbers(a, i), step, act)


def _numbers(a: Assessed, i: int) -> dict[str, float]:
    aspect, d, _ = worst_of(a, i)
    if not aspect:
        aspect, d = LEVEL, -1
    found, at = _at(a, aspect, i, d)
    return {name: float(getattr(found, name)[at]) for name in ("estimate", "low", "high", "p", "floor", "ceiling")}


def _at(a: Assessed, aspect: str, i: int, d: int) -> tuple[Finding, tuple[int, ...]]:
    return (over_all(a, aspect), (i,)) if d < 0 else (a.names.judgement.cells[aspect], (i, d))


def _said(a: Assessed, aspect: str, i: int, d: int) -> str:
    found, at = _at(a, aspect, i, d)
    said = finding_said(aspect, found, at, "" if d < 0 else str(a.descriptors[d]))
    return said.replace("the others'", f"{a.tasters[1 - i]}'s") if len(a.tasters) == 2 else said


def _apart(a: Assessed, i: int) -> tuple[str, str]:
    aspect, d, worst = worst_of(a, i)
    who = a.tasters[i]
    others = [str(t) for k, t in enumerate(a.tasters) if k != i]
    three = a.size == 3 and len(others) == 2
    rest = f" from {listing(others)}, who agree," if three else ""
    sentence = f"{who}: apart{rest} on {worst}: {_said(a, aspect, i, d)}."
    more = [
        f"{SAID[k]} of {listing(a.descriptors[a.names.cells[k][i]])}"
        if a.names.cells[k][i].any() and not a.names.tasters[k][i]
        else f"{SAID[k]} over all descriptors"
        for k in a.names.judgement.judged
        if k != aspect and (a.names.cells[k][i].any() or a.names.tasters[k][i])
    ]
    sentence += f" Also apart: {listing(more)}." if more else ""
    step = LESSON[aspect]
    reversed_ = d >= 0 and a.names.judgement.cells[SCALE_USE].high[i, d] < 0
    if reversed_:
        step = f"{a.descriptors[d]} is scored the wrong way round: check the anchor words first."
    return sentence, f"{step} {CONTROL_DECIDES}" if three else step


def _with_panel(a: Assessed, i: int) -> tuple[str, str]:
    who, call = a.tasters[i], a.calls.overall[i]
    judged = [SAID[k] for k in a.names.judgement.judged]
    missing = not_tested(a)
    day = " in this session" if len(a.bench.pool.sessions) == 1 else ""
    if call == EACH_OTHER:
        rest = [str(t) for k, t in enumerate(a.tasters) if k != i and a.calls.overall[k] == EACH_OTHER]
        pair = pair_levels(a.bench, _indices(a, [who, *rest]), tail=a.bench.tail)[1]
        said = finding_said(LEVEL, pair, (0,), "").replace("the others'", f"{listing(rest)}'s")
        return f"{who}: with {listing(rest)}: {said}.", "With two tasters nobody can say which of them is off."
    text = (
        f"{who}: with the panel{day} on {listing(judged)}{'; ' + missing + ' not tested' if missing else ''}. Shown on "
        f"{shown_with_panel(a)[i]} of {count(len(a.descriptors), 'descriptor')} taken alone; {_said(a, LEVEL, i, -1)}."
    )
    return text, ""


def _indices(a: Assessed, labels: list[str]) -> np.ndarray:
    return np.flatnonzero(np.isin(a.tasters, labels))


def _cannot_tell(a: Assessed, i: int) -> tuple[str, str]:
    who = a.tasters[i]
    aspect, d, worst = worst_of(a, i)
    if not aspect:
        return f"{who}: cannot tell.", _why_not(a, i)
    split = [s for s in a.names.splits if s.aspect == aspect and s.descriptor == d]
    sentence = f"{who}: cannot tell; undecided is {worst}: {_said(a, aspect, i, d)}."
    if split:
        return sentence, split_said(a, split[0])
    found, _ = _at(a, aspect, i, d)
    wide = found if d >= 0 else found.as_column()
    reason = reason_of(a, aspect, wide, CANNOT, i, max(d, 0)) or "taste more lots together"
    return sentence, f"{reason[0].upper()}{reason[1:]}."


def _why_not(a: Assessed, i: int) -> str:
    """Why nothing at all stands in the way and yet nothing is shown."""
    reasons = {reason_of(a, k, a.names.judgement.cells[k], CANNOT, i, 0) for k in a.names.judgement.judged}
    reason = sorted(reasons)[0] if reasons else f"at least 4 lots scored by {count(3, 'taster')} together are needed"
    return f"{reason[0].upper()}{reason[1:]}."


def split_said(a: Assessed, split: Split) -> str:
    """A panel that falls apart on one aspect, without a name."""
    where = f"of {a.descriptors[split.descriptor]}" if split.descriptor >= 0 else "over all descriptors"
    sides = [listing(a.tasters[list(side)]) for side in (split.above, split.below)]
    if len(a.tasters) == 2:
        return f"{a.tasters[0]} and {a.tasters[1]} differ on {SAID[split.aspect]} {where}: cannot tell which is off."
    if len(a.tasters) == 3:
        return f"These three do not agree on {SAID[split.aspect]} {where}: cannot tell which; a hidden control can say."
    against = f": {sides[0]} against {sides[1]}" if all(sides) and split.aspect == LEVEL else ""
    return f"The panel is split on {SAID[split.aspect]} {where}{against}; a hidden control can say who is right."


def split_verdict(a: Assessed, split: Split) -> Verdict:
    """The verdict on a split panel."""
    return Verdict(
        "Does the panel hold together?", "", CANNOT, split_said(a, split),
        next_step="Serve a hidden control, and agree on the word before the next sitting.", act=Act.TASTE_AGAIN,
    )  # fmt: skip


def alone_verdict(taster: str, sd: float, low: float, high: float) -> Verdict:
    """All that can be said of a taster who sat alone."""
    if np.isnan(sd):
        return Verdict(
            "Can this taster be relied on?", taster, CANNOT, f"{taster}: cannot tell; one taster, each lot once.",
            next_step="Serve some lots twice, hidden, and taste with two others.", act=Act.TASTE_AGAIN,
        )  # fmt: skip
    gap, least, most = (PAIR_FACTOR * x for x in (sd, low, high))
    sentence = (
        f"{taster}: alone, so only the own repeats speak: two servings of one lot agree within {number(gap, 1)} "
        f"points, 19 times in 20 ({interval(least, most, 1)})."
    )
    numbers = {"estimate": gap, "low": least, "high": most}
    step = "Level, order and scale use need at least two others on the same lots."
    return Verdict("Can this taster be relied on?", taster, CANNOT, sentence, numbers, step, Act.TASTE_AGAIN)
