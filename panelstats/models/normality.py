"""Whether values look normal, from their skewness and kurtosis."""

from __future__ import annotations

import numpy as np
from scipy.special import chdtrc

# Fewer values than this have no such test: kurtosis is far from its limiting law.
LEAST = 8


def omnibus_p(values: np.ndarray) -> np.ndarray:
    """Chance of as much skewness and kurtosis in normal values, by column.

    Parameters
    ----------
    values : ndarray, shape (n, column)
        NaN is left out.

    Returns
    -------
    ndarray, shape (column,)
        NaN for fewer than 8 values, or values that do not vary.

    Notes
    -----
    D'Agostino & Pearson (1973), Biometrika 60: 613; skewness after D'Agostino (1970), kurtosis after Anscombe & Glynn
    (1983).

    Examples
    --------
    >>> print(omnibus_p(np.array([[1.0, 2, 2, 3, 3, 3, 4, 4, 5, 30]]).T).round(4))
    [0.]
    """
    n = (~np.isnan(values)).sum(axis=0).astype(float)
    n = np.where(n >= LEAST, n, np.nan)
    deviation = np.where(np.isnan(values), 0.0, values - np.nansum(values, axis=0) / n)
    m2, m3, m4 = ((deviation**k).sum(axis=0) / n for k in (2, 3, 4))
    with np.errstate(divide="ignore", invalid="ignore"):
        z = _skewness_z(m3 / m2**1.5, n), _kurtosis_z(m4 / m2**2, n)
        return np.where(m2 > 0, chdtrc(2, z[0] ** 2 + z[1] ** 2), np.nan)


def _skewness_z(g1: np.ndarray, n: np.ndarray) -> np.ndarray:
    y = g1 * np.sqrt((n + 1) * (n + 3) / (6 * (n - 2)))
    b2 = 3 * (n**2 + 27 * n - 70) * (n + 1) * (n + 3) / ((n - 2) * (n + 5) * (n + 7) * (n + 9))
    w2 = np.sqrt(2 * (b2 - 1)) - 1
    return np.arcsinh(y / np.sqrt(2 / (w2 - 1))) / np.sqrt(np.log(w2) / 2)


def _kurtosis_z(b2: np.ndarray, n: np.ndarray) -> np.ndarray:
    variance = 24 * n * (n - 2) * (n - 3) / ((n + 1) ** 2 * (n + 3) * (n + 5))
    x = (b2 - 3 * (n - 1) / (n + 1)) / np.sqrt(variance)
    skew = 6 * (n**2 - 5 * n + 2) / ((n + 7) * (n + 9)) * np.sqrt(6 * (n + 3) * (n + 5) / (n * (n - 2) * (n - 3)))
    a = 6 + 8 / skew * (2 / skew + np.sqrt(1 + 4 / skew**2))
    root = np.cbrt((1 - 2 / a) / (1 + x * np.sqrt(2 / (a - 4))))
    return (1 - 2 / (9 * a) - root) / np.sqrt(2 / (9 * a))
