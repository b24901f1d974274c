"""Questions about answers: what difference tests show."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from panelstats.arguments import checked, table
from panelstats.questions.asking import named
from panelstats.review import Review
from panelstats.scores.cells import SESSION
from panelstats.words import listing

if TYPE_CHECKING:
    import pandas as pd


@checked(answers=table)
def review_answers(
    answers: pd.DataFrame,
    *,
    within_share: float | None = None,
    within_d: float | None = None,
    error: float = 0.05,
    match_error: float = 0.05,
) -> Review:
    """Judge the answers of difference tests.

    Parameters
    ----------
    answers : DataFrame
        As `read_answers` gives them, or any table that `judge_answers` takes.
    within_share, within_d, error, match_error : float
        As for `judge_answers`.

    Returns
    -------
    Review

    Raises
    ------
    SheetError, DesignError
        As `judge_answers`.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"test": "B1 with S", "kind": "triangle", "taster": list("abc"), "answer": "right"})
    >>> pst.review_answers(sheet).title
    'B1 with S'
    """
    from panelstats.difference.answers.fit import judge_answers

    judged = judge_answers(answers, within_share=within_share, within_d=within_d, error=error, match_error=match_error)
    digest = hashlib.sha256(answers.to_csv(index=False).encode()).hexdigest()[:16]
    files = f" ({', '.join(dict.fromkeys(answers['file']))})" if "file" in answers else ""
    sessions = [name for name in dict.fromkeys(judged.table[SESSION].astype(str)) if name]
    when = f", {'session' if len(sessions) == 1 else 'sessions'} {listing(sessions)}" if sessions else ""
    title = named(dict.fromkeys(judged.table["test"].astype(str)), "difference test")
    return Review(title, "Do they differ, do they match?", (("Tests", judged),), source=digest + files + when)
