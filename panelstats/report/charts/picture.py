"""The room's picture: a panel per descriptor, the one in which the lots differ most first."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.compare.fit import LotComparison
from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.report.charts.dots import LABELS_SHOWN, Dot, Drawing, dot_panel
from panelstats.report.charts.marks import CANNOT_TELL, Mark, mark
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, STAGE
from panelstats.words import count, decimals, interval, listing, number, percent

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.result import Verdict
    from panelstats.review import Review

_NAMED = 3  # lots named at each end in the words of a panel
_ROOM = 1.06  # the scale reaches a little beyond the widest interval


@dataclass(frozen=True)
class Panel:
    """One descriptor of the picture.

    Attributes
    ----------
    descriptor, stage : str
        What was scored, and where ("" where not said).
    answers : tuple of (Mark, str)
        Whether the lots differ: each call, in words, with its mark.
    share : str
        Share of the variance that lies between lots, in words; "" where not known.
    words : str
        What the drawing shows.
    drawing : Drawing or None
        None where there is nothing to compare.
    """

    descriptor: str
    stage: str
    answers: tuple[tuple[Mark, str], ...]
    share: str
    words: str
    drawing: Drawing | None


def picture(review: Review) -> list[Panel]:
    """All panels, in order of the share of variance between lots."""
    lots, scores = review.find(LotComparison), review.scores
    if lots is None or scores is None:
        return []
    means, shares = lots.means, _shares(lots.components)
    register = scores.descriptors.drop_duplicates(DESCRIPTOR).set_index(DESCRIPTOR)
    register.index = register.index.astype(str)
    names = list(dict.fromkeys(means[DESCRIPTOR].astype(str)))
    names.sort(key=lambda name: -shares.get(name, -1.0))
    faults, again = _faulty(review), _again(review)
    dots = {name: _dots(means[means[DESCRIPTOR].astype(str) == name], faults, again) for name in names}
    reach = _reaches(dots, register)
    panels = []
    for at, name in enumerate(names):
        about = register.loc[name].to_dict() if name in register.index else {}
        verdicts = [verdict for verdict in lots.verdicts if verdict.subject == name]
        answers = _answers(verdicts, len({dot.group for dot in dots[name]}))
        words, stage = _in_words(dots[name]), about.get(STAGE)
        drawing = _drawing(name, dots[name], reach[name], about.get("tolerance"), f"p{at}") if reach[name] > 0 else None
        share = percent(shares.get(name, np.nan)) if np.isfinite(shares.get(name, np.nan)) else ""
        panels.append(Panel(name, stage if isinstance(stage, str) else "", answers, share, words, drawing))
    return panels


def _drawing(name: str, dots: list[Dot], reach: float, tolerance: object, key: str) -> Drawing | None:
    if len(dots) < 2:
        return None
    return dot_panel(
        dots,
        reach=reach,
        band=float(tolerance) if isinstance(tolerance, int | float) else np.nan,
        title=f"Lots on {name}, each less the mean of its class",
        words=_in_words(dots),
        key=key,
    )


def key(review: Review) -> list[tuple[str, str]]:
    """The shapes of the picture and what they mean; only those that occur."""
    lots, scores = review.find(LotComparison), review.scores
    if lots is None or scores is None:
        return []
    sure = percent(lots.level)
    lines = [("dot", f"a lot: its mean less the mean of its class, with the {sure} interval")]
    if scores.descriptors.get("tolerance", pd.Series(dtype=float)).notna().any():
        lines.append(("band", "the mean of the class; within the pale band a difference is too small to matter"))
    faults = _faulty(review)
    if faults:
        lines.append(("fault", "a fault was noticed in this lot; such lots stand on top"))
    if _again(review) - faults:
        lines.append(("again", "look at this lot again"))
    lines.append(("", "The share of the variance that lies between lots is printed beside each name."))
    if lots.means[LOT].nunique() > LABELS_SHOWN:
        lines.append(("", "Of so many lots only the ends of the order, and those asked for, are named."))
    return lines


def _answers(verdicts: list[Verdict], classes: int) -> tuple[tuple[Mark, str], ...]:
    """Each call on a descriptor, and in how many classes; what no verdict of its own settles cannot be told."""
    shapes = {verdict.call: mark(verdict) for verdict in verdicts}
    counted = Counter(verdict.call for verdict in verdicts)
    open_ones = classes - sum(counted.values())
    if open_ones > 0:
        shapes.setdefault(CANNOT_TELL, Mark.OPEN)
        counted[CANNOT_TELL] += open_ones
    return tuple(
        (shapes[call], call if n == classes else f"{call} in {n} of {count(classes, 'class', 'classes')}")
        for call, n in counted.items()
    )


def _shares(components: pd.DataFrame) -> dict[str, float]:
    """Share of the variance between lots; of several classes the largest."""
    between = components[components["source"] == "lot"]
    largest = between.groupby(between[DESCRIPTOR].astype(str))["share"].max()
    return {str(name): float(share) for name, share in largest.items()}


def _faulty(review: Review) -> set[str]:
    """Lots in which a fault was noticed."""
    found = review.find(FaultsNoticed)
    return set() if found is None else set(found.table[LOT].astype(str))


def _again(review: Review) -> set[str]:
    """Lots that some verdict, or a list of what to look at again, asks to taste once more."""
    lots = set() if review.scores is None else set(review.scores.lots[LOT].astype(str))
    asked = {verdict.subject for verdict in review.verdicts if verdict.next_step and verdict.subject in lots}
    tables = [getattr(result, "look_again", None) for _, result in review.results]
    return asked.union(*(set(table[LOT].astype(str)) for table in tables if table is not None))


def _dots(means: pd.DataFrame, faults: set[str], again: set[str]) -> list[Dot]:
    means = means[means["deviation"].notna()]
    lots = means[LOT].astype(str)
    groups = means[CLASS].fillna("").astype(str) if CLASS in means else [""] * len(means)
    value, low, high = (means[name].to_numpy(float) for name in ("deviation", "deviation_low", "deviation_high"))
    rows = zip(lots, groups, value, low, high, strict=True)
    return [Dot(*row, fault=row[0] in faults, again=row[0] in again - faults) for row in rows]


def _reaches(dots: dict[str, list[Dot]], register: pd.DataFrame) -> dict[str, float]:
    """How far each scale must reach; descriptors scored on one scale share it, so that panels compare."""
    own = {name: _ROOM * max((_furthest(dot) for dot in some), default=0.0) for name, some in dots.items()}
    scales: dict[object, list[str]] = {}
    for name in dots:
        ends = tuple(register.loc[name, ["low", "high"]]) if name in register.index and "low" in register else ()
        known = len(ends) == 2 and np.isfinite(np.array(ends, float)).all()
        scales.setdefault(ends if known else name, []).append(name)
    return {name: max(own[each] for each in names) for names in scales.values() for name in names}


def _furthest(dot: Dot) -> float:
    return max((abs(x) for x in (dot.value, dot.low, dot.high) if np.isfinite(x)), default=0.0)


def _in_words(dots: list[Dot]) -> str:
    """The same rows in words: the ends of the order, and what is marked."""
    if not dots:
        return "No lot has a mean on it."
    if len(dots) == 1:
        return f"Only lot {dots[0].name} was scored on it: there is nothing to compare it with."
    ordered = sorted(dots, key=lambda dot: -dot.value)
    parts = [f"{count(len(dots), 'lot')}, in points from the mean of the class."]
    if len(dots) <= 2 * _NAMED:
        parts.append(f"From the highest: {_told(ordered)}.")
    else:
        parts.append(f"Highest: {_told(ordered[:_NAMED])}. Lowest: {_told(ordered[: -_NAMED - 1 : -1])}.")
    if faulty := [dot.name for dot in dots if dot.fault]:
        parts.append(f"A fault was noticed in {listing(faulty)}.")
    if again := [dot.name for dot in dots if dot.again]:
        parts.append(f"To be looked at again: {listing(again)}.")
    return " ".join(parts)


def _told(dots: Iterable[Dot]) -> str:
    return "; ".join(map(_one, dots))


def _one(dot: Dot) -> str:
    places = decimals((dot.high - dot.low) / 4)
    value = number(dot.value, places, sign=True)
    if not np.isfinite(dot.high - dot.low):
        return f"{dot.name} {value} (interval not known)"
    return f"{dot.name} {value} ({interval(dot.low, dot.high, places, sign=True)})"
