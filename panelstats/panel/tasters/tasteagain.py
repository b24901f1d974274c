"""Three bowls to taste again: the lots on which a taster and the others lie farthest apart."""

from __future__ import annotations

import numpy as np
import pandas as pd

from panelstats.panel.tasters.assessed import Assessed
from panelstats.panel.tasters.judgement import Bench
from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION, TASTER

OWN, OTHERS, DIFFERENCE = "own", "others", "difference"
# Bowls handed back to each taster (ours).
BOWLS = 3


def taste_again_of(a: Assessed) -> pd.DataFrame:
    """Three lots a taster: where own and others' marks lie farthest apart, measured in tolerances."""
    return bowls(a.bench, a.names.judgement.reference.score, _at_issue(a))


def bowls(bench: Bench, score: np.ndarray, at_issue: np.ndarray) -> pd.DataFrame:
    """The BOWLS lots of each taster with the largest difference to `score` on the descriptors at issue."""
    pool = bench.pool
    difference = pool.mean - score
    size = np.where(np.isnan(difference) | ~at_issue, -1.0, np.abs(difference) / bench.tolerance)
    descriptor = size.argmax(axis=2)  # (row, taster)
    largest = np.take_along_axis(size, descriptor[..., None], axis=2)[..., 0]
    rows = np.argsort(-largest, axis=0, kind="stable")[:BOWLS]
    row, taster = rows.T.ravel(), np.repeat(np.arange(len(pool.tasters)), len(rows))
    d = descriptor[row, taster]
    out = pd.DataFrame(
        {
            TASTER: pool.tasters[taster],
            DESCRIPTOR: pool.descriptors[d],
            SESSION: pool.sessions[pool.session[row]],
            LOT: pool.lots[row],
            OWN: pool.mean[row, taster, d],
            OTHERS: score[row, taster, d],
            DIFFERENCE: difference[row, taster, d],
        }
    )
    return out[largest[row, taster] >= 0].reset_index(drop=True)


def _at_issue(a: Assessed) -> np.ndarray:
    """Descriptors named; else those that stand out or are not shown inside; else all. (taster, descriptor)."""
    judged = a.names.judgement.judged
    shape = (len(a.tasters), len(a.descriptors))
    named = np.zeros(shape, bool)
    doubt = np.zeros(shape, bool)
    for k in judged:
        named |= a.names.cells[k]
        doubt |= a.names.cells_out[k] | a.names.judgement.cells[k].outside
    rows = [next(m for m in (named[i], doubt[i], np.ones(shape[1], bool)) if m.any()) for i in range(shape[0])]
    return np.array(rows, bool).reshape(shape)
