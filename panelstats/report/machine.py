"""Results for machines: verdicts, methods and tables as JSON."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.report.tables import TEXT, columns
from panelstats.words import settled

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.report.tables import Column
    from panelstats.result import Result, Verdict
    from panelstats.review import Review


def as_json(review: Review) -> str:
    """The results of a review by title, as one JSON object: numbers as in a workbook, what is no number as null."""
    return json.dumps({title: _result(result) for title, result in review.results}, ensure_ascii=False, indent=1)


def _result(result: Result) -> dict[str, object]:
    return {
        "verdicts": [_verdict(verdict) for verdict in result.verdicts],
        "method": result.method,
        "tables": {name: _records(table) for name, table in result.tables().items()},
    }


def _verdict(verdict: Verdict) -> dict[str, object]:
    return {
        "question": verdict.question,
        "subject": verdict.subject,
        "call": verdict.call,
        "sentence": verdict.sentence,
        "numbers": _numbers(verdict.numbers),
        "next_step": verdict.next_step,
        "act": verdict.act.word,
    }


def _numbers(numbers: Mapping[str, float]) -> dict[str, object]:
    """The numbers of a sentence, which stand beside no uncertainty: six digits, nothing where rounding left a rest."""
    sizes = [abs(value) for value in numbers.values() if isinstance(value, float) and math.isfinite(value)]
    none = max(sizes, default=0.0) * 1e-12
    return {name: _number(name, value, none) for name, value in numbers.items()}


def _number(name: str, value: object, none: float) -> object:
    if not isinstance(value, float) or not math.isfinite(value):
        return _plain(value)
    return 0.0 if abs(value) <= none and not name.startswith("p") else settled(value, 6)


def _records(table: pd.DataFrame) -> list[dict[str, object]]:
    laid = columns(table)
    cells = [[_plain(value) for value in _values(column)] for column in laid]
    names = [column.name for column in laid]
    return [dict(zip(names, row, strict=True)) for row in zip(*cells, strict=True)]


def _values(column: Column) -> list[object]:
    """A column as JSON holds it: counts as they are, other numbers as a file holds them."""
    kept = column.kind == TEXT or pd.api.types.is_integer_dtype(column.values)
    return column.values.tolist() if kept else list(column.written())


def _plain(value: object) -> object:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value if isinstance(value, int | bool | str | None) else str(value)
