"""Best linear unbiased predictions of lots, where lots are a random draw (Henderson 1975, Biometrics 31:423)."""

from __future__ import annotations

import numpy as np

from panelstats.models.mixed import Fit
from panelstats.models.reml import LOT, LOT_POT, RESIDUAL


def lot_predictions(fit: Fit) -> tuple[np.ndarray, np.ndarray]:
    """Predicted deviation of each lot from the mean of all lots, and its standard error of prediction.

    Parameters
    ----------
    fit : Fit
        With lots random.

    Returns
    -------
    prediction, se : ndarray, shape (R,)
        In the order of the blocks' rows. The standard error takes the variances as known.
    """
    b, lot, whole = fit.blocks, fit.at.lots_in, fit.at.tasters_in
    t, d, at = b.tasters, b.row_descriptor, b.row_block
    variance = fit.variances[d, LOT]
    ratio = fit.variances[d, LOT_POT] / fit.variances[d, RESIDUAL]
    row, pot_row = lot.K.sum(axis=2), lot.J.sum(axis=1)
    level = b.z[:, :t] - (whole.u - b.shift)[d]
    pull = np.einsum("rt,rt->r", row[at], level) - ratio * np.einsum("rp,rp->r", pot_row[at], b.z[:, t:])
    information = row.sum(axis=1)[at] - np.einsum("rt,rtu,ru->r", row[at], whole.inner[d], row[at], optimize=True)
    return variance * pull, np.sqrt(np.maximum(variance - variance**2 * information, 0.0))
