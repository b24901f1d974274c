"""From right answers back to d': the root of the curve, found alike at chance and where hardly anyone errs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtri

from panelstats.models.kinds.curves import share_wrong
from panelstats.models.kinds.register import forced_kind

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

# Halvings of [0, 40]: leaves 40 / 2**46, less than 1e-12.
HALVINGS = 46


def d_prime(kind: str, *, wrong: ArrayLike) -> np.ndarray:
    """The d' that a share of wrong answers stands for.

    Parameters
    ----------
    kind : str
        A forced choice: triangle, duo-trio, paired, 2-afc, 3-afc, tetrad, two-out-of-five.
    wrong : array_like, any shape
        Share of wrong answers in [0, 1]; pass (answers - correct) / answers, so that no digit is lost near 0.

    Returns
    -------
    ndarray, same shape
        0 at or below chance, infinite where nothing is wrong, NaN where `wrong` is. For paired the sign says which way.
        Two-out-of-five ends at 12.

    Raises
    ------
    DesignError
        The kind is unknown or no forced choice.

    Notes
    -----
    Bisection of the share of wrong answers, vectorised; it needs no slope, which most kinds lack at d' = 0.

    Examples
    --------
    >>> d_prime("triangle", wrong=[2 / 3, 0.5, 0.0]).round(4)
    array([0.    , 1.4663,    inf])
    """
    this = forced_kind(kind)
    wrong = np.asarray(wrong, float)
    if this.two_sided:
        return -np.sqrt(2.0) * ndtri(wrong) + 0.0  # + 0.0: chance is 0, not -0
    at_chance = float(1 - (this.chance or 0))  # rounded once, as the quotient of two counts is
    found = np.where(wrong >= at_chance, 0.0, _bisect(this.name, wrong, this.most_d))
    return np.where(np.isnan(wrong), np.nan, np.where(wrong <= 0, np.inf, found))


def _bisect(kind: str, wrong: np.ndarray, most: float) -> np.ndarray:
    low, high = np.zeros(wrong.shape), np.full(wrong.shape, most)
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        above = share_wrong(kind, middle) > wrong  # more wrong here than asked: d' lies higher
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return (low + high) / 2
