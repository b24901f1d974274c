"""Serving orders: the balanced set of each kind, and how many servings of each order a test gets."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.errors import DesignError
from panelstats.models.kinds.register import kind_of

if TYPE_CHECKING:
    from numpy.random import Generator


def serving_orders(kind: str, *, reference: str = "balanced") -> tuple[str, ...]:
    """The balanced set of serving orders.

    Parameters
    ----------
    kind : str
        Any kind of difference test.
    reference : {"balanced", "constant"}
        Duo-trio only: both products serve as reference in turn, or always A (usually the familiar one).

    Returns
    -------
    tuple of str
        Letters in the order served; what stands before a colon is the reference, named as such. For a-not-a, "A" and
        "N" are single servings after A was served and named.

    Raises
    ------
    DesignError
        The kind is unknown, or the reference is neither constant nor balanced.

    Notes
    -----
    Each order is used equally often (ISO 6658 practice, from memory).

    Examples
    --------
    >>> serving_orders("triangle")
    ('AAB', 'ABA', 'BAA', 'ABB', 'BAB', 'BBA')
    >>> serving_orders("duo-trio", reference="constant")
    ('A:AB', 'A:BA')
    """
    if reference not in ("balanced", "constant"):
        raise DesignError(
            "no such use of the reference", where=f"reference={reference!r}", do="use balanced or constant"
        )
    orders = kind_of(kind).orders
    return tuple(order for order in orders if ":" not in order or reference == "balanced" or order.startswith("A"))


def allot_orders(kind: str, answers: int, *, rng: Generator, reference: str = "balanced") -> tuple[list[str], int]:
    """Orders for a number of servings: whole balanced sets, then distinct orders drawn at random, all shuffled.

    Parameters
    ----------
    kind : str
        Any kind of difference test.
    answers : int
        How many sets are served.
    rng : Generator
        Source of the draws.
    reference : {"balanced", "constant"}
        As for `serving_orders`.

    Returns
    -------
    orders : list of str
        One order per answer, in random sequence within each whole set: a taster who takes consecutive ones runs
        through different orders before any comes back.
    surplus : int
        How many orders are used once more than the others; 0 where the set is balanced.

    Raises
    ------
    DesignError
        As for `serving_orders`, or a number of answers below 1.

    Examples
    --------
    >>> import numpy as np
    >>> orders, surplus = allot_orders("triangle", 14, rng=np.random.default_rng(1))
    >>> len(orders), len(set(orders)), surplus
    (14, 6, 2)
    """
    if answers < 1:
        raise DesignError("no answers to serve", where=f"answers={answers!r}", do="give 1 or more")
    orders = np.array(serving_orders(kind, reference=reference))
    sets = -(-answers // len(orders))
    drawn = np.concatenate([rng.permutation(orders) for _ in range(sets)])
    return drawn[:answers].tolist(), answers % len(orders)
