"""Curves from d' to the share of right answers: Thurstone's model with the taster's decision rule of each kind.

Percepts of one product are normal with mean 0, of the other with mean d', both with standard deviation 1 and
independent from serving to serving. The share of wrong answers is computed, not that of right ones: every form below
keeps its relative accuracy in the upper tail, so that d' stays exact however easy the test. The bivariate normal
integrals reduce to Owen's T (Owen 1956, Ann. Math. Statist. 27).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr, owens_t

from panelstats.models.kinds.register import forced_kind
from panelstats.models.kinds.two_of_five import right_two_of_five, slope_two_of_five

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike

ROOT2, ROOT3, ROOT6 = np.sqrt([2.0, 3.0, 6.0])


def _density(x: np.ndarray) -> np.ndarray:
    return np.exp(-0.5 * x * x) / np.sqrt(2 * np.pi)


def _duo_trio(d: np.ndarray) -> np.ndarray:
    h, k = d / ROOT2, d / ROOT6
    return ndtr(h) * ndtr(-k) + ndtr(k) * ndtr(-h)


def _duo_trio_slope(d: np.ndarray) -> np.ndarray:
    h, k = d / ROOT2, d / ROOT6
    return _density(h) * (2 * ndtr(k) - 1) / ROOT2 + _density(k) * (2 * ndtr(h) - 1) / ROOT6


# Triangle: with W the scaled contrast of the odd one and D the scaled difference of the pair, right means
# |W| > sqrt(3)|D|, and the complement is two wedges. Tetrad and 3-AFC split into bivariate normal pieces alike.
_WRONG: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "2-afc": lambda d: ndtr(-d / ROOT2),
    "paired": lambda d: ndtr(-d / ROOT2),
    "3-afc": lambda d: ndtr(-d / ROOT2) + 2 * owens_t(d / ROOT2, 1 / ROOT3),
    "triangle": lambda d: 4 * owens_t(d / ROOT6, ROOT3),
    "duo-trio": _duo_trio,
    "tetrad": lambda d: 8 * owens_t(d / ROOT2, 1 / ROOT3),
    "two-out-of-five": lambda d: 1 - right_two_of_five(d),
}
_SLOPE: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "2-afc": lambda d: _density(d / ROOT2) / ROOT2,
    "paired": lambda d: _density(d / ROOT2) / ROOT2,
    "3-afc": lambda d: ROOT2 * _density(d / ROOT2) * ndtr(d / ROOT6),
    "triangle": lambda d: 4 / ROOT6 * _density(d / ROOT6) * (ndtr(d / ROOT2) - 0.5),
    "duo-trio": _duo_trio_slope,
    "tetrad": lambda d: 4 * ROOT2 * _density(d / ROOT2) * (ndtr(d / ROOT6) - 0.5),
    "two-out-of-five": slope_two_of_five,
}


def share_wrong(kind: str, d: ArrayLike) -> np.ndarray:
    """Share of wrong answers at d', exact in relative terms however small.

    Parameters
    ----------
    kind : str
        A forced choice: triangle, duo-trio, paired, 2-afc, 3-afc, tetrad, two-out-of-five.
    d : array_like, any shape
        d' in standard deviations of one percept, 0 or more (any sign for paired).

    Returns
    -------
    ndarray, same shape
        1 less the share of right answers. Two-out-of-five rests where its curve ends, at d' = 12, with 1.5e-7.

    Raises
    ------
    DesignError
        The kind is unknown or no forced choice.

    Examples
    --------
    >>> share_wrong("triangle", [0.0, 1.0, 20.0]).round(6)
    array([0.666667, 0.581953, 0.      ])
    """
    return _WRONG[forced_kind(kind).name](np.asarray(d, float))


def share_correct(kind: str, d: ArrayLike) -> np.ndarray:
    """Share of right answers at d'.

    Parameters
    ----------
    kind : str
        A forced choice, as for `share_wrong`.
    d : array_like, any shape
        d', as for `share_wrong`.

    Returns
    -------
    ndarray, same shape

    Notes
    -----
    Two-out-of-five supposes that the taster picks the grouping with the least spread inside the groups; no standard
    fixes that rule. Duo-trio supposes that distances to the reference are compared.

    Examples
    --------
    >>> [round(float(share_correct(kind, 1.0)), 3) for kind in ("triangle", "duo-trio", "2-afc", "3-afc", "tetrad")]
    [0.418, 0.582, 0.76, 0.634, 0.494]
    """
    return 1 - share_wrong(kind, d)


def slope(kind: str, d: ArrayLike) -> np.ndarray:
    """Slope of the share of right answers at d'; 0 at d' = 0 where the curve starts flat.

    Parameters
    ----------
    kind : str
        A forced choice, as for `share_wrong`.
    d : array_like, any shape
        d', as for `share_wrong`.

    Returns
    -------
    ndarray, same shape
        Share of right answers per unit of d'.

    Examples
    --------
    >>> slope("2-afc", 0.0).round(6), slope("triangle", 0.0).round(6)
    (np.float64(0.282095), np.float64(0.0))
    """
    return _SLOPE[forced_kind(kind).name](np.asarray(d, float))
