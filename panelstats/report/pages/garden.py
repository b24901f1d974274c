"""What the letter to a garden shows of its own: its lots by date over the band of their class, and what was written."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, NamedTuple

from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.lots.garden.fit import GardenLetter
from panelstats.lots.garden.ownlots import DATE, WEEK
from panelstats.report.charts.dated import Dated, dated_drawing
from panelstats.report.charts.scale import scale_of
from panelstats.report.pages.head import lede
from panelstats.report.pages.ledger import ledger
from panelstats.report.pages.steps import stepless, steps
from panelstats.result import Act, Chart, Mark, chart_rows
from panelstats.scores.cells import DESCRIPTOR, LOT, STAGE, TASTER
from panelstats.speech import Phrase, said
from panelstats.words import capital, count, listing, sized

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping
    from typing import Any

    import pandas as pd

    from panelstats.report.charts.scale import Scale
    from panelstats.report.charts.svg import Drawing
    from panelstats.review import Review

# Steps of making in their order (common practice).
ORDER = ("plucking", "withering", "rolling", "fermenting", "firing", "sorting")
ALONE = Phrase("not one step alone")
# Remarks quoted on the page, those said most often first; the workbook holds all.
QUOTED = 10
AXIS = Phrase("lot less the mean of the others of its class (points)")


class Panel(NamedTuple):
    """One descriptor: the step of making it tells of, its call and mark, where it stands now, its lots drawn."""

    step: str
    name: str
    call: str
    mark: Mark
    now: str
    words: str
    drawing: Drawing


class Quote(NamedTuple):
    """A remark as written, and who wrote it of which lots."""

    remark: str
    said: str


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    letter, faults = review.find(GardenLetter), review.find(FaultsNoticed)
    if letter is None:
        return {}
    faulty = set() if faults is None else set(faults.table[LOT].astype(str))
    panels = panels_of(letter, faulty)
    rest = [verdict for verdict in review.verdicts if verdict is not letter.first and verdict.act != Act.NOW]
    return {
        "opening": letter.first,
        "panels": panels,
        "lede": _lede(review, letter),
        "steps": steps(rest),
        "quotes": quotes(letter.remarks),
        "unquoted": max(letter.remarks["remark"].nunique() - QUOTED, 0),
        "ledger": ledger(stepless(rest)),
        "key": _key(letter, faulty),
        "in_words": [(panel.name, panel.words) for panel in panels],
    }


def _lede(review: Review, letter: GardenLetter) -> str:
    """How many lots of which days, by how many tasters."""
    days = sorted({date for date in letter.lots[DATE] if date})
    made = Phrase(", lots of {days} to {days_2}").format(days=days[0], days_2=days[-1]) if len(days) > 1 else ""
    return lede(review) + made


def panels_of(letter: GardenLetter, faulty: set[str]) -> list[Panel]:
    """The panels, step of making by step of making as each descriptor tells of it; where none is declared, by stage."""
    heads = letter.summary["tells"] if letter.summary["tells"].any() else letter.summary[STAGE]
    place, ends = _places(letter.lots[DATE])
    charts = {str(name): _chart(letter, str(name), faulty) for name in letter.summary[DESCRIPTOR]}
    drawn = [chart for chart in charts.values() if chart.rows]
    if not drawn:
        return []
    scale = scale_of(drawn, most=5)
    found = [
        _panel(letter, row | {"step": str(head)}, charts[row[DESCRIPTOR]], scale, place, ends, key=f"g{at}")
        for at, (row, head) in enumerate(zip(letter.summary.to_dict("records"), heads, strict=True))
    ]
    order = [*ORDER, *dict.fromkeys(panel.step for panel in found if panel.step not in ORDER and panel.step), ""]
    found.sort(key=lambda panel: order.index(panel.step))  # what tells of no step alone stands last
    return [panel._replace(step=panel.step or ALONE) for panel in found]


def _places(dates: pd.Series) -> tuple[Mapping[str, float], tuple[str, str]]:
    """Where each day stands from the first to the last, and these in words; none where a lot has no day."""
    known = sorted(set(dates))
    if not known or not known[0]:
        return {}, ("", "")
    days = [dt.date.fromisoformat(date).toordinal() for date in known]
    span = days[-1] - days[0]
    places = {date: (day - days[0]) / span if span else 0.5 for date, day in zip(known, days, strict=True)}
    return places, (known[0], known[-1])


def _chart(letter: GardenLetter, name: str, faulty: set[str]) -> Chart:
    """The lots of one descriptor as rows, in order of date."""
    lots = letter.lots[(letter.lots[DESCRIPTOR] == name) & letter.lots["difference"].notna()]
    marks = [Mark.FAULT if str(lot) in faulty else None for lot in lots[LOT]]
    rows = chart_rows(lots[LOT], marks=marks, groups=lots[DATE], value=lots["difference"], floor=lots["band_low"],
                      ceiling=lots["band_high"])  # fmt: skip
    return Chart(name, AXIS, rows, Phrase("a lot on the day it was made"), 0.0,
                 band=Phrase("where eight of ten other lots of its class lie"))  # fmt: skip


def _panel(
    letter: GardenLetter, row: Mapping[Hashable, Any], chart: Chart, scale: Scale, place: Mapping[str, float],
    ends: tuple[str, str], *, key: str,
) -> Panel:  # fmt: skip
    name = str(row[DESCRIPTOR])
    spread = max(len(chart.rows) - 1, 1)
    dated = len(place) > 1
    rows = [(place.get(each.group, 0.0) if dated else at / spread, each) for at, each in enumerate(chart.rows)]
    weeks = letter.weeks[letter.weeks[DESCRIPTOR] == name].to_dict("records")
    level = [(_middle(str(week[WEEK]), ends), float(week["smoothed"])) for week in weeks] if dated else []
    changed = _changes(letter) if dated else []
    changes = [(place[each["since"]], f"{each['column']} {each['after']}") for each in changed]
    now, words, title = _now(row), _words(letter, row, chart, ends), Phrase("{name}, lot by lot").format(name=name)
    drawing = dated_drawing(Dated(title, words, rows, level, changes, ends), scale, key=key)
    return Panel(str(row["step"]), name, str(row["call"]), _mark(row), now, words, drawing)


def _changes(letter: GardenLetter) -> list[dict[Hashable, Any]]:
    return letter.changes.sort_values("since", kind="stable").to_dict("records")


def _middle(week: str, ends: tuple[str, str]) -> float:
    """Where the middle of a week stands between the first and the last day."""
    first, last = (dt.date.fromisoformat(each).toordinal() for each in ends)
    return min(max((dt.date.fromisoformat(week).toordinal() + 3 - first) / (last - first), 0.0), 1.0)


def _now(row: Mapping[Hashable, Any]) -> str:
    """Where it stands, in points from its class."""
    return "{difference} ({interval})".format(**sized(row["difference"], row["low"], row["high"]))


_MARKS = {"with its class": Mark.WITHIN, "above its class": Mark.HIGHER, "below its class": Mark.LOWER}


def _mark(row: Mapping[Hashable, Any]) -> Mark:
    return _MARKS.get(str(row["call"]), Mark.OPEN)


def _words(letter: GardenLetter, row: Mapping[Hashable, Any], chart: Chart, ends: tuple[str, str]) -> str:
    """The drawing for those who do not see it."""
    since = Phrase(", since the week of {since}").format(since=row["since"]) if row["since"] else ""
    period = Phrase(" made from {ends} to {ends_2}").format(ends=ends[0], ends_2=ends[1]) if ends[0] != ends[1] else ""
    inside = sum(each.floor <= each.value <= each.ceiling for each in chart.rows)
    parts = [
        f"{count(len(chart.rows), 'lot')}{period}; {AXIS}.",
        f"{capital(said(str(row['call'])))}{since}: {_now(row)}.",
        Phrase("{inside} of {rows} lie in the band of their class.").format(inside=inside, rows=len(chart.rows)),
    ]
    changed = Phrase("From {since} {column} {after} in place of {before}.")
    names = ("since", "column", "after", "before")
    parts += [changed.format(**{name: each[name] for name in names}) for each in _changes(letter)]
    if marked := [each.label for each in chart.rows if each.mark is Mark.FAULT]:
        parts.append(Phrase("A fault was noticed in {marked}.").format(marked=listing(marked)))
    return " ".join(parts)


def quotes(remarks: pd.DataFrame) -> list[Quote]:
    """What was written, said most often first, with who wrote it of which lots."""
    out = []
    for remark in remarks["remark"].value_counts(sort=True).index[:QUOTED]:
        mine = remarks[remarks["remark"] == remark]
        said = [
            Phrase("{taster} of {str}").format(taster=taster, str=listing(dict.fromkeys(some[LOT].astype(str))))
            for taster, some in mine.groupby(TASTER, sort=False)
        ]
        out.append(Quote(str(remark), "; ".join(said)))
    return out


def _key(letter: GardenLetter, faulty: set[str]) -> list[tuple[str, str]]:
    """The shapes of the picture and what they mean."""
    lines: list[tuple[str, str]] = [
        ("dot", Phrase("a lot on the day it was made, in points from the mean of the others of its class")),
        ("band", Phrase("where eight of ten other lots of its class lie")),
    ]
    if letter.weeks["smoothed"].notna().any():
        lines.append(("level", Phrase("the mean of the weeks, smoothed")))
    if faulty & set(letter.lots[LOT].astype(str)):
        lines.append(("fault", Phrase("a fault was noticed")))
    if len(letter.changes):
        lines.append(("", Phrase("An upright line: from that day on it was made otherwise.")))
    return lines
