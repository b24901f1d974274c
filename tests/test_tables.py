"""The tables of results: numbers are numbers to whoever takes them on, pandas or a spreadsheet."""

from numbers import Real

import numpy as np
import pandas as pd
import pytest

from panelstats.review import Review
from tests.kept.asked import ROOMS

# One of each kind of room; of seasons one with several kinds of charts, of sessions one with several classes.
SOME = ["session 03", "session 05", "season 01", "day 01", "several 05", "maps 01", "counts 03", "parts 00", "plans 01"]


def results(room):
    for question, ask in ROOMS[room]().items():
        if question.startswith(("workbook", "figure")):
            continue
        answer = ask()
        for result in [result for _, result in answer.results] if isinstance(answer, Review) else [answer]:
            if callable(getattr(result, "tables", None)):
                yield result


def numbers_as_text(values):
    told = [value for value in values if not pd.isna(value)]
    return values.dtype == object and any(isinstance(x, Real) and not isinstance(x, bool | np.bool_) for x in told)


@pytest.mark.parametrize("room", SOME)
def test_no_column_of_numbers_is_one_of_texts(room):
    asked = 0
    for result in results(room):
        for name, table in result.tables().items():
            asked += 1
            assert not [column for column in table if numbers_as_text(table[column])], (type(result).__name__, name)
    assert asked
