"""How many answers to plan: for showing a difference, and for showing a match, before anything is served."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import from_one
from panelstats.difference.counts.countcalls import tolerance_text
from panelstats.difference.counts.forced import DIFFER, MATCH, Question, ask
from panelstats.difference.counts.sittings import sittings_needed
from panelstats.difference.counts.sizes import (
    MOST_ANSWERS,
    Needed,
    difference_needs,
    difference_rates_needed,
    least_share_found,
    match_needs,
    match_rates_needed,
)
from panelstats.difference.planning import words
from panelstats.errors import DesignError
from panelstats.models.kinds import SIGNAL, share_correct
from panelstats.result import Act, Chart, Result, Verdict, chart_rows, of_descriptor
from panelstats.speech import Phrase, said
from panelstats.words import capital, count, percent, stated

CLAIM, FIRST, SETTLED, SERVED, LIMIT, POWER = "claim", "first", "settled", "served", "limit", "power"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class AnswersNeeded(Result):
    """Numbers of answers, one from each taster.

    Attributes
    ----------
    difference, match : Needed
        What either claim needs: first, settled, served (a multiple of the number of serving orders), limit, power.
    table : DataFrame
        claim (differ, match), first, settled, served, limit (least right for differ, most right for match), power.
    """

    difference: Needed
    match: Needed
    table: pd.DataFrame

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each claim: from the first number of answers that can succeed to that from which all do."""
        table = of_descriptor(self.table, descriptor)
        table = table[table["first"].notna()]
        if not len(table):
            raise DesignError("nothing to draw", where="no number of answers is enough", do="read its verdicts")
        notes = [count(int(n), "answer") for n in table["served"]]
        limits = {"low": table["first"], "high": table["settled"]}
        rows = chart_rows(table["claim"], notes=notes, value=table["served"], **limits)
        words = Phrase(
            "from the first number of answers that can succeed to that from which all do; the dot: to be served"
        )
        return Chart(Phrase("Answers needed"), Phrase("answers (number)"), rows, words)


@checked(answers=from_one)
def answers_needed(
    kind: str,
    *,
    within_share: float | None = None,
    within_d: float | None = None,
    error: float = 0.05,
    match_error: float = 0.05,
    power: float = 0.8,
    true_d: float = 0.0,
    answers: int | None = None,
) -> AnswersNeeded:
    """How many answers a difference or match test needs so that it can succeed.

    Parameters
    ----------
    kind : str
        Any kind; for a-not-a and same-different, answers are counted over both kinds of serving.
    within_share, within_d : float
        The size that matters: share of tasters who can tell, or d' (the only one for a-not-a and same-different). A
        difference of this size is to be found; for a match it is the tolerance.
    error, match_error : float in (0, 1)
        Error rates of "differ" and of "match".
    power : float in (0, 1)
        Chance of success wanted.
    true_d : float
        For the match: the d' the products really are apart, 0 if not at all.
    answers : int, optional
        Answers there can be; the verdict says what so many can show.

    Returns
    -------
    AnswersNeeded
        `first` is the first number that reaches the power, as printed tables give it; `settled` the least from which
        the power never falls below it again: plan with `served`.

    Raises
    ------
    DesignError
        Impossible arguments; no size, or one so small that more than 200,000 answers would be needed.

    Notes
    -----
    Exact binomial power at every number of answers, without approximation; first numbers are those of ISO 4120 and
    ISO 10399, tables A.3 (from memory).

    Examples
    --------
    >>> found = answers_needed("triangle", within_share=0.3, power=0.95)
    >>> found.difference.first, found.difference.settled, found.match.first
    (66, 73, 66)
    """
    if kind in SIGNAL:
        return _signal(kind, within_d, error=error, match_error=match_error, power=power, answers=answers)
    question = ask(kind, error=error, match_error=match_error, within_share=within_share, within_d=within_d)
    if question.share is None:
        raise DesignError(
            "no size to plan for", where="within_share=None, within_d=None",
            do="say which difference matters: within_share=0.3 (30 % of the tasters can tell) or within_d=1.0",
        )  # fmt: skip
    truth = float(share_correct(kind, true_d))
    if not (true_d >= 0 and truth < question.at_tolerance):
        raise DesignError("no match is there to be shown", where=f"true_d={true_d!r}",
                          do="give a true d' from 0 up to less than the tolerance")  # fmt: skip
    difference, match = difference_needs(question, power), match_needs(question, power, truth)
    if difference is None or match is None:
        raise DesignError(
            f"more than {MOST_ANSWERS:,} answers would be needed", where=tolerance_text(question),
            do="ask for a larger size or less power, or compare descriptor scores",
        )  # fmt: skip
    return AnswersNeeded(
        difference=difference,
        match=match,
        table=_table(difference, match),
        verdicts=_verdicts(question, difference, match, power=power, answers=answers),
        method=_method(question, power),
    )


def _table(difference: Needed, match: Needed) -> pd.DataFrame:
    rows = [(claim, *vars(needed).values()) for claim, needed in ((DIFFER, difference), (MATCH, match))]
    return pd.DataFrame(rows, columns=[CLAIM, FIRST, SETTLED, SERVED, LIMIT, POWER])


def _signal(
    kind: str, d: float | None, *, error: float, match_error: float, power: float, answers: int | None
) -> AnswersNeeded:
    """The numbers for tests without a fixed chance: exact for Fisher's test, about right for a match."""
    if d is None or not 0 < d < np.inf:
        raise DesignError(f"no size to plan {kind} for", where=f"within_d={d!r}", do="declare within_d, a d' above 0")
    difference = difference_rates_needed(kind, d, error=error, power=power)
    match = match_rates_needed(kind, d, error=match_error, power=power)
    enough, size = max(difference.served, match.served), stated(d)
    sentence = words.SIGNAL_PLAN.format(
        kind=capital(said(kind)), differ=difference.served, d=size, power=percent(power), match=match.served
    )
    numbers = {"differ_served": float(difference.served), "match_served": float(match.served)}
    plan = Verdict(words.HOW_MANY, "", words.PLANNED, sentence, numbers, "", Act.KNOW)
    told = words.SIGNAL_SHORT.format(kind=capital(said(kind)), d=size, answers=answers, enough=enough)
    warning = Verdict(words.CAN_THIS_PANEL, "", words.NO, told, numbers, words.INSTEAD, Act.DECIDE)
    return AnswersNeeded(
        difference=difference,
        match=match,
        table=_table(difference, match),
        verdicts=(warning, plan) if answers is not None and answers < enough else (plan,),
        method=words.SIGNAL_METHOD.format(error=stated(error), power=stated(power)),
    )


def _verdicts(
    question: Question, difference: Needed, match: Needed, *, power: float, answers: int | None
) -> tuple[Verdict, ...]:
    numbers = {f"{claim}_{name}": float(getattr(needed, name)) for claim, needed in
               ((DIFFER, difference), (MATCH, match)) for name in (FIRST, SETTLED, SERVED)}  # fmt: skip
    sentence = words.PLAN.format(
        kind=capital(said(question.kind.name)), differ=difference.served, size=tolerance_text(question),
        power=percent(power), least=difference.limit, match=match.served, most=match.limit,
    )  # fmt: skip
    plan = Verdict(words.HOW_MANY, "", words.PLANNED, sentence, numbers, "", Act.KNOW)
    if answers is None:
        return (plan,)
    return (_with_answers(question, answers, max(difference.served, match.served), power), plan)


def _with_answers(question: Question, answers: int, enough: int, power: float) -> Verdict:
    """What the answers at hand can show, said first where they are too few."""
    if answers >= enough:
        sentence = words.ENOUGH.format(answers=answers, size=tolerance_text(question))
        return Verdict(words.CAN_THIS_PANEL, "", words.YES, sentence, {"answers": answers}, "", Act.KNOW)
    found = least_share_found(question, int(answers), power)
    sentence = (words.ONLY_LARGER if np.isfinite(found) else words.NEVER).format(
        kind=capital(said(question.kind.name)), answers=answers, share=percent(found), power=percent(power)
    )
    numbers = {"answers": answers, "needed": enough}
    return Verdict(
        words.CAN_THIS_PANEL, "", words.NO, sentence, numbers, _instead(question, answers, power), Act.DECIDE
    )


def _instead(question: Question, answers: int, power: float) -> str:
    """What as many tasters as there are answers can do: sit again where that helps."""
    sittings = sittings_needed(question, int(answers), power, match=True)
    if sittings is None:
        return words.INSTEAD
    return words.SITTINGS.format(sittings=sittings, answers=int(answers), kind=question.kind.name, power=percent(power))


def _method(question: Question, power: float) -> str:
    tiring = words.TIRING if question.kind.name == "tetrad" else ""
    rates = {"error": stated(question.error), "match_error": stated(question.match_error), "power": stated(power)}
    return words.METHOD.format(tiring=tiring, **rates)
