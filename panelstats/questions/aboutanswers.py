"""Questions about what came without scores: answers of difference tests, weighings."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from panelstats.arguments import checked
from panelstats.arguments.objects import table as tabled
from panelstats.questions.asking import named
from panelstats.review import Review
from panelstats.scores.cells import SESSION
from panelstats.speech import Phrase
from panelstats.words import listing, stated

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd


@checked(answers=tabled)
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
    sessions = [name for name in dict.fromkeys(judged.table[SESSION].astype(str)) if name]
    source = _digest(answers)
    if sessions:
        told = Phrase("{source}, session {names}") if len(sessions) == 1 else Phrase("{source}, sessions {names}")
        source = told.format(source=source, names=listing(sessions))
    title = named(dict.fromkeys(judged.table["test"].astype(str)), "difference test")
    return Review(title, Phrase("Do they differ, do they match?"), (("Tests", judged),), source=source)


def _digest(table: pd.DataFrame) -> str:
    """Digest of what was read, and of which files."""
    files = f" ({', '.join(dict.fromkeys(table['file']))})" if "file" in table else ""
    return hashlib.sha256(table.to_csv(index=False).encode()).hexdigest()[:16] + files


@checked()
def review_packs(
    densities: pd.DataFrame,
    *,
    grams: float,
    millilitres: float,
    fill: float = 0.9,
    allowed: float = 0.01,
    state: str | None = None,
    mix: Mapping[str, float] | None = None,
    charge_cv: float = 0.0,
    capacity_cv: float = 0.0,
    level: float = 0.95,
    seed: int = 0,
) -> Review:
    """Will a charge of leaf fit its pack?

    Parameters
    ----------
    densities : DataFrame
        As `read_densities` gives them.
    grams, millilitres, fill, allowed, state, mix, charge_cv, capacity_cv, level, seed
        As for `fit_pack`.

    Raises
    ------
    DesignError
        As `fit_pack`.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> weighed = pd.DataFrame({"lot": list("aabbcc"), "mass": [166, 168, 160, 161, 170, 172], "volume": 500.0})
    >>> pst.review_packs(weighed, grams=250, millilitres=900).title
    '250 g in 900 ml'
    """
    from panelstats.lots.packs.fit import fit_pack

    found = fit_pack(densities, grams=grams, millilitres=millilitres, fill=fill, allowed=allowed, state=state, mix=mix,
                     charge_cv=charge_cv, capacity_cv=capacity_cv, level=level, seed=seed)  # fmt: skip
    title = Phrase("{grams} g in {millilitres} ml").format(grams=stated(grams), millilitres=stated(millilitres))
    return Review(title, Phrase("Will it fit the pack?"), (("Packs", found),), source=_digest(densities))
