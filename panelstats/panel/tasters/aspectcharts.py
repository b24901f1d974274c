"""The chart of an assessment: a column for each aspect, a row for each taster, or for each descriptor of one taster."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from panelstats.errors import DesignError
from panelstats.panel.tasters.finding import AGREEMENT, DISCRIMINATION, LEVEL, REPEATABILITY, SCALE_USE, SCATTER
from panelstats.panel.tasters.naming import APART, CANNOT, EACH_OTHER, WITH
from panelstats.result import Chart, Mark, Row, chart_rows, mark_by_call, of_descriptor
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.speech import Phrase
from panelstats.words import stated

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.panel.tasters.fit import TasterAssessment

ALL, NOT_TESTED = Phrase("over all descriptors"), "not tested"


class Aspect(NamedTuple):
    """Its key in the table, its heading, its axis with the unit, and where the others stand on it."""

    key: str
    heading: str
    axis: str
    zero: float = float("nan")


COLUMNS = (
    Aspect(LEVEL, Phrase("level"), Phrase("points above or below the others"), 0.0),
    Aspect(REPEATABILITY, Phrase("repeats"), Phrase("spread between servings of one lot; the others' is 1"), 1.0),
    Aspect(DISCRIMINATION, Phrase("telling lots apart"), Phrase("share of a mark that is the lot (0 to 1)")),
    Aspect(AGREEMENT, Phrase("order of the lots"), Phrase("correlation; 1 is the others' order"), 1.0),
    Aspect(SCALE_USE, Phrase("use of the scale"), Phrase("slope; 1 is the others' use"), 1.0),
    Aspect(SCATTER, Phrase("straying"), Phrase("spread from the line of the others; theirs is 1"), 1.0),
)


def assessed_chart(assessment: TasterAssessment, descriptor: str | None, taster: str | None) -> Chart:
    """The tasters over all descriptors or on one; with `taster`, his descriptors."""
    table = assessment.table
    if taster is not None:
        table = of_descriptor(table[table[TASTER].astype(str) == taster], descriptor)
        names = list(dict.fromkeys(["", *table[DESCRIPTOR].astype(str)] if descriptor is None else [descriptor]))
        title = Phrase("{taster}, descriptor by descriptor").format(taster=taster)
        return _chart(table, names, DESCRIPTOR, title, assessment.level)
    table = of_descriptor(table, descriptor) if descriptor else table[table[DESCRIPTOR].astype(str) == ""]
    names = list(assessment.summary[TASTER].astype(str))
    part = Phrase("on {columns}").format(columns=descriptor) if descriptor else ALL
    found = _chart(table, names, TASTER, Phrase("The tasters, {part}").format(part=part), assessment.level)
    if not found.columns:
        raise DesignError("nothing to draw", where="nobody could be judged on it", do="read the verdicts")
    return found


def _chart(table: pd.DataFrame, names: list[str], by: str, title: str, level: float) -> Chart:
    judged = table[table["estimate"].notna() & (table["call"] != "")]
    aspects = [aspect for aspect in COLUMNS if (judged["aspect"] == aspect.key).any()]
    columns = tuple(_column(table[table["aspect"] == aspect.key], aspect, names, by) for aspect in aspects)
    rows = tuple(_whole(name, [column.rows[at] for column in columns]) for at, name in enumerate(names))
    words = Phrase("an estimate with its {level} % interval over what is tolerated").format(level=stated(100 * level))
    return Chart(title, "", rows, words, columns=columns)


def _column(found: pd.DataFrame, aspect: Aspect, names: list[str], by: str) -> Chart:
    found = found.set_index(found[by].astype(str)).reindex(names)
    calls = found["call"].fillna("").astype(str)
    numbers = {name: found[name] for name in ("low", "high", "floor", "ceiling")}
    rows = chart_rows(
        [name or str(ALL) for name in names], marks=[_mark(row) for row in found.to_dict("records")], notes=calls,
        value=found["estimate"], **numbers,
    )  # fmt: skip
    return Chart(aspect.heading, aspect.axis, rows, zero=aspect.zero)


def _mark(line: dict) -> Mark | None:
    """The shape of one finding; over all descriptors the level has a size and no direction."""
    if line["call"] != line["call"] or not line["call"]:
        return None
    sized = line["aspect"] == LEVEL and not line[DESCRIPTOR]
    way = 0.0 if sized else 1.0 if line["estimate"] > line["ceiling"] else -1.0
    return mark_by_call(line["call"], way, within={WITH, EACH_OTHER}, outside={APART})


def _whole(name: str, cells: list[Row]) -> Row:
    """The word at the end of a row: apart if any aspect is, else cannot tell if any is open, else what all say."""
    calls = [cell.note for cell in cells if cell.note]
    word = next((call for call in (APART, CANNOT) if call in calls), calls[0] if calls else NOT_TESTED)
    outside = [cell.mark for cell in cells if cell.note == APART]
    mark = outside[0] if len(outside) == 1 else mark_by_call(word, 0.0, within={WITH, EACH_OTHER}, outside={APART})
    return Row(name or ALL, mark=mark, note=word)
