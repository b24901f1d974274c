"""How many lots an interval needs to come clear of a tolerance."""

from __future__ import annotations

import numpy as np
from scipy import special

# Beyond this many lots the answer is that the value sits at the tolerance (ours).
MOST_LOTS = 400


def settling_lots(sd: np.ndarray, gap: np.ndarray, *, tail: float = 0.025, assurance: float = 0.5) -> np.ndarray:
    """Fewest lots n with (t + t of the assurance) sd / sqrt(n) <= gap, t on n - 1 df; inf beyond MOST_LOTS."""
    n = np.arange(3, MOST_LOTS + 1)
    reach = (special.stdtrit(n - 1, 1 - tail) + special.stdtrit(n - 1, assurance)) / np.sqrt(n)
    wanted = np.divide(gap, sd, out=np.full(np.shape(sd), np.inf), where=np.asarray(sd) > 0)
    at = np.searchsorted(-reach, -wanted)  # reach falls with n
    found = np.where(at < len(n), n[np.minimum(at, len(n) - 1)], np.inf)
    return np.where(np.isnan(wanted), np.nan, found)
