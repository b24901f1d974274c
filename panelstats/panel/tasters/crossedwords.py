"""Words swapped or confused: a taster's descriptor that goes with the others' other descriptor, not with theirs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.panel.tasters.shuffles import Standardised, shuffled

# Each of the two halves of a swap reaches this far (ours).
EACH_HALF = 1.7
# Words whose marks go together more than this for the others cannot be told apart (ours).
TOGETHER = 0.7
# This many words that follow one word are one impression (ours).
ONE_IMPRESSION = 3
# Share of panels without any such fault in which one is called, for each of the two kinds.
FALSE_CALLS = 0.025
# Where nothing reaches this far, chance alone reaches farther, and no shuffles are drawn.
WORTH_A_TEST = 1.96
SWAPPED, FOLLOWS, IMPRESSION = "swapped", "follows", "one impression"


@dataclass(frozen=True)
class Crossed:
    """One taster's word that goes with another word of the others; tasters and descriptors by index.

    Attributes
    ----------
    taster, word, other : int
    kind : str
        swapped (the other word goes with the others' `word`, too), follows, or one impression under several words.
    own, across : float
        Correlation of the taster's `word` with the others' `word`, and with their `other`.
    statistic, limit : float
        Williams' t, for a swap the sum of both over the root of 2; and what chance alone exceeds in 1 of 40 panels.
    """

    taster: int
    word: int
    other: int
    kind: str
    own: float
    across: float
    statistic: float
    limit: float


def crossed_words(found: Standardised, stage: np.ndarray, gate: np.ndarray) -> list[Crossed]:
    """The strongest call of each taster, if any.

    Parameters
    ----------
    found : Standardised
    stage : ndarray, shape (descriptor,)
        Words are compared within their stage.
    gate : ndarray of bool, shape (taster, descriptor)
        Where the others tell the lots apart.

    Notes
    -----
    Williams (1959), J. R. Stat. Soc. B 21: 396, for two correlations that share the taster's word; limits from the
    largest statistic over all tasters and pairs when each taster's lots are shuffled as whole rows, so that they hold
    over every look taken.
    """
    others = np.moveaxis(found.others, 0, 2)  # (taster, descriptor, row)
    between = others @ np.swapaxes(others, 1, 2)
    asked = gate[:, :, None] & gate[:, None, :] & (stage[:, None] == stage) & (between <= TOGETHER)
    asked &= ~np.eye(len(stage), dtype=bool)
    if not asked.any():
        return []
    n = np.minimum(found.df[:, :, None], found.df[:, None, :]) + 1.0

    def statistics(own: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        r = np.moveaxis(own, -3, -1) @ np.swapaxes(others, 1, 2)  # (..., taster, own word, others' word)
        t = np.where(asked, williams_t(r, between, n), -np.inf)
        back = np.swapaxes(t, -2, -1)
        swap = np.where(np.minimum(t, back) > EACH_HALF, (t + back) / np.sqrt(2), -np.inf)
        return r, t, swap

    r, t, swap = statistics(found.own)
    if max(t.max(), swap.max()) < WORTH_A_TEST:
        return []
    drawn = [[values.max(axis=(-3, -2, -1)) for values in statistics(own)[1:]] for own in shuffled(found)]
    limits = np.quantile(np.concatenate(drawn, axis=1), 1 - FALSE_CALLS, axis=1, method="higher")
    out = []
    for i in range(len(gate)):
        call = _strongest(t[i], swap[i], limits)
        if call:
            kind, word, other, value, limit = call
            out.append(Crossed(i, word, other, kind, float(r[i, word, word]), float(r[i, word, other]), value, limit))
    return out


def williams_t(r: np.ndarray, between: np.ndarray, n: np.ndarray) -> np.ndarray:
    """T for r[d, e] > r[d, d]; arrays (..., own word, others' word), `between` the others' words among themselves."""
    same = np.diagonal(r, axis1=-2, axis2=-1)[..., None]
    mean = (r + same) / 2
    determinant = 1 - r**2 - same**2 - between**2 + 2 * r * same * between
    with np.errstate(divide="ignore", invalid="ignore"):
        below = 2 * (n - 1) / (n - 3) * np.maximum(determinant, 0.0) + mean**2 * (1 - between) ** 3
        t = (r - same) * np.sqrt((n - 1) * (1 + between) / below)
    return np.where((n > 3) & np.isfinite(t), t, -np.inf)


def _strongest(t: np.ndarray, swap: np.ndarray, limits: np.ndarray) -> tuple[str, int, int, float, float] | None:
    """Kind, word, other, statistic and limit of one taster's strongest call: a swap before words that follow."""
    if swap.max() > limits[1]:
        word, other = np.unravel_index(swap.argmax(), swap.shape)
        return SWAPPED, int(word), int(other), float(swap.max()), float(limits[1])
    if t.max() > limits[0]:
        word, other = np.unravel_index(t.argmax(), t.shape)
        many = (t[:, other] > limits[0]).sum() >= ONE_IMPRESSION
        return IMPRESSION if many else FOLLOWS, int(word), int(other), float(t.max()), float(limits[0])
    return None
