"""The lots of a first screen: class by class, best first, with what marks each out and what tasters wrote of it."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from panelstats.lots.compare.fit import LotComparison
from panelstats.lots.compare.standing import STANDING, marked_out, standings
from panelstats.lots.plaintables import ASIDE
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, ROLE, SESSION
from panelstats.speech import Phrase
from panelstats.words import number

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable

    from panelstats.review import Review
    from panelstats.scores.table import Scores

BEST, WEAKEST = 3, 2
_STRONG, _AGAINST = 2, 1  # words that mark a lot out: with its standing, and against it
_COUNTS = 0.5  # what speaks against is told from this share of the largest deviation on
_ALIKE = Phrase("not set apart")
_QUOTED = 1  # remarks of tasters, the most frequent


class Origin(NamedTuple):
    """Where a lot comes from (and that it is a control or the standard), and the day on which it was made."""

    place: str = ""
    made: str = ""


class _Mark(NamedTuple):
    """A descriptor on which a lot stands apart from its class, by how much, and what that is worth."""

    descriptor: str
    deviation: float
    worth: float

    def __str__(self) -> str:
        return f"{self.descriptor} {number(self.deviation, 1, sign=True)}"


class LotRow(NamedTuple):
    """One lot: where it comes from, when it was made, what marks it out from its class, what was written of it."""

    lot: str
    origin: Origin
    marks: str
    said: str


class Class(NamedTuple):
    """The lots of one class: those that stand open, and those that unfold, each in order."""

    name: str
    best: list[LotRow]
    weakest: list[LotRow]
    rest: list[LotRow]
    ordered: bool

    @property
    def label(self) -> str:
        """The word before the lots that stand open."""
        return "" if not self.rest else "best" if self.ordered else "farthest"


def classes(review: Review, without: Collection[str]) -> list[Class]:
    """Every class; lots without a place, for they stand above all others, are left out."""
    comparison, scores = review.find(LotComparison), review.scores
    if comparison is None or scores is None:
        return []
    order, marks = standings(comparison, scores.descriptors), marked_out(comparison, scores.descriptors)
    places, said = origins(scores), remarks_of(scores, review.session)
    found = []
    for name, some in order[~order[LOT].isin(list(without))].groupby(CLASS, sort=False):
        mine = marks[marks[CLASS] == name]
        lots = _by_size(some, mine) if some[STANDING].isna().all() else some
        of_lot = _marks_of(mine)
        rows = [
            LotRow(lot, places.get(lot, Origin()), _told(of_lot.get(lot, []), standing), said.get(lot, ""))
            for lot, standing in zip(lots[LOT], lots[STANDING], strict=True)
        ]  # fmt: skip
        found.append(_split(str(name), rows, ordered=bool(lots[STANDING].notna().any())))
    return found


def _split(name: str, rows: list[LotRow], *, ordered: bool) -> Class:
    if len(rows) <= BEST + WEAKEST + 1:  # one row is not folded away alone
        return Class(name, rows, [], [], ordered)
    if not ordered:
        return Class(name, rows[: BEST + WEAKEST], [], rows[BEST + WEAKEST :], ordered)
    return Class(name, rows[:BEST], rows[-WEAKEST:], rows[BEST:-WEAKEST], ordered)


def _by_size(lots: pd.DataFrame, marks: pd.DataFrame) -> pd.DataFrame:
    """Where nothing is wanted more or less: the lots that lie farthest from their class first."""
    far = marks.groupby(LOT)["deviation"].apply(lambda values: values.abs().max())
    size = lots[LOT].map(far).fillna(0.0)
    return lots.loc[size.sort_values(ascending=False, kind="stable").index]


def _marks_of(marks: pd.DataFrame) -> dict[str, list[_Mark]]:
    """The marks of each lot, in the order of the table: plain values, since a sale has thousands of lots."""
    found: dict[str, list[_Mark]] = {}
    columns = (marks[LOT].astype(str), marks[DESCRIPTOR].astype(str), marks["deviation"], marks["worth"])
    for lot, *mark in zip(*(column.tolist() for column in columns), strict=True):
        found.setdefault(lot, []).append(_Mark(*mark))
    return found


def _told(marks: list[_Mark], standing: float) -> str:
    """What marks a lot out, with its deviations: what speaks for where it stands, and the most that speaks against."""
    sides = [mark.worth * (1 if standing >= 0 else -1) for mark in marks]
    sides_of = list(zip(sides, marks, strict=True))
    strong = [mark for side, mark in sides_of if side > 0]
    strong += [mark for side, mark in sides_of if side == 0]  # where nothing is wanted, it may still tell
    counts = _COUNTS * max((abs(mark.deviation) for mark in marks if mark.deviation == mark.deviation), default=0.0)
    weak = [mark for side, mark in sides_of if side < 0 and abs(mark.deviation) >= counts]
    parts = [", ".join(map(str, some)) for some in (strong[:_STRONG], weak[:_AGAINST])]
    return "; ".join(filter(None, parts)) or _ALIKE


def origins(scores: Scores) -> dict[str, Origin]:
    """Where each lot comes from, by lot; its grade where the name of its class does not tell it."""
    register = scores.lots
    garden, grade, group, role, made = (
        register[name].fillna("").astype(str) if name in register else [""] * len(register)
        for name in ("garden", "grade", CLASS, ROLE, "made")
    )
    told = (
        Origin(", ".join(filter(None, (where, what * (what not in of), part * (part in ASIDE)))),
               day.removesuffix(" 00:00:00"))
        for where, what, of, part, day in zip(garden, grade, group, role, made, strict=True)
    )  # fmt: skip
    return dict(zip(register[LOT].astype(str), told, strict=True))


def remarks_of(scores: Scores, session: str) -> dict[str, str]:
    """What tasters wrote of each lot, the most frequent first."""
    table = scores.remarks
    table = table[table[SESSION].astype(str) == session]
    remarks: dict[str, list[str]] = {}
    for lot, remark in zip(table[LOT].astype(str), table["remark"].astype(str), strict=True):
        remarks.setdefault(lot, []).append(remark.strip())
    return {lot: ", ".join(_frequent(some)) for lot, some in remarks.items()}


def _frequent(remarks: Iterable[str]) -> Iterable[str]:
    for text, times in Counter(filter(None, remarks)).most_common(_QUOTED):
        yield f"{text} ({times})" if times > 1 else text
