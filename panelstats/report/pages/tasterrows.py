"""A row for each taster: the phrase, the step, and beside it where the taster lies on what somebody is apart on."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from panelstats.panel.tasters.fit import TasterAssessment
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.strips import strip, strip_axis
from panelstats.report.charts.twin import told
from panelstats.report.pages.people import APART, Person, people
from panelstats.scores.cells import DESCRIPTOR

if TYPE_CHECKING:
    from markupsafe import Markup

    from panelstats.result import Chart
    from panelstats.review import Review


class Shown(NamedTuple):
    """A taster's row with its drawings."""

    person: Person
    strips: list[Markup | None]


def taster_rows(review: Review) -> dict[str, object]:
    """The values of the block of tasters."""
    columns = _columns(review)
    return {
        "people": [_shown(person, columns) for person in people(review)],
        "strip_heads": columns,
        "strip_axes": [strip_axis(scale_of([column]), column.zero) for column in columns],
    }


def _columns(review: Review) -> list[Chart]:
    """The aspects that are drawn beside the tasters: those on which somebody is apart, else the first."""
    found = review.find(TasterAssessment)
    if found is None:
        return []
    whole = found.table[found.table[DESCRIPTOR].astype(str) == ""]
    if not (whole["estimate"].notna() & (whole["call"] != "")).any():
        return []  # nobody could be judged
    columns = found.chart().columns
    return [column for column in columns if any(row.note == APART for row in column.rows)] or list(columns[:1])


def _shown(person: Person, columns: list[Chart]) -> Shown:
    strips = []
    for column in columns:
        row = next((row for row in column.rows if row.label == person.name), None)
        strips.append(None if row is None else strip(row, scale_of([column]), f"{column.title}: {told(row, column)}"))
    return Shown(person, strips)
