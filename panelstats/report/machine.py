"""Results for machines: verdicts, methods and tables as JSON."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING

from panelstats.result import Act

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.result import Result, Verdict
    from panelstats.review import Review


def as_json(review: Review) -> str:
    """The results of a review by title, as one JSON object; numbers at full precision, what is not a number as null."""
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
        "numbers": {name: _plain(value) for name, value in verdict.numbers.items()},
        "next_step": verdict.next_step,
        "act": Act(verdict.act).name.lower().replace("_", " "),
    }


def _records(table: pd.DataFrame) -> list[dict[str, object]]:
    columns = {str(name): [_plain(value) for value in table[name].tolist()] for name in table}
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def _plain(value: object) -> object:
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value if isinstance(value, int | bool | str | None) else str(value)
