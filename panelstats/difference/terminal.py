"""A difference test as a terminal shows it: the verdict first, the numbers, what to do next, how it was worked out."""

from __future__ import annotations

from textwrap import fill
from typing import TYPE_CHECKING

import numpy as np

from panelstats.difference.answers.tables import JudgedAnswers
from panelstats.difference.counts.tables import D_PRIME, ESTIMATE, HIGH, LOW, QUANTITY, DifferenceTest
from panelstats.speech import Phrase, said
from panelstats.words import number, percent

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.result import Result, Verdict

WIDTH = 80


def differ_text(result: Result) -> str:
    """What `panelstats differ` prints.

    One paragraph per verdict, with its next step indented; the table of a single test; the method last.

    Examples
    --------
    >>> from panelstats import difference_test
    >>> print(differ_text(difference_test("triangle", correct=29, answers=66)).splitlines()[0])
    DIFFER  Triangle test, 29 of 66 answers right, 22 expected from guessing: the
    """
    parts = [_paragraph(verdict) for verdict in result.verdicts]
    if isinstance(result, DifferenceTest):
        parts.append(_numbers(result.table))
    if isinstance(result, JudgedAnswers) and len(result.table) > 1:
        parts.append(_tests(result.table))
    return "\n\n".join([*parts, fill(result.method, WIDTH)])


def _paragraph(verdict: Verdict) -> str:
    told = fill(f"{said(verdict.call).upper()}  {verdict.sentence}", WIDTH, subsequent_indent="  ")
    if not verdict.next_step:
        return told
    step = Phrase("Next: {step}").format(step=verdict.next_step)
    return f"{told}\n{fill(step, WIDTH, initial_indent='  ', subsequent_indent='  ')}"


def _numbers(table: pd.DataFrame) -> str:
    lines = [f"{'':24}" + "".join(f"{said(head):>13}" for head in (ESTIMATE, "at least", "at most"))]
    for values in table.to_dict("records"):
        told = [_value(values[name], str(values[QUANTITY])) for name in (ESTIMATE, LOW, HIGH)]
        lines.append(f"{said(values[QUANTITY]):24}" + "".join(f"{text:>13}" for text in told))
    return "\n".join(lines)


def _value(value: float, quantity: str) -> str:
    return number(value, 2) if quantity == D_PRIME or np.isnan(value) else percent(value)


def _tests(table: pd.DataFrame) -> str:
    heads = map(said, ("test", "kind", "answers", "right", "blank", "call"))
    rows = [(str(row["test"]), said(str(row["kind"])), row["answers"], row["correct"], row["blanks"],
             said(str(row["call"]))) for row in table.to_dict("records")]  # fmt: skip
    return "\n".join(f"{a:22.22}  {b:17}{c:>9}{d:>9}{e:>7}  {f}" for a, b, c, d, e, f in [tuple(heads), *rows])
