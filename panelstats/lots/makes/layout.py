"""The lots whose making is asked about: their scores, one row a lot and taster, and what was written of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.plaintables import ASIDE, by_name, senior_marks
from panelstats.models.lotmodel import LotModel
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, ROLE, SESSION, TASTER
from panelstats.scores.dates import date_in

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.scores.cells import Cells

UNIT, BLOCK, MADE, DAY, RANDOMISED = "unit", "block", "made", "day", "randomised"


@dataclass(frozen=True, eq=False)
class Tasted:
    """Lots as they were tasted, controls and standards left out.

    Attributes
    ----------
    units : DataFrame
        A row for each lot in each session: session, lot, class, block (session and class, a number), day (made; ""
        where not known), then the columns of the lots register.
    scores : DataFrame
        unit (row of `units`), taster (a number of its own in each session), descriptor, score: pots and looks of one
        taster at one lot taken together; trainees do not count.
    descriptors : list of str
    """

    units: pd.DataFrame
    scores: pd.DataFrame
    descriptors: list[str]

    @staticmethod
    def of(cells: Cells) -> Tasted:
        """From cells of any number of sessions."""
        register = by_name(cells.lots[~cells.lots[ROLE].isin(ASIDE)], LOT)
        plain = senior_marks(cells)
        plain = plain[plain[LOT].isin(register.index)].copy()
        keys = plain[[SESSION, LOT]].drop_duplicates().reset_index(drop=True)
        units = keys.join(register, on=LOT)
        units[BLOCK] = units.groupby([SESSION, CLASS], sort=False).ngroup()
        units[DAY] = units[MADE].map(day_of) if MADE in units else ""
        where = pd.MultiIndex.from_frame(keys).get_indexer(pd.MultiIndex.from_frame(plain[[SESSION, LOT]]))
        taster = plain.groupby([SESSION, TASTER], sort=False).ngroup()
        plain[UNIT], plain[TASTER] = where, taster
        scores = plain[[UNIT, TASTER, DESCRIPTOR, "score"]]
        met = set(scores[DESCRIPTOR])
        names = dict.fromkeys(cells.descriptors[DESCRIPTOR].astype(str))
        return Tasted(units, scores, [name for name in names if name in met])

    def lot_means(self, descriptor: str) -> pd.Series:
        """Mean of each lot by unit, less the levels of its tasters in its class where some missed some lots."""
        rows = self.scores[self.scores[DESCRIPTOR] == descriptor]
        block = self.units[BLOCK].to_numpy()[rows[UNIT]]
        if not is_complete(rows, block):
            score = rows["score"]
            level = score.groupby([rows[TASTER].to_numpy(), block]).transform("mean")
            rows = rows.assign(score=score - level + score.groupby(block).transform("mean"))
        return rows.groupby(UNIT)["score"].mean()

    def fit(self, descriptor: str, units: np.ndarray, fixed: np.ndarray, day: np.ndarray | None) -> LotFit | None:
        """The model of one descriptor over some units; None where no lot is left to be the error, or the rest.

        Parameters
        ----------
        units : ndarray of int
            Rows of `units`.
        fixed : ndarray, shape (len(units), p)
            What is asked, without the classes and sessions: those are added.
        day : ndarray of int, shape (len(units),), optional
            Days as a random term; those of one day have one code.
        """
        at = np.full(len(self.units), -1)
        at[units] = np.arange(len(units))
        rows = self.scores[(self.scores[DESCRIPTOR] == descriptor) & (at[self.scores[UNIT]] >= 0)]
        present, lot = np.unique(at[rows[UNIT]], return_inverse=True)
        block = self.units[BLOCK].to_numpy()[units[present]]
        asked = np.column_stack([fixed[present], _indicators(block)])
        if len(present) <= asked.shape[1] or np.linalg.matrix_rank(asked) < asked.shape[1]:
            return None
        days = [] if day is None else _random(day[present])
        score = rows["score"].to_numpy(float)
        if is_complete(rows, block[lot]):
            model = LotModel(np.bincount(lot, score) / np.bincount(lot), asked, days[0] if days else None)
            return LotFit(model, model.variances.sum())
        taster = _codes(rows[TASTER].to_numpy())
        others = [taster] if taster.max() + 1 > self.units[SESSION].nunique() else []
        lots = lot if len(lot) > len(present) else None  # one score a lot: lot and error are one
        model = LotModel(score, asked[lot], lots, [*others, *(code[lot] for code in days)])
        own = np.delete(model.variances, [0, *([1 + (lots is not None)] if others else [])])  # all but error and taster
        return LotFit(model, model.variances[0] * len(present) / len(lot) + own.sum())


@dataclass(frozen=True, eq=False)
class LotFit:
    """A model, and the variance of a lot's mean about what is fixed: its day's, its own, its tasters' error."""

    model: LotModel
    lot_variance: float


def day_of(text: object) -> str:
    """The day a lot was made as year-month-day; "" where it is no date.

    Examples
    --------
    >>> day_of("16 Feb 2026"), day_of("early")
    ('2026-02-16', '')
    """
    found = date_in(str(text)) if str(text) else None
    return found.isoformat() if found and found.year > 1 else ""


def is_complete(rows: pd.DataFrame, block: np.ndarray) -> bool:
    """Whether all tasters of a session and class scored all its lots, as many tasters in each."""
    tasters = pd.Series(rows[TASTER].to_numpy()).groupby(block).nunique()
    return bool((tasters == tasters.iloc[0]).all() and (rows[UNIT].value_counts() == tasters.iloc[0]).all())


def _indicators(block: np.ndarray) -> np.ndarray:
    """Sessions and classes, all but the first, about their mean: what is asked stays at their mix."""
    some = np.eye(block.max() + 1 if len(block) else 1)[block]
    some = some[:, some.any(axis=0)][:, 1:]
    return some - some.mean(axis=0) if len(some) else some


def _random(code: np.ndarray) -> list[np.ndarray]:
    """A random term, unless each of its levels has one lot: then it is the lots' own scatter."""
    dense = _codes(code)
    return [dense] if dense.max() + 1 < len(dense) else []


def _codes(values: np.ndarray) -> np.ndarray:
    return np.unique(values, return_inverse=True)[1]


def numeric(values: Iterable[object]) -> np.ndarray:
    """Numbers that were written, NaN for what is none."""
    written = pd.Series([str(value).strip().replace(",", ".") for value in values], dtype="str")
    return pd.to_numeric(written, errors="coerce").to_numpy(float)
