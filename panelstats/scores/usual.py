"""What is usual in a room, told by its scores and lots where nobody declared it: steps, tolerances, classes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from panelstats.scores.columns import CLASS
from panelstats.scores.spelling import plain

STEPS = (1.0, 0.5, 0.25, 0.1, 0.05, 0.01)
SHARE_OF_RANGE = 0.05  # ours: the default tolerance is a twentieth of the range a class uses
ENOUGH = 100  # scores from which the range used is taken from the record rather than the scale (ours)
_UNKNOWN_CLASS = ""


@dataclass(frozen=True, eq=False)
class Tally:
    """How often each score was given: all that steps and tolerances need of scores, and it adds up.

    Attributes
    ----------
    scores : ndarray of float
        Distinct scores, ascending.
    counts : ndarray of int
        How often each was given.
    """

    scores: np.ndarray
    counts: np.ndarray

    @classmethod
    def of(cls, scores: np.ndarray) -> Tally:
        """The tally of scores as they stand, no NaN."""
        return cls(*np.unique(scores, return_counts=True))

    def __len__(self) -> int:
        return int(self.counts.sum())

    def __add__(self, other: Tally) -> Tally:
        scores, at = np.unique(np.concatenate([self.scores, other.scores]), return_inverse=True)
        counts = np.bincount(at, np.concatenate([self.counts, other.counts]), minlength=len(scores))
        return Tally(scores, counts.astype(np.int64))

    def percentile(self, share: float) -> float:
        """A percentile of all scores, linear between neighbours (type 7 of Hyndman & Fan 1996)."""
        at = (len(self) - 1) * share / 100
        below = int(at)
        ends = np.cumsum(self.counts)
        low, high = self.scores[np.searchsorted(ends, [below, min(below + 1, len(self) - 1)], side="right")]
        return float(low + (high - low) * (at - below))


def step_of(scores: np.ndarray) -> float:
    """The largest usual step that divides all scores; NaN where none does.

    Examples
    --------
    >>> step_of(np.array([6.0, 7.5])), step_of(np.array([6.1, 7.0]))
    (0.5, 0.1)
    """
    distinct = np.unique(scores)
    for step in STEPS:
        ratio = distinct / step
        whole = np.round(ratio)
        # Marks a step does not tell apart are on a finer one.
        if len(distinct) and np.all(np.abs(ratio - whole) < 1e-6) and len(np.unique(whole)) == len(distinct):
            return step
    return float("nan")


def tolerance_of(scores: np.ndarray | Tally, step: float, low: float, high: float) -> tuple[float, str]:
    """Default tolerance on the level, max(5 % of the range used, one step), and how it came about.

    Parameters
    ----------
    scores : ndarray or Tally
        Scores of one descriptor (and class).
    step : float
        Step of the scale; NaN counts as none.
    low, high : float
        Ends of the scale, NaN where not declared.
    """
    tally = scores if isinstance(scores, Tally) else Tally.of(scores)
    if len(tally) >= ENOUGH:
        bottom, top = tally.percentile(1), tally.percentile(99)
        used = f"the range used, {bottom:g} to {top:g}"
    elif not np.isnan(low + high):
        bottom, top, used = low, high, f"the scale, {low:g} to {high:g}"
    else:
        bottom, top = (tally.scores[0], tally.scores[-1]) if len(tally) else (np.nan, np.nan)
        used = f"the range seen, {bottom:g} to {top:g}"
    share = SHARE_OF_RANGE * (top - bottom)
    if not step <= share and not np.isnan(step):
        return step, "one step of the scale"
    return share, f"5 % of {used}"


def grade_family(grade: str) -> str:
    """The sieve family of a grade: whole leaf, broken, fannings or dust; "" where it cannot be told.

    From large to small as made tea is sorted (common practice; ISO 11286 classifies grades by sieve analysis).

    Examples
    --------
    >>> [grade_family(g) for g in ("OP1", "BOP", "BOPF", "PD", "Dust 1", "broken leaf")]
    ['whole leaf', 'broken', 'fannings', 'dust', 'dust', 'broken']
    """
    word = plain(grade).replace(" ", "").replace(".", "").upper()
    if not word:
        return ""
    letters = word.rstrip("0123456789")
    if "DUST" in word or letters in ("D", "PD", "RD", "SRD", "CD"):
        return "dust"
    if "FANN" in word or (letters.endswith("F") and not letters.endswith("LEAF")):
        return "fannings"
    return "broken" if letters.startswith("B") or "BROKEN" in word else "whole leaf"


def classes(lots: pd.DataFrame) -> tuple[pd.Series, str]:
    """Class of each lot and why: its own column, else kind x grade family, with elevation while classes keep 3 lots."""
    if CLASS in lots and (lots[CLASS] != "").any():
        return lots[CLASS], "the column class"
    parts = [p for p in (_column(lots, "kind"), _column(lots, "grade").map(grade_family)) if (p != "").any()]
    if not parts:
        return pd.Series(_UNKNOWN_CLASS, index=lots.index), "no column tells kind or grade: one class"
    label = _join(parts)
    elevation = _column(lots, "elevation")
    why = "kind and grade family"
    if (elevation != "").any():
        finer = _join([*parts, elevation])
        if finer[finer != ""].value_counts().min() >= 3:
            return finer, why + ", with elevation: every class keeps 3 lots"
        why += "; elevation would leave a class under 3 lots"
    return label, why


def _column(lots: pd.DataFrame, name: str) -> pd.Series:
    return lots[name].fillna("").astype(str) if name in lots else pd.Series("", index=lots.index)


def _join(parts: list[pd.Series]) -> pd.Series:
    label = parts[0].astype(str)
    for part in parts[1:]:
        gap = np.where((label != "") & (part != ""), " ", "")
        label = label + gap + part.astype(str)
    return label
