"""Sheets of answers judged: every test in the table, tasters who answered several times, places that sway."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.difference.answers import words
from panelstats.difference.answers.placecheck import PlaceCheck, open_in_all, place_check, place_verdicts
from panelstats.difference.answers.tables import JudgedAnswers, by_taster, test_row
from panelstats.difference.answers.writtenanswers import (
    BLANK,
    KIND,
    RIGHT,
    RIGHT_PLACE,
    SESSION,
    TASTER,
    TEST,
    read_table,
)
from panelstats.difference.counts.forced import Counts, ask
from panelstats.difference.counts.tables import DifferenceTest, from_counts, from_signal
from panelstats.difference.repeated.fit import from_tasters
from panelstats.errors import DesignError
from panelstats.models.kinds import SIGNAL
from panelstats.models.kinds.criterion import SignalCounts
from panelstats.result import Verdict, in_order

if TYPE_CHECKING:
    from collections.abc import Iterator


@checked()
def judge_answers(
    table: pd.DataFrame,
    *,
    within_share: float | None = None,
    within_d: float | None = None,
    error: float = 0.05,
    match_error: float = 0.05,
) -> JudgedAnswers:
    """Judge a table of answers: which tests show a difference, which a match, and which cannot tell.

    Parameters
    ----------
    table : DataFrame
        kind, taster, answer, and if known session, test, trial, order (as served: "ABA"; for duo-trio "A:BA" with the
        reference first), code. An answer is a place (1, 2, ...), a code, right / wrong, "A" / "not A", "same" /
        "different"; an empty one, two places where one is asked, and "no difference" are blanks. In paired and 2-afc
        tests A is the one counted.
    within_share, within_d : float, optional
        Tolerance of a match, as for `match_test`; without one no match is called. A-not-a and same-different take
        only `within_d`.
    error, match_error : float in (0, 1)
        Error rates of "differ" and of "match", for each test.

    Raises
    ------
    SheetError
        Answers, orders or kinds that cannot be; every row is named.
    DesignError
        No answers at all, or impossible arguments.

    Notes
    -----
    Blanks are neither wrong nor dropped: they count as wrong for "differ" and as right for "match". Tasters who
    answered several times are judged by `repeated_test`. Places are tested by a conditional logit.

    Examples
    --------
    >>> import pandas as pd
    >>> sheet = pd.DataFrame({"test": "B1 against S", "kind": "triangle", "taster": list("abcdefgh"),
    ...                       "order": ["AAB", "ABA", "BAA", "ABB", "BAB", "BBA", "AAB", "ABA"],
    ...                       "answer": [3, 2, 1, 1, 2, 3, 1, None]})
    >>> found = judge_answers(sheet)
    >>> found.table[["answers", "correct", "blanks", "call"]].to_dict("records")
    [{'answers': 8, 'correct': 6, 'blanks': 1, 'call': 'differ'}]
    """
    ask("triangle", error=error, match_error=match_error, within_share=within_share, within_d=within_d)
    if table.empty:
        raise DesignError("no answers", where="an empty table", do="give a row per answer")
    read = read_table(table)
    tests, rows, places = [], [], []
    verdicts: list[Verdict] = []
    swayed: list[Verdict] = []
    for key, answers in _each(read):
        subject = _subject(*key)
        test = _judge(subject, answers, within_share, within_d, error, match_error)
        check = place_check(answers)
        tests.append(test)
        rows.append(test_row(key, answers, test))
        places.append((*key, test.kind, *check))
        verdicts += test.verdicts
        swayed += place_verdicts(subject, test.kind, check)
    return JudgedAnswers(
        table=pd.DataFrame(rows),
        tasters=by_taster(read),
        places=pd.DataFrame(places, columns=[SESSION, TEST, KIND, *PlaceCheck._fields]),
        tests=tuple(tests),
        verdicts=in_order([*verdicts, *open_in_all(swayed)]),
        method=words.METHOD.format(tests=" ".join(dict.fromkeys(test.method for test in tests))),
    )


def _each(read: pd.DataFrame) -> Iterator[tuple[tuple[str, str], pd.DataFrame]]:
    for (session, test, _), answers in read.groupby([SESSION, TEST, KIND], sort=False):
        yield (str(session), str(test)), answers


def _subject(session: str, test: str) -> str:
    return words.SUBJECT.format(test=test, session=session).strip() if session else test


def _judge(
    subject: str, answers: pd.DataFrame, within_share: float | None, within_d: float | None, error: float,
    match_error: float,
) -> DifferenceTest:  # fmt: skip
    kind = answers[KIND].iloc[0]
    if kind in SIGNAL:
        return _judge_signal(kind, answers, within_d, error, match_error, subject)
    question = ask(kind, error=error, match_error=match_error, within_share=within_share, within_d=within_d)
    by_taster = answers.groupby(TASTER, sort=False).agg(x=(RIGHT, "sum"), n=(RIGHT, "size"), blank=(BLANK, "sum"))
    counts = Counts(*(by_taster[name].to_numpy(float) for name in ("x", "n", "blank")))
    if (counts.answers > 1).any():
        return from_tasters(question, counts, by_taster.index.astype(str).tolist(), subject=subject)
    return from_counts(question, counts.map(np.sum), subject=subject)


def _judge_signal(
    kind: str, answers: pd.DataFrame, within_d: float | None, error: float, match_error: float, subject: str
) -> DifferenceTest:
    signal, right, blank = (answers[name].to_numpy() for name in (RIGHT_PLACE, RIGHT, BLANK))
    if (signal < 0).any():  # a blank whose order is not recorded tells nothing at all
        answers = answers[signal >= 0]
        signal, right, blank = signal[signal >= 0], right[signal >= 0], blank[signal >= 0]
    of_signal, of_noise = signal == 1, signal == 0

    def counts(correct: np.ndarray) -> SignalCounts:
        hits, n_a = int((correct & of_signal).sum()), int(of_signal.sum())
        return SignalCounts(hits, n_a, int((~correct & of_noise).sum()), int(of_noise.sum()))

    repeated = answers[TASTER].value_counts().max() > 2 if len(answers) else False
    return from_signal(
        kind, counts(right), error=error, match_error=match_error, within_d=within_d, subject=subject,
        generous=counts(right | blank), discordant=_discordant(answers),
        note=words.AS_INDEPENDENT if repeated else "",
    )  # fmt: skip


def _discordant(answers: pd.DataFrame) -> tuple[int, int] | None:
    """Tasters right on both and wrong on both, if every taster judged one serving of each kind."""
    each = answers.groupby(TASTER).agg(n=(RIGHT, "size"), kinds=(RIGHT_PLACE, "nunique"), right=(RIGHT, "sum"))
    if each.empty or not ((each["n"] == 2) & (each["kinds"] == 2)).all():
        return None
    return int((each["right"] == 2).sum()), int((each["right"] == 0).sum())
