"""What a second look at a lot may change in a list: the expected gain, and how much better the list becomes."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr

from panelstats.models.chances import chances_by_cut

MOVES = 50
FAR = 1e3  # SDs beyond which no gain is left, and squares would overflow
UNLIKELY = 1e-3  # lots with a smaller chance take no part in a forecast


def expected_gain(distance: np.ndarray, moves: np.ndarray) -> np.ndarray:
    """Expected gain of one more look, in points of merit in one place of the list.

    Parameters
    ----------
    distance : ndarray
        From a lot's merit to the other side of the cut, 0 or more.
    moves : ndarray
        SD by which its merit moves with the next look.

    Notes
    -----
    u [phi(z) - z Phi(-z)], z = distance / u (Gupta & Miescke 1996, Journal of Statistical Planning and Inference 54).

    Examples
    --------
    >>> print(expected_gain(np.array([0.0, 0.5]), np.array([0.3, 0.3])).round(4))
    [0.1197 0.0059]
    """
    z = np.minimum(distance / np.maximum(moves, 1e-300), FAR)
    return moves * (np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi) - z * ndtr(-z))


def to_the_cut(merit: np.ndarray, listed: np.ndarray) -> np.ndarray:
    """Distance of each merit to the other side of the cut: to the first outside, or to the last inside."""
    return np.where(listed, merit - merit[~listed].max(), merit[listed].min() - merit)


def share_right(
    merit: np.ndarray, variance: np.ndarray, after: np.ndarray, chosen: np.ndarray, take: int, rng: np.random.Generator
) -> float:
    """Expected share of the list that is right after a second look at the chosen lots.

    Parameters
    ----------
    merit, variance, after : ndarray, shape (lot,)
        Merits, their variances, and their variances after one more look.
    chosen : ndarray of bool, shape (lot,)
    take : int
    rng : Generator
    """
    moves = np.sqrt(np.maximum(variance - after, 0)) * chosen
    moved = merit + moves * rng.standard_normal((MOVES, len(merit)))
    if not chosen.any():
        moved = moved[:1]  # nothing moves: every draw is the same
    chance = chances_by_cut(moved, np.where(chosen, after, variance), take)
    return float(np.partition(chance, len(merit) - take, axis=1)[:, len(merit) - take :].mean())
