"""Do marks scatter more in the last third of what a taster took than in the first?"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.additive import fit_additive
from panelstats.plan.session import words
from panelstats.result import Act, Verdict
from panelstats.words import count, interval, number

if TYPE_CHECKING:
    import pandas as pd

LEAST = 9  # cups of a taster in a session: three in each third (ours)
DRAWS = 999
_LEVEL = 0.95


def tired_verdicts(marks: pd.DataFrame) -> list[Verdict]:
    """Whether tasters tire, from what lot and taster leave of the marks; none where there is too little to tell by.

    Parameters
    ----------
    marks : DataFrame
        session, taster, lot, pot, look, descriptor, position, score.

    Notes
    -----
    Of each session and descriptor the residuals of cup + taster, in units of their own root mean square; a cup of a
    taster counts once, with the mean square over descriptors. The ratio of root mean squares, last third over first,
    with a percentile interval from cups drawn again within each third (Efron & Tibshirani 1993).
    """
    squares, thirds = _squares(marks)
    first, last = squares[thirds == 0], squares[thirds == 2]
    if min(len(first), len(last)) < LEAST or not first.mean() > 0:
        return []
    ratio = float(np.sqrt(last.mean() / first.mean()))
    rng = np.random.default_rng(0)
    drawn = [rng.choice(part, (DRAWS, len(part))).mean(axis=1) for part in (last, first)]
    low, high = np.quantile(np.sqrt(drawn[0] / drawn[1]), [(1 - _LEVEL) / 2, (1 + _LEVEL) / 2])
    fields = {"ratio": number(ratio, 2), "interval": interval(float(low), float(high), 2),
              "cups": count(len(first) + len(last), "cup")}  # fmt: skip
    numbers = {"ratio": ratio, "low": float(low), "high": float(high)}
    told = (words.TIRED if low > 1 else words.NOT_TIRED).format(**fields)
    if low > 1:
        return [Verdict(words.TIRED_QUESTION, "", words.YES, told, numbers, words.TIRED_STEP, Act.DECIDE)]
    return [Verdict(words.TIRED_QUESTION, "", words.CANNOT_TELL, told, numbers, words.NOT_TIRED_STEP, Act.KNOW)]


def _squares(marks: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Mean squared residual of every cup of every taster, and the third of the taster's order in which it stood."""
    squares, thirds = [], []
    for _, session in marks.groupby("session", observed=True):
        cup = session.groupby(["lot", "pot", "look"], observed=True).ngroup().to_numpy()
        taster, who = session["taster"].astype(str).factorize()
        word, names = session["descriptor"].astype(str).factorize()
        y = np.full((cup.max() + 1, len(who), len(names)), np.nan)
        place = np.full(y.shape[:2], np.nan)
        y[cup, taster, word], place[cup, taster] = session["score"], session["position"]
        left = fit_additive(np.nan_to_num(y), ~np.isnan(y)).residual
        left = np.where(np.isnan(y), np.nan, left)
        size = np.sqrt(np.nanmean(left**2, axis=(0, 1)))
        told = left[..., size > 0] / size[size > 0]
        for at in range(len(who)):
            mine = np.flatnonzero(~np.isnan(place[:, at]))
            if len(who) < 2 or len(mine) < LEAST or not told.shape[-1]:
                continue
            rank = np.argsort(np.argsort(place[mine, at]))
            squares.append(np.nanmean(told[mine, at] ** 2, axis=1))
            thirds.append(3 * rank // len(mine))
    none = np.zeros(0)
    return (np.concatenate(squares), np.concatenate(thirds)) if squares else (none, none)
