"""What the buyer's summary shows: lot by lot what it is, words before numbers, its strips, how far to trust them."""

from __future__ import annotations

import hashlib
from importlib.metadata import version
from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from panelstats.lots.buyer import words
from panelstats.lots.buyer.fit import LotProfiles
from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.lots.packs.fit import PackFit
from panelstats.lots.packs.weighed import LotDensities
from panelstats.lots.plaintables import by_name
from panelstats.report.charts.panels import panel_drawing
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.shapes import key
from panelstats.report.charts.svg import Drawing
from panelstats.report.charts.twin import in_words
from panelstats.report.pages.head import date, facts
from panelstats.report.pages.lotrows import origins, remarks_of
from panelstats.scores.cells import CLASS, LOT, SESSION
from panelstats.speech import Phrase, said
from panelstats.words import FROM_TO, count, number, percent, stated

if TYPE_CHECKING:
    from collections.abc import Hashable
    from typing import Any

    from panelstats.report.charts.scale import Scale
    from panelstats.result import Chart
    from panelstats.review import Review
    from panelstats.scores.table import Scores

# More lots than this stand as a catalogue, not one a page (ours).
MOST_PAGES = 12
# Facts of the register that say what a lot is, in this order.
_WHAT = ("kind", "grade", "elevation")
# Facts at the head: those of a buyer's concern; tasters are counted, not named.
_HEAD = ("Blind", "Pots", "Order")
_BREW = {
    "grams": "{} g",
    "millilitres": Phrase("{} ml"),
    "minutes": Phrase("{} minutes"),
    "vessel": "{}",
    "milk": Phrase("milk: {}"),
}
_LENGTH = 8


class Strip(NamedTuple):
    """One stage of a lot."""

    stage: str
    drawing: Drawing
    words: str


class Lot(NamedTuple):
    """One lot of the summary."""

    name: str
    what: str
    faults: list[str]
    said: str
    quote: str
    strips: list[Strip]
    lines: list[str]
    code: str


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    found, scores = review.find(LotProfiles), review.scores
    if found is None or scores is None:
        return {}
    charts = found.stage_charts()
    drawn = [chart for some in charts.values() for chart in some]
    scale = scale_of(drawn, most=5) if drawn else None
    about = _About(review, scores, found)
    return {
        "lots": [
            about.lot(row, _strips(charts[row[LOT]], scale, at)) for at, row in enumerate(found.lots.to_dict("records"))
        ],
        "one_a_page": len(found.lots) <= MOST_PAGES,
        "key": key(drawn) if drawn else [],
        "head": [fact for fact in facts(scores, review.session) if fact.name in _HEAD],
        "brew": _brew(scores, review.session),
        "method_lines": found.method,
        "lede": _lede(review, scores, found),
        "no_fault": words.NO_FAULT,
        "foot": words.FOOT,
    }


def _strips(charts: list[Chart], scale: Scale | None, at: int) -> list[Strip]:
    """The stages of one lot; `scale` is that of all lots, None where nothing is drawn."""
    if scale is None:
        return []
    told = [in_words(chart) for chart in charts]
    return [
        Strip(chart.title, panel_drawing(chart, scale, words=said, key=f"s{at}-{k}"), said)
        for k, (chart, said) in enumerate(zip(charts, told, strict=True))
    ]


class _About:
    """What is known of the lots beside their profiles; by lot, for a catalogue holds thousands."""

    def __init__(self, review: Review, scores: Scores, found: LotProfiles) -> None:
        faults, weighed = review.find(FaultsNoticed), review.find(LotDensities)
        self.packs = review.find(PackFit)
        self.faults = _by_lot(faults.table if faults else None)
        self.densities = _by_lot(self.packs.lots if self.packs else weighed.table if weighed else None)
        self.places, self.quotes = origins(scores), remarks_of(scores, review.session)
        self.register = by_name(scores.lots, LOT).to_dict("index")
        asked = [found.level, *([self.packs.grams, self.packs.millilitres] if self.packs else [])]
        self.signed = scores.digest, review.session, version("panelstats"), [f"{each:g}" for each in asked]

    def lot(self, row: dict, strips: list[Strip]) -> Lot:
        """One lot as the page shows it."""
        name = str(row[LOT])
        lines = [line for line in (row["trust"], row["not_tasted"], *self._density(name)) if line]
        quote, said = self.quotes.get(name, ""), str(row["said"])
        return Lot(name, self._what(name), self._faults(name), said, quote, strips, lines, self._code(name))

    def _what(self, name: str) -> str:
        row = self.register.get(name, {})
        told = [str(row[key]) for key in _WHAT if key in row and str(row[key]) not in ("", "nan")]
        place = self.places.get(name)
        told += [place.place] if place and place.place else []
        told += [Phrase("made {made}").format(made=place.made)] if place and place.made else []
        return ", ".join(dict.fromkeys(told)) or str(row.get(CLASS, "") or "")

    def _faults(self, name: str) -> list[str]:
        return [
            (words.FAULT_SAID if pd.isna(each["asked"]) else words.FAULT).format(
                fault=str(each["fault"]).capitalize(), noticed=int(each["noticed"]),
                asked=0 if pd.isna(each["asked"]) else int(each["asked"]))
            for each in self.faults.get(name, ())
        ]  # fmt: skip

    def _density(self, name: str) -> list[str]:
        out = []
        for each in self.densities.get(name, ()):
            line = words.DENSITY.format(
                density=number(each["density"], 3), state=f", {each['state']}" if each["state"] else "",
                n=count(int(each["readings"]), "weighing"),
            )  # fmt: skip
            if self.packs and pd.notna(each["over"]):
                low, high = (percent(each[f"over_{end}"]) for end in ("low", "high"))
                line += words.PACK.format(
                    grams=stated(self.packs.grams),
                    millilitres=stated(self.packs.millilitres),
                    share=percent(each["over"]),
                    interval=low if low == high else FROM_TO.format(low=low, high=high),
                )
            out.append(line)
        return out

    def _code(self, name: str) -> str:
        digest, session, program, asked = self.signed
        told = "\n".join([digest, session, name, program, *asked])
        return hashlib.sha256(told.encode()).hexdigest()[:_LENGTH]


def _by_lot(table: pd.DataFrame | None) -> dict[str, list[dict[Hashable, Any]]]:
    """The rows of a table by their lot."""
    found: dict[str, list[dict[Hashable, Any]]] = {}
    for row in [] if table is None else table.to_dict("records"):
        found.setdefault(str(row[LOT]), []).append(row)
    return found


def _lede(review: Review, scores: Scores, found: LotProfiles) -> str:
    """How many lots, by how many, when."""
    tasters = int(found.lots["tasters"].max()) if len(found.lots) else 0
    when = date(scores, review.session) or review.session
    return Phrase("{lots}, tasted by {persons}, {when}").format(
        lots=count(len(found.lots), "lot"), persons=count(tasters, "person", "people"), when=when
    )


def _brew(scores: Scores, session: str) -> str:
    row = scores.sessions[scores.sessions[SESSION].astype(str) == session]
    if not len(row):
        return ""
    values = {name: row[name].iloc[0] for name in _BREW if name in row}
    told = [_BREW[name].format(stated(value) if isinstance(value, float) else said(str(value)))
            for name, value in values.items() if pd.notna(value) and str(value) not in ("", "nan")]  # fmt: skip
    return ", ".join(told)
