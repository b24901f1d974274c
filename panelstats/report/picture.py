"""The room's picture: a panel per descriptor, the one in which the lots differ most first."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.report.dots import LABELS_SHOWN, Dot, dot_panel
from panelstats.report.marks import Mark, mark
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, STAGE
from panelstats.words import count, decimals, interval, listing, number, percent

if TYPE_CHECKING:
    from collections.abc import Iterable

    from markupsafe import Markup

    from panelstats.review import Review

_NAMED = 3  # lots named at each end in the words of a panel
_FIRST_SCREEN = 25  # lots, over all panels before one, that leave it room on the first screen
_ROOM = 1.06  # the scale reaches a little beyond the widest interval


@dataclass(frozen=True)
class Panel:
    """One descriptor of the picture.

    Attributes
    ----------
    descriptor, stage : str
        What was scored, and where ("" where not said).
    answers : tuple of (Mark, str)
        Whether the lots differ, a class each, in words.
    share : str
        Share of the variance that lies between lots, in words; "" where not known.
    words : str
        What the drawing shows.
    drawing : Markup or None
        None where there is nothing to compare.
    leads : bool
        Whether it stands on the first screen, beside the verdicts.
    """

    descriptor: str
    stage: str
    answers: tuple[tuple[Mark, str], ...]
    share: str
    words: str
    drawing: Markup | None
    leads: bool


def picture(review: Review) -> list[Panel]:
    """All panels, in order of the share of variance between lots."""
    means, shares = review.lots.means, _shares(review.lots.components)
    register = review.scores.descriptors.drop_duplicates(DESCRIPTOR).set_index(DESCRIPTOR)
    register.index = register.index.astype(str)
    names = list(dict.fromkeys(means[DESCRIPTOR].astype(str)))
    names.sort(key=lambda name: -shares.get(name, -1.0))
    faults, again = set(review.faults.table[LOT].astype(str)), _again(review)
    dots = {name: _dots(means[means[DESCRIPTOR].astype(str) == name], faults, again) for name in names}
    reach = _reaches(dots, register)
    return [_panel(review, name, dots[name], reach[name], shares, register, at) for at, name in enumerate(names)]


def key(review: Review) -> list[tuple[str, str]]:
    """The shapes of the picture and what they mean; only those that occur."""
    lines = [("dot", "a lot: its mean less the mean of its class, and where that lies 19 times in 20")]
    if review.scores.descriptors.get("tolerance", pd.Series(dtype=float)).notna().any():
        lines.append(("band", "the mean of its class; in the pale band a difference is too small to matter"))
    faults = set(review.faults.table[LOT].astype(str))
    if faults:
        lines.append(("fault", "a fault was noticed in this lot; such lots stand on top"))
    if _again(review) - faults:
        lines.append(("again", "look at this lot again"))
    if review.lots.means[LOT].nunique() > LABELS_SHOWN:
        lines.append(("", "of so many lots only the ends of the order, and those asked for, are named"))
    return lines


def _panel(
    review: Review,
    name: str,
    dots: list[Dot],
    reach: float,
    shares: dict[str, float],
    register: pd.DataFrame,
    at: int,
) -> Panel:
    about = register.loc[name] if name in register.index else pd.Series(dtype=object)
    verdicts = [verdict for verdict in review.lots.verdicts if verdict.subject == name]
    least = [verdict.numbers["least_difference"] for verdict in verdicts if "least_difference" in verdict.numbers]
    band = float(about.get("tolerance", np.nan))  # type: ignore[arg-type]
    words = _in_words(dots)
    drawing = None
    if len(dots) > 1 and reach > 0:
        drawing = dot_panel(
            dots,
            reach=reach,
            band=band,
            least=least[0] if len(least) == 1 else np.nan,
            title=f"Lots on {name}, each less the mean of its class",
            words=words,
            key=f"p{at}",
        )
    stage = about.get(STAGE)
    share = percent(shares[name]) if name in shares and np.isfinite(shares[name]) else ""
    answers = tuple((mark(verdict), verdict.call) for verdict in verdicts)
    return Panel(
        name,
        stage if isinstance(stage, str) else "",
        answers,
        share,
        words,
        drawing,
        leads=at * len(dots) < _FIRST_SCREEN,
    )


def _shares(components: pd.DataFrame) -> dict[str, float]:
    """Share of the variance between lots; of several classes the largest."""
    between = components[components["source"] == "lot"]
    largest = between.groupby(between[DESCRIPTOR].astype(str))["share"].max()
    return {str(name): float(share) for name, share in largest.items()}


def _again(review: Review) -> set[str]:
    """Lots that some verdict, or a list of what to look at again, asks to taste once more."""
    lots = set(review.scores.lots[LOT].astype(str))
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
