"""How many answers to plan: for showing a difference, and for showing a match, before anything is served."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from panelstats.arguments import checked, from_one
from panelstats.difference.counts.question import Question, ask
from panelstats.difference.counts.reading import DIFFER, MATCH
from panelstats.difference.counts.signal_sizes import difference_rates_needed, match_rates_needed
from panelstats.difference.counts.sizes import MOST_ANSWERS, Needed, difference_needs, least_share_found, match_needs
from panelstats.difference.counts.words import tolerance_text
from panelstats.errors import DesignError
from panelstats.models.kinds import SIGNAL, share_correct
from panelstats.result import Act, Chart, Result, Verdict, chart_rows, of_descriptor
from panelstats.words import percent

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
        rows = chart_rows(table["claim"], notes=table["served"].map("{:g} answers".format), value=table["served"],
                          low=table["first"], high=table["settled"])  # fmt: skip
        words = "from the first number of answers that can succeed to that from which all do; the dot: to be served"
        return Chart("Answers needed", "answers (number)", rows, words)


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
    sentence = (
        f"{kind.capitalize()} test: with {difference.served} answers, half of each kind of serving, a difference of d' "
        f"{d:g} is found in {percent(power)} of tests or more; a match within it takes about {match.served}."
    )
    numbers = {"differ_served": float(difference.served), "match_served": float(match.served)}
    plan = Verdict("How many answers are needed?", "", "planned", sentence, numbers, "", Act.KNOW)
    enough = max(difference.served, match.served)
    short = answers is not None and answers < enough
    told = f"A {kind} test cannot settle d' {d:g} with {answers} answers: about {enough} are needed."
    warning = Verdict("Can this panel settle it?", "", "no", told, numbers, _INSTEAD, Act.DECIDE)
    return AnswersNeeded(
        difference=difference,
        match=match,
        table=_table(difference, match),
        verdicts=(warning, plan) if short else (plan,),
        method=f"Difference: exact power of Fisher's one-sided test at error rate {error:g}, power {power:g}, for "
        "tasters whose line favours neither answer. Match: normal approximation for two rates.",
    )


_INSTEAD = "Compare descriptor scores instead, or find more tasters."


def _verdicts(
    question: Question, difference: Needed, match: Needed, *, power: float, answers: int | None
) -> tuple[Verdict, ...]:
    size = tolerance_text(question)
    numbers = {f"{claim}_{name}": float(getattr(needed, name)) for claim, needed in
               ((DIFFER, difference), (MATCH, match)) for name in (FIRST, SETTLED, SERVED)}  # fmt: skip
    sentence = (
        f"{question.kind.name.capitalize()} test: with {difference.served} answers a difference of {size} is found in "
        f"{percent(power)} of tests or more ({difference.limit} right show it), and with {match.served} answers a "
        f"match within it is shown as often ({match.limit} right or fewer show it)."
    )
    plan = Verdict("How many answers are needed?", "", "planned", sentence, numbers, "", Act.KNOW)
    if answers is None:
        return (plan,)
    return (_with_answers(question, answers, max(difference.served, match.served), power), plan)


def _with_answers(question: Question, answers: int, enough: int, power: float) -> Verdict:
    """What the answers at hand can show, said first where they are too few."""
    found = least_share_found(question, int(answers), power)
    can = (
        f"only a difference that {percent(found)} of the tasters can tell is found in {percent(power)} of tests"
        if np.isfinite(found)
        else "no result at all would show a difference"
    )
    if answers >= enough:
        sentence = f"{answers} answers are enough to settle {tolerance_text(question)} either way."
        return Verdict("Can this panel settle it?", "", "yes", sentence, {"answers": answers}, "", Act.KNOW)
    return Verdict(
        question="Can this panel settle it?",
        subject="",
        call="no",
        sentence=f"A {question.kind.name} test cannot settle this with {answers} answers: {can}.",
        numbers={"answers": answers, "needed": enough},
        next_step=_INSTEAD,
        act=Act.DECIDE,
    )


def _method(question: Question, power: float) -> str:
    return (
        f"Exact binomial power at every number of answers; error rates {question.error:g} (differ) and "
        f"{question.match_error:g} (match), power {power:g}. One answer from each taster: repeats by one taster do not "
        "replace tasters, since they count for less the more tasters differ. "
        + ("Four servings a set are supposed to tire nobody. " if question.kind.name == "tetrad" else "")
    ).strip()
