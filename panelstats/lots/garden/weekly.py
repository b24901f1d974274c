"""The garden week by week: the mean of its lots less their class, smoothed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from panelstats.lots.garden.ownlots import DATE, WEEK
from panelstats.lots.garden.words import ABOVE, BELOW, CANNOT_TELL, WITH
from panelstats.lots.track.weekcalls import FEW_WEEKS
from panelstats.lots.track.weeklychart import chart_weeks
from panelstats.models.multiplicity import holm
from panelstats.scores.cells import DESCRIPTOR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.lots.garden.ownlots import OwnLots


@dataclass(frozen=True, eq=False)
class Weekly:
    """Arrays (week, descriptor), NaN where no lot stands; where the garden stands at the end, shape (descriptor,).

    Attributes
    ----------
    weeks : list of str
    lots, difference, se, smoothed, sd, alarm : ndarray, shape (week, D)
    limit : float
        Of smoothed / sd; NaN with fewer than four weeks, which are not charted.
    now, now_sd : ndarray, shape (D,)
        Smoothed level of the last week, else the mean over all lots; and its standard deviation.
    apart : ndarray of bool, shape (D,)
        Whether it is shown to lie off its class.
    """

    weeks: list[str]
    lots: np.ndarray
    difference: np.ndarray
    se: np.ndarray
    smoothed: np.ndarray
    sd: np.ndarray
    alarm: np.ndarray
    limit: float
    now: np.ndarray
    now_sd: np.ndarray
    apart: np.ndarray

    @property
    def charted(self) -> bool:
        """Whether there were weeks enough."""
        return bool(np.isfinite(self.limit))

    def table(self, descriptors: Sequence[str]) -> pd.DataFrame:
        """A row for each week and descriptor on which a lot stood."""
        named = ("lots", "difference", "se", "smoothed", "sd", "alarm")
        index = pd.MultiIndex.from_product([self.weeks, descriptors], names=[WEEK, DESCRIPTOR])
        table = pd.DataFrame({name: getattr(self, name).ravel() for name in named}, index=index).reset_index()
        return table[table["lots"] > 0].reset_index(drop=True)

    def since(self, d: int) -> str:
        """First week from which the alarm of a descriptor stands; "" where it does not."""
        seen = np.flatnonzero(np.isfinite(self.smoothed[:, d]))
        standing = int(self.alarm[seen, d][::-1].cumprod().sum()) if len(seen) else 0
        return self.weeks[seen[-standing]] if standing else ""


def weekly(own: OwnLots, *, level: float) -> Weekly:
    """Means by week, charted where there are four weeks or more, else judged over all lots."""
    order = own.units[[DATE, WEEK]].sort_values([DATE, WEEK], kind="stable")[WEEK].drop_duplicates().tolist()
    member = (own.units[WEEK].to_numpy(str)[None, :] == np.array(order, str)[:, None]).astype(float)  # (week, n)
    seen = np.isfinite(own.difference)
    value = np.where(seen, own.difference, 0.0)
    lots = member @ seen
    with np.errstate(divide="ignore", invalid="ignore"):
        difference = (member @ value) / np.where(lots > 0, lots, np.nan)
        se = np.sqrt(own.variance / np.where(lots > 0, lots, np.nan))
    common = np.sqrt(own.variance / own.others)  # the class mean's own error is the same in every week
    usable = (own.variance > 0) & (lots > 0).any(axis=0)
    enough = len(order) >= FEW_WEEKS
    smoothed, sd, limit = np.full(se.shape, np.nan), np.full(se.shape, np.nan), np.nan
    if enough and usable.any():
        chart = chart_weeks(difference[:, usable], se[:, usable], df=own.df[usable], weeks=len(order),
                            false_alarm=1 - level)  # fmt: skip
        smoothed[:, usable], sd[:, usable], limit = chart.smoothed, np.hypot(chart.sd, common[usable]), chart.limit
    with np.errstate(invalid="ignore"):
        alarm = np.abs(smoothed / sd) > limit
        now, now_sd, apart = _last(smoothed, sd, alarm) if enough else _over_all(own, value, seen, common, level)
    return Weekly(order, lots, difference, se, smoothed, sd, alarm, limit, now, now_sd, apart)


def _last(smoothed: np.ndarray, sd: np.ndarray, alarm: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The last week in which each descriptor was scored."""
    seen = np.isfinite(smoothed)
    at = len(seen) - 1 - seen[::-1].argmax(axis=0)
    pick = np.arange(seen.shape[1])
    return smoothed[at, pick], sd[at, pick], alarm[at, pick]


def _over_all(
    own: OwnLots, value: np.ndarray, seen: np.ndarray, common: np.ndarray, level: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """All lots together: t on the scatter of the class, Holm over descriptors."""
    lots = seen.sum(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        now = value.sum(axis=0) / np.where(lots > 0, lots, np.nan)
        sd = np.hypot(np.sqrt(own.variance / np.where(lots > 0, lots, np.nan)), common)
        p = np.where(sd > 0, 2 * stdtr(np.maximum(own.df, 1.0), -np.abs(now / sd)), np.nan)
    return now, sd, holm(p) < 1 - level


def standing(found: Weekly, df: np.ndarray, tolerance: np.ndarray, level: float) -> pd.DataFrame:
    """Where the garden stands at the end: difference, low, high, call; by descriptor."""
    reach = stdtrit(np.maximum(df, 1.0), (1 + level) / 2) * found.now_sd
    low, high = found.now - reach, found.now + reach
    with np.errstate(invalid="ignore"):
        inside = (low > -tolerance) & (high < tolerance)
    call = np.where(found.apart, np.where(found.now > 0, ABOVE, BELOW), np.where(inside, WITH, CANNOT_TELL))
    return pd.DataFrame({"difference": found.now, "low": low, "high": high, "call": call})
