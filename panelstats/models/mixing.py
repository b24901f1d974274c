"""Bulk density of mixtures of grades: what it can be at the least and at the most."""

from __future__ import annotations

import numpy as np


def mixture_bounds(share: np.ndarray, density: np.ndarray) -> tuple[float, float]:
    """Bulk density of a mixture if volumes add, and if finer leaf takes no room beside coarser.

    Parameters
    ----------
    share : ndarray, shape (grade,)
        Shares of mass, adding to 1.
    density : ndarray, shape (grade,)
        Bulk densities in one state.

    Returns
    -------
    tuple of float
        Lowest and highest density, in the unit of `density`.

    Notes
    -----
    Void filling as Furnas 1931 (Industrial and Engineering Chemistry 23: 1052) and Westman & Hugill 1930 (from memory),
    where the density of a leaf piece is not known and the leaf itself counts nothing: the bound is weaker for it.

    Examples
    --------
    >>> low, high = mixture_bounds(np.array([0.6, 0.4]), np.array([0.25, 0.45]))
    >>> print(round(low, 3), round(high, 3))
    0.304 0.417
    """
    volume = share / density
    return float(1 / volume.sum()), float(1 / volume.max())
