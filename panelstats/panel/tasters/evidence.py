"""What every aspect but level is computed from, and the jackknife over lots that joins descriptors.

It leaves one lot out at a time, so that errors shared by the descriptors of a lot are counted once.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.moments import Moments
from panelstats.panel.tasters.ownlots import OwnLots
from panelstats.panel.tasters.repeats import Repeats


@dataclass(frozen=True, eq=False)
class Evidence:
    """What the aspects are computed from, over all lots and with each lot left out.

    Attributes
    ----------
    moments, moments_without : Moments
    repeats, repeats_without : Repeats
    own, own_without : OwnLots
    active : ndarray of bool, shape (taster, descriptor)
        Who stands in the others' references.
    rows : ndarray of bool, shape (row, taster)
        The lots of each taster.
    sessions : ndarray of int, shape (taster,)
    judged : ndarray of bool, shape (taster, descriptor)
        Where there are lots and others enough to judge.
    floored : ndarray of bool, shape (taster, descriptor)
        Where most marks stand at an end of the scale, so that slope, order and spread are not judged.
    """

    moments: Moments
    moments_without: Moments
    repeats: Repeats
    repeats_without: Repeats
    own: OwnLots
    own_without: OwnLots
    active: np.ndarray
    rows: np.ndarray
    sessions: np.ndarray
    judged: np.ndarray
    floored: np.ndarray


def reason_why(*cases: tuple[Any, str]) -> np.ndarray:
    """The first reason that applies, "" where none does."""
    told = [np.array(reason, dtype=object) for _, reason in cases]  # a phrase stays one: it is a key before it is said
    return np.select([case for case, _ in cases], told, default="").astype(object)


def jackknife(
    whole: np.ndarray, without: np.ndarray, rows: np.ndarray, sessions: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Standard error over lots and its degrees of freedom; `without` is (row, taster) with one lot left out."""
    n = rows.sum(axis=0)
    values = np.where(rows & ~np.isnan(without), without, whole)
    mean = np.where(rows, values, 0.0).sum(axis=0) / np.maximum(n, 1)
    squares = np.where(rows, (values - mean) ** 2, 0.0).sum(axis=0)
    return np.sqrt(squares * (n - 1) / np.maximum(n, 1)), np.maximum(n - sessions, 0)


def averages(
    evidence: Evidence, used: np.ndarray, whole: np.ndarray, without: np.ndarray, *, log: bool = False
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Mean over the descriptors `used` of a value (its logarithm if `log`), its standard error and df, by taster.

    `whole` is the value over all lots, `without` that with each lot left out in turn.
    """
    count = used.sum(axis=1)

    def average(values: np.ndarray) -> np.ndarray:
        total = np.where(used, values, 0.0).sum(axis=-1)
        mean = ratio(total, np.broadcast_to(count, total.shape))
        return np.log(np.where(mean > 0, mean, np.nan)) if log else mean

    estimate, each = average(whole), average(np.where(np.isnan(without), whole, without))
    return (estimate, *jackknife(estimate, each, evidence.rows, evidence.sessions))


def mean_where(values: np.ndarray | float, used: np.ndarray) -> np.ndarray:
    """Mean over the descriptors `used`, by taster."""
    return ratio(np.where(used, values, 0.0).sum(axis=1), used.sum(axis=1))


def standardised(difference: np.ndarray, se: np.ndarray) -> np.ndarray:
    """Difference / se; infinite where se is 0."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(difference == 0, 0.0, difference / se)
