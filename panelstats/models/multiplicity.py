"""Adjusting p-values for the number of questions asked: Holm, and Benjamini and Hochberg.

Whole arrays of families at once, with gaps, which multipletests of statsmodels takes one by one and without; that and
scipy.stats take longer to import than a page takes to make. The tests hold these to both.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np


def holm(p: np.ndarray, axis: int | None = -1) -> np.ndarray:
    """P-values adjusted so that any false claim in the family is as rare as stated.

    Parameters
    ----------
    p : array_like of float in 0..1
        NaN is no member of the family and stays NaN.
    axis : int or None
        Axis along which a family lies; None makes one family of the whole array.

    Returns
    -------
    ndarray
        Shape of `p`.

    Notes
    -----
    Holm (1979), Scandinavian Journal of Statistics 6: 65-70. Valid whatever the dependence.

    Examples
    --------
    >>> print(holm(np.array([0.01, 0.04, np.nan, 0.03])))
    [0.03 0.06  nan 0.06]
    """

    def step_down(ordered: np.ndarray, rank: np.ndarray, size: np.ndarray) -> np.ndarray:
        return np.maximum.accumulate(ordered * (size - rank + 1), axis=-1)

    return _in_order(step_down, p, axis)


def benjamini_hochberg(p: np.ndarray, axis: int | None = -1) -> np.ndarray:
    """P-values adjusted so that false claims stay a stated share of all claims made.

    Parameters
    ----------
    p, axis
        As for `holm`.

    Returns
    -------
    ndarray
        Shape of `p`.

    Notes
    -----
    Benjamini & Hochberg (1995), Journal of the Royal Statistical Society B 57: 289-300. Valid for independent and for
    positively dependent p-values.

    Examples
    --------
    >>> print(benjamini_hochberg(np.array([0.01, 0.04, np.nan, 0.03])))
    [0.03 0.04  nan 0.04]
    """

    def step_up(ordered: np.ndarray, rank: np.ndarray, size: np.ndarray) -> np.ndarray:
        return np.fmin.accumulate((ordered * size / rank)[..., ::-1], axis=-1)[..., ::-1]

    return _in_order(step_up, p, axis)


def adjusted(p: np.ndarray, by: str) -> np.ndarray:
    """P-values of one family adjusted by "holm", "bh" or "none".

    Examples
    --------
    >>> print(adjusted(np.array([0.01, 0.04]), "holm"))
    [0.02 0.04]
    """
    rules: dict[str, Callable[[np.ndarray], np.ndarray]] = {"holm": holm, "bh": benjamini_hochberg, "none": np.asarray}
    return rules[by](p)


def _in_order(
    adjust: Callable[[np.ndarray, np.ndarray, np.ndarray], np.ndarray], p: np.ndarray, axis: int | None
) -> np.ndarray:
    """Sort each family with NaN last, adjust, cap at 1 and put back."""
    p = np.asarray(p, float)
    families = p.reshape(1, -1) if axis is None else np.moveaxis(p, axis, -1)
    order = np.argsort(families, axis=-1)
    ordered = np.take_along_axis(families, order, axis=-1)
    size = (~np.isnan(families)).sum(axis=-1, keepdims=True)
    adjusted = adjust(ordered, np.arange(1, families.shape[-1] + 1), size)
    answer = np.empty_like(families)
    np.put_along_axis(answer, order, np.where(np.isnan(ordered), np.nan, np.minimum(adjusted, 1.0)), axis=-1)
    return answer.reshape(p.shape) if axis is None else np.moveaxis(answer, -1, axis)
