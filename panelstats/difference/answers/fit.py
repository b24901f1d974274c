"""Sheets of answers judged: every test in the table, tasters who answered several times, places that sway."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.difference.answers.marks import (
    BLANK,
    KIND,
    ORDER,
    PLACE,
    RIGHT,
    RIGHT_PLACE,
    SESSION,
    TASTER,
    TEST,
    read_table,
)
from panelstats.difference.answers.position import PositionTest, position_test
from panelstats.difference.answers.repeated import from_tasters
from panelstats.difference.counts.outcome import LIMITS, SIZE, DifferenceTest, from_counts, from_signal
from panelstats.difference.counts.question import Counts, ask
from panelstats.difference.counts.reading import DIFFER, MATCH
from panelstats.difference.counts.signal import SignalCounts
from panelstats.difference.counts.words import p_text
from panelstats.errors import DesignError
from panelstats.models.kinds import KINDS, SIGNAL
from panelstats.result import Act, Chart, Result, Verdict, chart_rows, in_order, joined, mark_by_call, of_descriptor
from panelstats.words import count

if TYPE_CHECKING:
    from collections.abc import Iterator

# Error rate of the check of places: common practice.
PLACE_ERROR = 0.05
BALANCED = "Every order was served equally often, so a habit of place alone cannot pass for a difference."
MORE = "More answers would show a weaker habit."
_PLACES = ["session", "test", "kind", "answers", "unrecorded", "balanced", "statistic", "df", "p", "call"]


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class JudgedAnswers(Result):
    """Every test of a sheet of answers.

    Attributes
    ----------
    table : DataFrame
        session, test, kind, tasters, answers, correct, blanks, p_difference, p_match, share_who_can_tell and d with
        their _low and _high, call; a row per test.
    tasters : DataFrame
        session, test, kind, taster, answers, correct, blanks; a row per taster and test. For paired, correct is how
        often A was named.
    places : DataFrame
        session, test, kind, answers and unrecorded (orders not recorded), balanced (each order served equally often),
        statistic, df, p, call (shown, cannot tell, not checked).
    tests : tuple of DifferenceTest
        The tests in the order of `table`.
    """

    table: pd.DataFrame
    tasters: pd.DataFrame
    places: pd.DataFrame
    tests: tuple[DifferenceTest, ...]

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each test: who can tell; d′ where the tests are not all told on one scale."""
        table = of_descriptor(self.table, descriptor)
        labels, drawn = joined(table, [SESSION, TEST]), [test.chart() for test in self.tests]
        names = [label or str(test) for label, test in zip(labels, table[TEST], strict=True)]
        if len({chart.axis for chart in drawn}) == 1:
            rows = tuple(replace(chart.rows[0], label=name) for chart, name in zip(drawn, names, strict=True))
            return replace(drawn[0], title="Tests of answers", rows=rows)
        marks = [
            mark_by_call(*row, within={MATCH}, outside={DIFFER}) for row in zip(table["call"], table["d"], strict=True)
        ]
        numbers = {"value": table["d"], "low": table["d_low"], "high": table["d_high"]}
        rows = chart_rows(names, marks=marks, notes=table["call"], groups=table[KIND], **numbers)
        return Chart("Tests of answers", SIZE, rows, LIMITS, zero=0.0)


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

    Returns
    -------
    JudgedAnswers

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
        test = _judge(key, answers, within_share, within_d, error, match_error)
        place = _place(answers)
        tests.append(test)
        rows.append(_row(key, answers, test))
        places.append((*key, test.kind, *place))
        verdicts += test.verdicts
        swayed += _place_verdicts(key, answers, *place)
    return JudgedAnswers(
        table=pd.DataFrame(rows),
        tasters=_tasters(read),
        places=pd.DataFrame(places, columns=_PLACES),
        tests=tuple(tests),
        verdicts=in_order([*verdicts, *_merged(swayed)]),
        method=" ".join(dict.fromkeys(test.method for test in tests)) + _METHOD,
    )


_METHOD = (
    " Blanks count as wrong for a difference and as right for a match. Places: score test in a conditional logit of "
    "the place chosen, what was served taken into account; by simulation below 24 answers. Each test keeps its error "
    "rates; they are not adjusted for the number of tests."
)


def _each(read: pd.DataFrame) -> Iterator[tuple[tuple[str, str], pd.DataFrame]]:
    for (session, test, _), answers in read.groupby([SESSION, TEST, KIND], sort=False):
        yield (str(session), str(test)), answers


def _subject(key: tuple[str, str]) -> str:
    return " ".join(part for part in (key[1], f"(session {key[0]})" if key[0] else "") if part)


def _judge(
    key: tuple[str, str], answers: pd.DataFrame, within_share: float | None, within_d: float | None, error: float,
    match_error: float,
) -> DifferenceTest:  # fmt: skip
    kind = answers[KIND].iloc[0]
    if kind in SIGNAL:
        return _judge_signal(kind, answers, within_d, error, match_error, _subject(key))
    question = ask(kind, error=error, match_error=match_error, within_share=within_share, within_d=within_d)
    by_taster = answers.groupby(TASTER, sort=False).agg(x=(RIGHT, "sum"), n=(RIGHT, "size"), blank=(BLANK, "sum"))
    counts = Counts(*(by_taster[name].to_numpy(float) for name in ("x", "n", "blank")))
    if (counts.answers > 1).any():
        return from_tasters(question, counts, by_taster.index.astype(str).tolist(), subject=_subject(key))
    return from_counts(question, Counts(*(part.sum() for part in vars(counts).values())), subject=_subject(key))


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
        note="Tasters answered several times; their answers are taken as independent." if repeated else "",
    )  # fmt: skip


def _discordant(answers: pd.DataFrame) -> tuple[int, int] | None:
    """Tasters right on both and wrong on both, if every taster judged one serving of each kind."""
    each = answers.groupby(TASTER).agg(n=(RIGHT, "size"), kinds=(RIGHT_PLACE, "nunique"), right=(RIGHT, "sum"))
    if each.empty or not ((each["n"] == 2) & (each["kinds"] == 2)).all():
        return None
    return int((each["right"] == 2).sum()), int((each["right"] == 0).sum())


def _row(key: tuple[str, str], answers: pd.DataFrame, test: DifferenceTest) -> dict[str, object]:
    told, d = test.share_who_can_tell, test.d_prime
    return {
        SESSION: key[0],
        TEST: key[1],
        KIND: test.kind,
        "tasters": answers[TASTER].nunique(),
        "answers": len(answers),
        "correct": int(answers[RIGHT].sum()),
        "blanks": int(answers[BLANK].sum()),
        "p_difference": test.p_difference,
        "p_match": test.p_match,
        "share_who_can_tell": told.value,
        "share_who_can_tell_low": told.low,
        "share_who_can_tell_high": told.high,
        "d": d.value,
        "d_low": d.low,
        "d_high": d.high,
        "call": test.call,
    }


def _tasters(read: pd.DataFrame) -> pd.DataFrame:
    keys = [SESSION, TEST, KIND, TASTER]
    return (
        read.groupby(keys, sort=False)
        .agg(answers=(RIGHT, "size"), correct=(RIGHT, "sum"), blanks=(BLANK, "sum"))
        .reset_index()
    )


def _place(answers: pd.DataFrame) -> tuple[int, int, bool, float, int, float, str]:
    """The check of places: answers, unrecorded, balanced, statistic, df, p, call."""
    kind = KINDS[answers[KIND].iloc[0]]
    given = answers[~answers[BLANK]]
    placed = given[given[PLACE] >= 0]
    unrecorded = len(given) - len(placed)
    served = answers.loc[answers[ORDER] != "", ORDER].str.upper().value_counts()
    balanced = len(served) == len(kind.orders) and served.max() == served.min()
    nothing = PositionTest(float("nan"), 0, float("nan"), len(placed))
    found = nothing
    if kind.name not in SIGNAL:
        ways = _ways(kind.positions, kind.picks)
        found = position_test(placed[RIGHT_PLACE].to_numpy(), placed[PLACE].to_numpy(), ways)
    call = "not checked" if np.isnan(found.p) else "shown" if found.p <= PLACE_ERROR else "cannot tell"
    return found.answers, unrecorded, bool(balanced), found.statistic, found.df, found.p, call


def _ways(positions: int, picks: int) -> int:
    """Answers to choose among: places, pairs of five, or the three splits of a tetrad."""
    return {(4, 2): 3, (5, 2): 10}.get((positions, picks), positions)


def _merged(verdicts: list[Verdict]) -> list[Verdict]:
    """Places that cannot be told to sway are one verdict for all tests served in balance."""
    quiet = [one for one in verdicts if one.call != "shown" and one.next_step == MORE]
    if len(quiet) < 2:
        return verdicts
    ps = sorted(one.numbers["p"] for one in quiet)
    sentence = (
        f"{len(quiet)} tests: cannot tell whether the place of a serving swayed the answers ({p_text(ps[0])} at the "
        f"least). {BALANCED}"
    )
    merged = Verdict(quiet[0].question, "", "cannot tell", sentence, {"p": ps[0]}, MORE, Act.KNOW)
    return [*(one for one in verdicts if one not in quiet), merged]


def _place_verdicts(
    key: tuple[str, str], answers: pd.DataFrame, placed: int, unrecorded: int, balanced: bool, statistic: float,
    df: int, p: float, call: str,
) -> list[Verdict]:  # fmt: skip
    """What is to be said of places; nothing where the kind has none to name."""
    kind = str(answers[KIND].iloc[0])
    if kind in SIGNAL:
        return []
    orders = (
        BALANCED
        if balanced
        else "The orders were not served equally often, so a habit of place could pass for a difference."
    )
    told = f" The order of {count(unrecorded, 'answer')} is not recorded." if unrecorded else ""
    says = {
        "shown": f"some place was named more often than what was served explains ({p_text(p)})",
        "cannot tell": f"cannot tell whether the place swayed the answers ({p_text(p)}, {count(placed, 'answer')})",
        "not checked": "cannot tell whether the place swayed the answers: nothing to check it by",
    }[call]
    more = MORE if balanced and not unrecorded else "Serve every order equally often and record it."
    verdict = Verdict(
        question="Did the place of a serving sway the answers?",
        subject=_subject(key),
        call="cannot tell" if call == "not checked" else call,
        sentence=f"{', '.join(part for part in (_subject(key), kind) if part)}: {says}. {orders}{told}",
        numbers={"statistic": statistic, "df": float(df), "p": p},
        next_step=more,
        act=Act.DECIDE if call == "shown" else Act.KNOW,
    )
    return [verdict]
