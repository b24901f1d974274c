"""Shares of ingredients whose weighted mean meets a target: nearest, cheapest, fewest; bounds and sum kept."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, lsq_linear, milp

from panelstats.errors import DesignError

# Weight of the row that holds the shares to 1, times the largest entry; 1e4 leaves the sum right to 8 digits.
HEAVY = 1e4
# Pull towards equal shares where several recipes are as near, against the largest entry squared.
PULL = 1e-8
# A share below this is none.
LEAST = 1e-6
SECONDS = 20.0  # given to the search for the fewest


class Stock(NamedTuple):
    """What there is to mix.

    Attributes
    ----------
    profile : ndarray, shape (descriptor, lot)
    target : ndarray, shape (descriptor,)
    lower, upper : ndarray, shape (lot,)
        Least and most share of each.
    """

    profile: np.ndarray
    target: np.ndarray
    lower: np.ndarray
    upper: np.ndarray

    def off(self, shares: np.ndarray) -> np.ndarray:
        """The blend less the target, shape (descriptor,)."""
        return self.profile @ shares - self.target


def check_bounds(stock: Stock) -> None:
    """Refuse bounds that no shares adding to 1 can keep.

    Raises
    ------
    DesignError
    """
    if (stock.lower > stock.upper + 1e-12).any():
        at = int(np.argmax(stock.lower - stock.upper))
        raise DesignError("a least share above the most", where=f"lot {at + 1} of the stock: {stock.lower[at]:g} and "
                          f"{stock.upper[at]:g}", do="lower the one or raise the other")  # fmt: skip
    if stock.lower.sum() > 1 + 1e-9:
        raise DesignError("least shares add up to more than the whole", where=f"sum {stock.lower.sum():.3g}",
                          do="lower some of them")  # fmt: skip
    if stock.upper.sum() < 1 - 1e-9:
        raise DesignError("the stock does not fill the batch", where=f"most shares add up to {stock.upper.sum():.3g}",
                          do="make a smaller batch, or add lots")  # fmt: skip


def nearest(stock: Stock, weight: np.ndarray) -> np.ndarray:
    """Shares whose blend lies nearest to the target, weighted; of several as near the most even.

    Parameters
    ----------
    stock : Stock
    weight : ndarray, shape (descriptor,)
        Of squared differences.

    Notes
    -----
    Bounded least squares with a heavy row for the sum (Stark & Parker 1995, Computational Statistics 10: 129).

    Examples
    --------
    >>> stock = Stock(np.array([[4.0, 6.0]]), np.array([5.5]), np.zeros(2), np.ones(2))
    >>> print(nearest(stock, np.ones(1)).round(3))
    [0.25 0.75]
    """
    root, n = np.sqrt(weight), stock.profile.shape[1]
    scale = max(float(np.abs(root[:, None] * stock.profile).max(initial=0.0)), 1.0)
    even = np.sqrt(PULL) * scale
    rows = np.vstack([root[:, None] * stock.profile, even * np.eye(n), HEAVY * scale * np.ones((1, n))])
    right = np.concatenate([root * stock.target, np.full(n, even / n), [HEAVY * scale]])
    free = stock.upper - stock.lower > 1e-12
    shares = stock.lower.copy()
    if free.any():
        found = lsq_linear(rows[:, free], right - rows[:, ~free] @ shares[~free],
                           bounds=(stock.lower[free], stock.upper[free]), method="bvls", tol=1e-14)  # fmt: skip
        shares[free] = found.x
    return _whole(shares, stock)


def cheapest(stock: Stock, within: np.ndarray, cost: np.ndarray, least: float) -> np.ndarray | None:
    """Shares of the lowest cost whose blend lies within `within` of the target on each descriptor; None for none.

    Parameters
    ----------
    stock : Stock
    within : ndarray, shape (descriptor,)
    cost : ndarray, shape (lot,)
    least : float
        A lot takes part with at least this share, or not at all.
    """
    return _searched(stock, within, cost, 0.0, least)


def fewest(stock: Stock, within: np.ndarray, least: float) -> np.ndarray | None:
    """The fewest lots whose blend lies within `within` of the target on each descriptor; None for none."""
    return _searched(stock, within, np.zeros(stock.profile.shape[1]), 1.0, least)


def _searched(stock: Stock, within: np.ndarray, cost: np.ndarray, each: float, least: float) -> np.ndarray | None:
    """Mixed-integer programme over shares and which lots take part."""
    n = stock.profile.shape[1]
    one = np.eye(n)
    floor = np.maximum(np.minimum(least, stock.upper), stock.lower)
    rules = [
        LinearConstraint(np.hstack([np.ones((1, n)), np.zeros((1, n))]), 1, 1),
        LinearConstraint(np.hstack([stock.profile, np.zeros_like(stock.profile)]), stock.target - within,
                         stock.target + within),
        LinearConstraint(np.hstack([one, -np.diag(stock.upper)]), -np.inf, 0),
        LinearConstraint(np.hstack([one, -np.diag(floor)]), 0, np.inf),
    ]  # fmt: skip
    bounds = Bounds(
        np.concatenate([stock.lower, (stock.lower > 0).astype(float)]), np.concatenate([stock.upper, np.ones(n)])
    )
    goal = np.concatenate([cost, np.full(n, each)])
    whole = np.concatenate([np.zeros(n), np.full(n, float(least > 0 or each > 0))])
    found = milp(goal, constraints=rules, bounds=bounds, integrality=whole, options={"time_limit": SECONDS})
    return None if found.x is None else _whole(found.x[:n], stock)


def _whole(shares: np.ndarray, stock: Stock) -> np.ndarray:
    """Rounding taken off: no tiny shares, a sum of 1, within the bounds."""
    kept = np.where((shares < LEAST) & (stock.lower <= 0), 0.0, np.clip(shares, stock.lower, stock.upper))
    for _ in range(5):
        room = np.where(kept.sum() < 1, stock.upper - kept, kept - stock.lower) * (kept > 0)
        if room.sum() <= 0:
            break
        kept = kept + np.sign(1 - kept.sum()) * room * min(abs(1 - kept.sum()) / room.sum(), 1.0)
    return kept
