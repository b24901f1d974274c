"""The tasters of a first screen: a row each, one plain phrase, those to act on first."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

from panelstats.panel.tasters.crossedwords import FOLLOWS, IMPRESSION, SWAPPED
from panelstats.panel.tasters.finding import (
    AGREEMENT,
    DISCRIMINATION,
    LEVEL,
    NOTICED,
    REPEATABILITY,
    SCALE_USE,
    SCATTER,
)
from panelstats.panel.tasters.fit import TasterAssessment
from panelstats.panel.tasters.naming import APART, CANNOT, WITH
from panelstats.panel.tasters.ordershown import SHOWN
from panelstats.report.charts.shapes import mark
from panelstats.report.pages.steps import at_the_last
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.speech import Phrase, said
from panelstats.words import listing, number

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.report.charts.shapes import Mark
    from panelstats.result import Verdict
    from panelstats.review import Review

_TOGETHER = 2  # tasters whose marks can follow one order
_NAMED = 2  # descriptors named in a phrase; more are counted

# One finding as a phrase after the taster's name; `where` is the descriptor, or how many.
PHRASES = {
    (LEVEL, "above"): Phrase("marks about {size} high on {where} ({ceiling} allowed)"),
    (LEVEL, "below"): Phrase("marks about {size} low on {where} ({ceiling} allowed)"),
    (LEVEL, ""): Phrase("marks about {size} off on {where} ({ceiling} allowed)"),
    (SCALE_USE, "below"): Phrase("spreads the marks too little on {where}: where others put 1 point, {estimate}"),
    (SCALE_USE, "above"): Phrase("spreads the marks too far on {where}: where others put 1 point, {estimate}"),
    (REPEATABILITY, "above"): Phrase(
        "two servings of one lot lie {estimate} times as far apart as the others' on {where}"
    ),
    (DISCRIMINATION, "below"): Phrase("hardly tells the lots apart on {where}"),
    (AGREEMENT, "below"): Phrase("puts the lots in another order than the others on {where}"),
    (NOTICED, "above"): Phrase("notices something more often than the others on {where}"),
    (NOTICED, "below"): Phrase("notices something less often than the others on {where}"),
    (SCATTER, "above"): Phrase("strays {estimate} times as far from the others' line as they do on {where}"),
}
CROSSED = {
    SWAPPED: Phrase("marks {word} where the others mark {other}, and the reverse: swapped columns or words?"),
    FOLLOWS: Phrase("marks {word} where the others mark {other}"),
    IMPRESSION: Phrase("puts one impression under several words: marks {word} and more where the others mark {other}"),
}
NO_ORDER = Phrase("cannot tell: the panel's marks follow no order of the lots")
TOO_FEW = Phrase("cannot tell: too few lots of a class together")
ALONE = Phrase("alone: two servings of one lot agree within {gap} points, 19 times in 20")
OTHERWISE = Phrase("apart on {aspect} of {where}")
EVERYWHERE, ON_MORE = Phrase("every word"), Phrase("{names} and {more} more")
SOUND = Phrase("; the order of lots is sound")


class Person(NamedTuple):
    """One taster: the phrase, its mark, and the next step ("" where nothing is to be done)."""

    name: str
    phrase: str
    mark: Mark
    step: str
    flagged: bool


def people(review: Review) -> list[Person]:
    """A row for every taster; those apart first, then those who cannot be told, each group in the order assessed."""
    found = review.find(TasterAssessment)
    if found is None:
        return []
    names = {str(name) for name in found.summary[TASTER]}
    told = [verdict for verdict in found.verdicts if verdict.subject in names]
    rows = [_person(found, verdict) for verdict in told]
    if any(verdict.call != CANNOT or row.flagged for verdict, row in zip(told, rows, strict=True)):
        return rows
    steps = at_the_last(verdict.next_step for verdict in told)  # nobody can be told: what would tell, once
    return [row._replace(step=step) for row, step in zip(rows, steps, strict=True)]


def _person(found: TasterAssessment, verdict: Verdict) -> Person:
    apart = verdict.call == APART
    mine = found.table[found.table[TASTER].astype(str) == verdict.subject]
    crossed = _crossed(found, verdict.subject)
    phrase = said(crossed or (_apart(mine) if apart else _not_apart(found, verdict)))
    flagged = apart or bool(crossed)
    return Person(verdict.subject, phrase, mark(verdict), verdict.next_step if flagged else "", flagged)


def _crossed(found: TasterAssessment, taster: str) -> str:
    """That a word of the taster goes with another word of the others; "" where none does."""
    table = found.crossed_words
    mine = table[table[TASTER].astype(str) == taster] if len(table) else table
    return "".join(CROSSED[row["kind"]].format(word=row[DESCRIPTOR], other=row["other"]) for _, row in mine.iterrows())


def _not_apart(found: TasterAssessment, verdict: Verdict) -> str:
    """The call; where the panel's marks follow no order of the lots, or could follow none, that none could be made."""
    gap = verdict.numbers.get("estimate", math.nan)
    if len(found.summary) == 1 and math.isfinite(gap):
        return ALONE.format(gap=number(gap, 1))
    p = found.summary.get("panel_order_p")
    if verdict.call != CANNOT or p is None or len(found.summary) < _TOGETHER:
        return verdict.call
    return TOO_FEW if p.isna().all() else NO_ORDER if (p >= SHOWN).all() else verdict.call


def _apart(mine: pd.DataFrame) -> str:
    """What a taster is apart on: over all descriptors, else on those named."""
    rows = mine[mine["call"] == APART]
    whole = rows[rows[DESCRIPTOR].astype(str) == ""]
    phrases = [_everywhere(row, rows[rows["aspect"] == row["aspect"]]) for _, row in whole.iterrows()]
    rest = rows[~rows["aspect"].isin(whole["aspect"])]
    phrases += [_somewhere(some) for _, some in rest.groupby("aspect", sort=False)]
    if set(rows["aspect"]) != {LEVEL}:
        return "; ".join(phrases)
    order = mine[(mine["aspect"] == AGREEMENT) & (mine[DESCRIPTOR].astype(str) == "")]
    sound = SOUND if len(order) and (order["call"] == WITH).all() else ""
    return "; ".join(phrases) + sound


def _everywhere(row: pd.Series, single: pd.DataFrame) -> str:
    """Over all descriptors; which way the level lies is known where every single one that is apart says so."""
    way = _way(row)
    if row["aspect"] == LEVEL:
        signs = set((single.loc[single[DESCRIPTOR].astype(str) != "", "estimate"] > 0).tolist())
        way = ("above" if signs.pop() else "below") if len(signs) == 1 else ""
    return _phrase(row, way, EVERYWHERE)


def _somewhere(rows: pd.DataFrame) -> str:
    names = list(rows[DESCRIPTOR].astype(str))
    more = len(names) - _NAMED
    where = ON_MORE.format(names=", ".join(names[:_NAMED]), more=more) if more > 0 else listing(names)
    ways = {_way(row) for _, row in rows.iterrows()}
    farthest = max((row for _, row in rows.iterrows()), key=_beyond)
    return _phrase(farthest, ways.pop() if len(ways) == 1 else "", where)


def _beyond(row: pd.Series) -> float:
    """How far an estimate lies beyond what is tolerated."""
    return float(max(row["estimate"] - row["ceiling"], row["floor"] - row["estimate"]))


def _way(row: pd.Series) -> str:
    return "above" if row["estimate"] > row["ceiling"] else "below" if row["estimate"] < row["floor"] else ""


def _phrase(row: pd.Series, way: str, where: str) -> str:
    template = PHRASES.get((row["aspect"], way), OTHERWISE)
    return template.format(
        aspect=said(row["aspect"].replace("_", " ")),
        size=number(abs(row["estimate"]), 1),
        estimate=number(row["estimate"], 1),
        ceiling=number(row["ceiling"], 1),
        where=where,
    )
