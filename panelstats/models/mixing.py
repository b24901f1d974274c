"""Bulk density of mixtures of grades: what it can be at the least and at the most."""

from __future__ import annotations

import numpy as np


def mixture_bounds(share: np.ndarray, density: np.ndarray, particle: np.ndarray | None = None) -> tuple[float, float]:
    """Bulk density of a mixture if volumes add, and if fine leaf fills every gap of coarse leaf.

    Parameters
    ----------
    share : ndarray, shape (grade,)
        Shares of mass, coarse to fine, adding to 1.
    density : ndarray, shape (grade,)
        Bulk densities in one state.
    particle : ndarray, shape (grade,), optional
        Density of a leaf piece with its closed pores; NaN where not known.

    Returns
    -------
    tuple of float
        Lowest and highest density, in the unit of `density`.

    Notes
    -----
    1 / density = sum of share / density; void filling as Furnas 1931 (Industrial and Engineering Chemistry 23: 1052)
    and Westman & Hugill 1930 (from memory): v_i = sum over coarser j of share_j / particle_j + share_i / density_i,
    density = 1 / max v_i. Without particle densities the coarser leaf counts nothing, which bounds more weakly.

    Examples
    --------
    >>> low, high = mixture_bounds(np.array([0.6, 0.4]), np.array([0.25, 0.45]), np.array([0.9, np.nan]))
    >>> print(round(low, 3), round(high, 3))
    0.304 0.417
    """
    solid = np.zeros(len(share)) if particle is None else np.nan_to_num(share / particle)
    coarser = np.concatenate([[0.0], np.cumsum(solid)[:-1]])
    return float(1 / (share / density).sum()), float(1 / (coarser + share / density).max())
