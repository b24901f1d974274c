"""A taster's sheet, row by row: what was found of each descriptor, and in which words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.panel.tasters.finding import (
    AGREEMENT,
    DISCRIMINATION,
    LEVEL,
    REPEATABILITY,
    SCALE_USE,
    SCATTER,
    SD_RATIO,
    SLOPE,
)
from panelstats.panel.tasters.naming import APART, CANNOT, WITH
from panelstats.report.charts.marks import Mark
from panelstats.report.charts.strips import Strip
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.words import decimals, interval, listing, number

if TYPE_CHECKING:
    from collections.abc import Hashable
    from typing import Any

    import pandas as pd

    from panelstats.panel.tasters.fit import TasterAssessment
    from panelstats.panel.training.fit import TraineeAssessment

ALL = "over all descriptors"
NOT_TESTED = "not tested"
READY, NOT_YET = "ready", "not yet"
TRAINEE = "trainee"


@dataclass(frozen=True)
class Column:
    """One aspect: its heading, and what its scale means."""

    key: str
    heading: str
    scale: str


@dataclass(frozen=True)
class Row:
    """One descriptor: a cell per column (None where nothing was found), the word at its end, and why."""

    name: str
    cells: tuple[tuple[Strip, str] | None, ...]
    word: str
    mark: Mark
    why: str
    whole: bool = False


@dataclass(frozen=True)
class Sheet:
    """Everything a sheet shows of one taster; `bowls` are the lots to taste again."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    bowls: pd.DataFrame


ASPECTS = (
    Column(LEVEL, "level", "points above or below the others"),
    Column(REPEATABILITY, "repeats", "spread between servings of one lot; the others' is 1"),
    Column(DISCRIMINATION, "telling lots apart", "share of a mark that is the lot"),
    Column(AGREEMENT, "order of the lots", "1 is the others' order"),
    Column(SCALE_USE, "use of the scale", "1 is the others' use"),
    Column(SCATTER, "straying", "from the line of the others; theirs is 1"),
)
_LEARNT = (
    Column("difference", "level", "points above or below the seniors"),
    Column("slope", "use of the scale", "1 is the seniors' use"),
    Column("spread", "repeats", "spread; the seniors' is 1"),
    Column("marks", "19 of 20 marks", "own less the seniors'; the strip is the seniors' own reach"),
)
_SHAPES = {WITH: Mark.WITHIN, CANNOT: Mark.OPEN, NOT_TESTED: Mark.OPEN, APART: Mark.APART, READY: Mark.WITHIN}


def taster_sheet(assessment: TasterAssessment, taster: str) -> Sheet:
    """The sheet of a senior taster: a column per aspect that was judged."""
    table = assessment.table[assessment.table[TASTER].astype(str) == taster]
    judged = table[table["estimate"].notna() & (table["call"] != "")]
    columns = tuple(column for column in ASPECTS if (judged["aspect"] == column.key).any())
    names = [name for name in dict.fromkeys(table[DESCRIPTOR].astype(str)) if name]
    rows = [_taster_row(table[table[DESCRIPTOR].astype(str) == name], name, columns) for name in ["", *names]]
    bowls = assessment.taste_again
    return Sheet(columns, tuple(rows), bowls[bowls[TASTER].astype(str) == taster])


def _taster_row(found: pd.DataFrame, name: str, columns: tuple[Column, ...]) -> Row:
    by_aspect = {str(line["aspect"]): line for line in found.to_dict("records")}
    lines = [by_aspect.get(column.key) for column in columns]
    cells = tuple(_judged_cell(line) if line else None for line in lines)
    called = [(column, line) for column, line in zip(columns, lines, strict=True) if line and line["call"]]
    calls = [str(line["call"]) for _, line in called]
    word = next((call for call in (APART, CANNOT) if call in calls), calls[0] if calls else NOT_TESTED)
    shape, why = _SHAPES.get(word, Mark.WITHIN), ""
    if word == CANNOT:
        why = _open_because([(column, line) for column, line in called if line["call"] == CANNOT])
    elif word == APART:
        outside = [(column, cell[0]) for column, cell in zip(columns, cells, strict=True) if cell and _is_out(cell[0])]
        shape = outside[0][1].mark or shape if len(outside) == 1 else shape
        why = "; ".join(f"{column.heading} {_with_interval(cell)}" for column, cell in outside)
    return Row(name or ALL, cells, word, shape, why, whole=not name)


def _open_because(lines: list[tuple[Column, dict[Hashable, Any]]]) -> str:
    """On which aspects it cannot be told, and why where there is one reason."""
    reasons = dict.fromkeys(str(line["reason"]) for _, line in lines if line["reason"])
    on = f"on {listing(column.heading for column, _ in lines)}"
    return f"{on}: {next(iter(reasons))}" if len(reasons) == 1 else on


def _is_out(cell: Strip) -> bool:
    return cell.mark in (Mark.HIGHER, Mark.LOWER, Mark.APART)


def _judged_cell(line: dict[Hashable, Any]) -> tuple[Strip, str] | None:
    if not math.isfinite(line["estimate"]):
        return None
    call = str(line["call"])
    above = line["estimate"] > line["ceiling"]
    shape = {APART: Mark.HIGHER if above else Mark.LOWER, CANNOT: Mark.OPEN, "": None}.get(call, Mark.WITHIN)
    if call == APART and line["aspect"] == LEVEL and not line[DESCRIPTOR]:
        shape = Mark.APART  # over all descriptors the level has a size and no direction
    value, low, high, floor, ceiling = (float(line[key]) for key in ("estimate", "low", "high", "floor", "ceiling"))
    cell = Strip(value, low, high, floor, ceiling, shape)
    return cell, f"{_told(cell)}; {call or 'not judged'}"


def trainee_sheet(assessment: TraineeAssessment, trainee: str) -> Sheet:
    """The sheet of a trainee: level, use of the scale, repeats, and where the marks lie in the seniors' band."""
    table = assessment.table[assessment.table[TRAINEE].astype(str) == trainee]
    limits = assessment.limits[assessment.limits[TRAINEE].astype(str) == trainee]
    reach = {str(line[DESCRIPTOR]): line for line in limits.to_dict("records")}
    rows = [_trainee_row(line, reach.get(str(line[DESCRIPTOR]))) for line in table.to_dict("records")]
    bowls = assessment.taste_again
    return Sheet(_LEARNT, tuple(rows), bowls[bowls[TRAINEE].astype(str) == trainee])


def _trainee_row(line: dict[Hashable, Any], limits: dict[Hashable, Any] | None) -> Row:
    tolerance, call = float(line["tolerance"]), str(line["call"])
    level = _read_cell(line["difference"], line["low"], line["high"], -tolerance, tolerance)
    slope = _read_cell(line["slope"], line["slope_low"], line["slope_high"], *SLOPE)
    spread = _read_cell(line["spread"], line["spread_low"], line["spread_high"], -math.inf, SD_RATIO)
    why = "; ".join(str(part) for part in (line["licence"], line["reason"]) if part)
    cells = (level, slope, spread, _marks_cell(limits) if limits else None)
    return Row(str(line[DESCRIPTOR]), cells, call, _SHAPES.get(call, Mark.APART), why)


def _read_cell(value: float, low: float, high: float, floor: float, ceiling: float) -> tuple[Strip, str] | None:
    """A cell whose mark says where the interval lies against the strip; the call of the row allows for more."""
    if not math.isfinite(value):
        return None
    cell = Strip(value, low, high, floor, ceiling, read_mark(low, high, floor, ceiling))
    return cell, _told(cell)


def read_mark(low: float, high: float, floor: float, ceiling: float) -> Mark:
    """Where an interval lies against what is tolerated: inside, beyond one side, or neither.

    Examples
    --------
    >>> read_mark(-0.2, 0.3, -0.5, 0.5), read_mark(0.6, 0.9, -0.5, 0.5)
    (<Mark.WITHIN: 'within'>, <Mark.HIGHER: 'higher'>)
    """
    if floor < low and high < ceiling:
        return Mark.WITHIN
    return Mark.HIGHER if low > ceiling else Mark.LOWER if high < floor else Mark.OPEN


def _marks_cell(limits: dict[Hashable, Any]) -> tuple[Strip, str] | None:
    value, low, high = (float(limits[key]) for key in ("difference", "limit_low", "limit_high"))
    reach = float(limits["seniors_reach"])
    if not math.isfinite(low + high):
        return None
    words = f"19 of 20 marks lie {interval(low, high, 1, sign=True)} from the seniors'; theirs reach {number(reach, 1)}"
    edge = reach if math.isfinite(reach) else math.inf
    return Strip(value, low, high, -edge, edge, None), words


def _told(cell: Strip) -> str:
    ends = [f"{way} {number(x, 2)}" for way, x in (("from", cell.floor), ("to", cell.ceiling)) if math.isfinite(x)]
    return f"{_with_interval(cell)}; tolerated {' '.join(ends) or 'all'}"


def _with_interval(cell: Strip) -> str:
    places = decimals((cell.high - cell.low) / 4)
    return f"{number(cell.value, places)} ({interval(cell.low, cell.high, places)})"
