"""What is equal stays equal: estimates without the last digits, in which processors differ."""

from __future__ import annotations

import numpy as np

_DIGITS = 13  # kept of the largest; solving in double precision loses one or two of its sixteen


def tied(values: np.ndarray) -> np.ndarray:
    """Numbers of one unit rounded far below what any of them carries, so that ties are ties whoever computed them.

    Parameters
    ----------
    values : ndarray of float
        NaN and infinite ones stay.

    Examples
    --------
    >>> tied(np.array([0.1 + 0.2, 0.3, 3.0])).tolist()
    [0.3, 0.3, 3.0]
    """
    largest = np.abs(values[np.isfinite(values)]).max(initial=0.0)
    if largest == 0:
        return values
    places = _DIGITS - int(np.floor(np.log10(largest))) - 1
    return np.round(values, places) if places < 300 else values
