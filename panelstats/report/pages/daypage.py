"""What the page of a day of many lots shows of its own: the short list, what to taste again, and their picture."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.lots.shortlist.fit import Shortlist
from panelstats.lots.worth import OVERALL
from panelstats.report.charts import shapes
from panelstats.report.charts.order import shown_rows
from panelstats.report.charts.panels import panel_drawing
from panelstats.report.charts.picture import Panel, faulty
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.twin import in_words
from panelstats.report.pages import firstscreen
from panelstats.report.pages.ledger import ledger
from panelstats.report.pages.lotrows import Origin, origins, remarks_of
from panelstats.report.pages.people import people
from panelstats.report.pages.steps import stepless, steps
from panelstats.result import Mark
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT
from panelstats.words import count, listing, number, percent, span

if TYPE_CHECKING:
    from collections.abc import Collection

    import pandas as pd

    from panelstats.result import Chart
    from panelstats.result import Row as Line
    from panelstats.review import Review

_OPEN = 10  # lots of a list that stand open; the rest unfold
_MARKS = 2  # words that mark a lot out
_DRAWN = 36  # rows of the picture: the list's end and those to taste again
_CLASSES = 6  # classes with a list of their own on the first screen
_OUT_OF = "{right} of the {take} are expected to belong here; {out} of {lots} are out."
_NO_LIST = "No list: the lots spread no more than one look explains. This is an order for tasting again, no merit."
_NOT_KNOWN = "No list: {reason}. This is the order of the marks, no merit."
_RANGE = "{lots}: {what} {low} to {high}, half of them {middle}"


class Row(NamedTuple):
    """One lot of a list."""

    rank: int
    lot: str
    origin: Origin
    chance: str
    marks: str
    said: str


class ShortList(NamedTuple):
    """The list of a class on a descriptor, or the order of its lots where there is none."""

    heading: str
    listed: bool
    rows: list[Row]
    rest: list[Row]
    sentence: str
    again: str
    range: str


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    found, panels = review.find(Shortlist), []
    lists = [] if found is None else _lists(found, review)
    if found is not None and found.table["merit"].notna().any():
        panels = [_panel(found, review)]
    closing = (*_trust(review), firstscreen.read(review))
    return {
        "ledger": ledger(stepless(review.verdicts)),
        "steps": steps(review.verdicts),
        "alarms": firstscreen.alarms(review),
        "gardens_known": any(row.origin.place for one in lists for row in (*one.rows, *one.rest)),
        "days_known": any(row.origin.made for one in lists for row in (*one.rows, *one.rest)),
        "remarks_known": any(row.said for one in lists for row in (*one.rows, *one.rest)),
        "lists": _said_once(lists[:_CLASSES]),
        "more_lists": lists[_CLASSES:],
        "marks_known": any(row.marks for one in lists for row in (*one.rows, *one.rest)),
        "people": people(review),
        "closing": [sentence for sentence in closing if sentence],
        "panels": [panel for panel, _ in panels],
        "key": shapes.key([chart for _, chart in panels]) if panels else [],
        "in_words": [(panel.descriptor, panel.words) for panel, _ in panels],
    }


def to_taste_again(found: Shortlist, lot_class: str, descriptor: str) -> list[str]:
    """The lots whose second look is expected to change a list most: as many as the list has places."""
    mine = found.look_again
    mine = mine[(mine[CLASS] == lot_class) & (mine[DESCRIPTOR] == descriptor) & (mine["gain"] > 0)]
    takes = found.classes[(found.classes[CLASS] == lot_class) & (found.classes[DESCRIPTOR] == descriptor)]["take"]
    return [str(lot) for lot in mine[LOT].head(int(takes.iloc[0]))]


def leads(found: Shortlist) -> list[str]:
    """The descriptors that have a list on the first screen: overall alone where the room said what it wants."""
    names = list(dict.fromkeys(found.table[DESCRIPTOR].astype(str)))
    return [OVERALL] if OVERALL in names else names


def _lists(found: Shortlist, review: Review) -> list[ShortList]:
    assert review.scores is not None  # noqa: S101 - a short list is made from scores
    places, said = origins(review.scores), remarks_of(review.scores, review.session)
    without = firstscreen.suspect(review)
    lead, classes = leads(found), list(dict.fromkeys(found.table[CLASS].astype(str)))
    out = []
    for name in classes:
        mine = found.table[found.table[CLASS] == name]
        marked = _marked(mine)
        for descriptor in lead:
            table = mine[(mine[DESCRIPTOR] == descriptor) & ~mine[LOT].isin(list(without))]
            chosen = table[table["listed"]] if table["listed"].any() else table.head(_OPEN)
            rows = [
                Row(at + 1, str(lot), places.get(str(lot), Origin()), percent(chance) if np.isfinite(chance) else "",
                    marked.get(str(lot), ""), said.get(str(lot), ""))
                for at, (lot, chance) in enumerate(zip(chosen[LOT], chosen["chance_best"], strict=True))
            ]  # fmt: skip
            heading = ", ".join(
                filter(None, (name if len(classes) > 1 else "", "" if descriptor == OVERALL else descriptor))
            )
            listed = bool(table["listed"].any())
            again = to_taste_again(found, name, descriptor) if listed else []
            out.append(
                ShortList(heading, listed, rows[:_OPEN], rows[_OPEN:], _sentence(found, table, name, descriptor),
                          listing(sorted(again)), _range(table))
            )  # fmt: skip
    return out


def _said_once(lists: list[ShortList]) -> list[ShortList]:
    """The lists, the reason why there is none said of the first that it holds for."""
    said = [one.sentence for one in lists]
    return [
        one if one.listed or one.sentence not in said[:at] else one._replace(sentence="")
        for at, one in enumerate(lists)
    ]


def _sentence(found: Shortlist, table: pd.DataFrame, name: str, descriptor: str) -> str:
    """How much of the list is right, or why there is none."""
    line = found.classes[(found.classes[CLASS] == name) & (found.classes[DESCRIPTOR] == descriptor)].iloc[0]
    if not line["passed"] or not table["listed"].any():
        reason = str(table["reason"].iloc[0]) if len(table) else ""
        return _NO_LIST if np.isfinite(line["p"]) and line["p"] > 1 - found.level else _NOT_KNOWN.format(reason=reason)
    every = found.table[(found.table[CLASS] == name) & (found.table[DESCRIPTOR] == descriptor)]
    right, out = float(every.loc[every["listed"], "chance_best"].sum()), int((every["call"] == "out").sum())
    return _OUT_OF.format(right=round(right), take=int(line["take"]), out=out, lots=int(line["lots"]))


def _range(table: pd.DataFrame) -> str:
    """Where the marks of a class lie."""
    if not len(table):
        return ""
    overall = bool((table[DESCRIPTOR] == OVERALL).any())
    if overall and table["merit"].isna().all():
        return count(len(table), "lot")  # a sum of words has no scale of its own
    values = table["merit"] if overall else table["score"]
    low, high = (number(float(end), 1, sign=overall) for end in (values.min(), values.max()))
    middle = span(values.quantile([0.25, 0.75]), 1)
    return _RANGE.format(
        lots=count(len(table), "lot"), what="merit" if overall else "marks", low=low, high=high, middle=middle
    )


def _marked(mine: pd.DataFrame) -> dict[str, str]:
    """What marks each lot out: the words on which its merit is shown to lie beside its class, the largest first."""
    words = mine[(mine[DESCRIPTOR] != OVERALL) & mine["merit"].notna() & ((mine["low"] > 0) | (mine["high"] < 0))]
    words = words.assign(size=words["merit"].abs()).sort_values("size", ascending=False, kind="stable")
    told: dict[str, list[str]] = {}
    for lot, name, merit in zip(words[LOT].astype(str), words[DESCRIPTOR], words["merit"], strict=True):
        told.setdefault(lot, []).append(f"{name} {number(float(merit), 1, sign=True)}")
    return {lot: ", ".join(some[:_MARKS]) for lot, some in told.items()}


def _trust(review: Review) -> list[str]:
    found = review.find(Shortlist)
    told = [] if found is None else [v.sentence for v in found.verdicts if v.call in ("known", "moved", "jumped")]
    return told or [firstscreen.trust(review)]


def _panel(found: Shortlist, review: Review) -> tuple[Panel, Chart]:
    """The list's lots and those to taste again, ringed; every faulty lot on top."""
    passed = found.classes[found.classes["passed"]]
    descriptor = next(name for name in [*leads(found), *passed[DESCRIPTOR]] if name in set(passed[DESCRIPTOR]))
    tainted = faulty(review)
    classes = list(dict.fromkeys(found.table[CLASS].astype(str)))
    ringed = {lot for name in classes for lot in to_taste_again(found, name, descriptor)}
    table = found.table[(found.table[DESCRIPTOR] == descriptor) & found.table["merit"].notna()]
    shown = table[table["listed"] | table[LOT].isin(list(ringed | tainted))]
    whole = replace(found, table=shown.assign(call="", listed=True))
    chart = whole.chart(descriptor)
    rows = tuple(replace(row, mark=_mark(row.label, tainted, ringed)) for row in chart.rows)
    rows = tuple(sorted(rows, key=lambda row: (row.group, -row.value)))
    chart = replace(chart, rows=_fewer(rows))
    drawing = panel_drawing(chart, scale_of([chart]), words=in_words(chart, "lot"), key="day")
    title = "Over all that is wanted" if descriptor == OVERALL else descriptor
    return Panel(title, "the list, and the lots to taste again", (), "", in_words(chart, "lot"), drawing), chart


def _mark(lot: str, tainted: Collection[str], ringed: Collection[str]) -> Mark | None:
    return Mark.FAULT if lot in tainted else Mark.AGAIN if lot in ringed else None


def _fewer(rows: tuple[Line, ...]) -> tuple[Line, ...]:
    """All of them where they fit; else the ends and those asked for."""
    return rows if len(rows) <= _DRAWN else shown_rows(rows)
