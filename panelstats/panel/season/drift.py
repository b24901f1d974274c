"""Do the tasters drift at all? The trends of all of them over the season, beyond what their errors explain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.models.charts import between_sessions
from panelstats.models.meansquares import ratio
from panelstats.models.multiplicity import holm
from panelstats.models.randomslopes import Slopes, SlopeSpread, slope_spread, slopes
from panelstats.panel.season.moved import LEVEL
from panelstats.scores.cells import DESCRIPTOR, TASTER

if TYPE_CHECKING:
    from panelstats.panel.season.charted import Charted
    from panelstats.panel.season.tables import Judged

# Trends are told over so many sessions; a trend needs so many, and their spread so many tasters (ours).
OVER, LEAST_SESSIONS, LEAST_TASTERS = 10, 5, 3
SPREAD, SLOPE, SHRUNKEN = "spread", "slope", "shrunken"


@dataclass(frozen=True, eq=False)
class Drift:
    """The trends of the tasters, in points over ten sessions.

    Attributes
    ----------
    spread : DataFrame
        descriptor ("" for the mean of all), spread (standard deviation of the tasters' trends), low, high, tasters,
        df_error, p, p_rest (without charts that alarmed, where these are few; adjusted), p_adjusted.
    trends : DataFrame
        taster, descriptor, slope, low, high, shrunken, shrunken_low, shrunken_high.
    """

    spread: pd.DataFrame
    trends: pd.DataFrame


def tasters_drift(judged: Judged | None) -> Drift:
    """Of the charts of level: how far trends spread, descriptor by descriptor and of their mean, and each trend.

    Notes
    -----
    A line for each taster and descriptor, weights 1 / variance; the variance of its sessions is enlarged where the
    residuals of all tasters ask for it, and by what the resemblance of neighbouring sessions that the charts allow for
    adds to the variance of a trend (an autoregression's long run: Brockwell & Davis 1991, *Time Series*, 7.1). Against
    the others a taster of a panel of a moves a / (a - 1) times as far as against all: slopes and their variances are
    told against all, himself included.
    """
    if judged is None or len(judged.tasters) < LEAST_TASTERS:
        return Drift(pd.DataFrame(columns=[DESCRIPTOR, SPREAD]), pd.DataFrame(columns=[TASTER, SLOPE]))
    charts, names = judged.charts, judged.columns
    if len(names) > 1:
        names = ["", *names]
    more = by_resemblance(charts)
    own, found = _fitted(charts.series.value, charts.variance, more)
    single = charts.alarmed & (charts.alarmed.sum(axis=0) <= (len(judged.tasters) - 1) // 3)
    _, rest = _fitted(np.where(single, np.nan, charts.series.value), charts.variance, more)
    return Drift(_spread(found, rest, own.df.sum(axis=0), names), _trends(own, found, judged.tasters, names))


def by_resemblance(charts: Charted) -> np.ndarray:
    """How many times the variance of a trend is that of independent sessions, by column."""
    squares = charts.series.se**2
    error = np.nan_to_num(ratio(np.nansum(squares, axis=(0, 1)), np.isfinite(squares).sum(axis=(0, 1))))
    wander, alike = charts.between[0] / (1 - charts.alike), charts.alike
    return np.nan_to_num(ratio(error + wander * (1 + alike) / (1 - alike), error + wander), nan=1.0)


def _fitted(value: np.ndarray, variance: np.ndarray, more: np.ndarray) -> tuple[Slopes, SlopeSpread]:
    """Slopes over ten sessions against the whole panel, and their spread; of several descriptors their mean first."""
    if value.shape[2] > 1:
        mean, of_mean = _of_mean(value, variance)
        more = np.append(more.mean(), more)
        value, variance = (np.concatenate(pair, axis=2) for pair in ((mean, value), (of_mean, variance)))
    line = slopes(value, variance, least=LEAST_SESSIONS)
    count, df = np.isfinite(line.slope).sum(axis=0), line.df.sum(axis=0)
    share = ratio(np.maximum(count - 1, 0), count)
    excess = np.maximum(np.nan_to_num(ratio(line.rss.sum(axis=0), df), nan=1.0), 1.0)
    own = Slopes(OVER * line.slope * share, OVER**2 * line.variance * share * excess * more, line.rss, line.df)
    return own, slope_spread(own.slope, own.variance, df)


def _of_mean(value: np.ndarray, variance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Mean over descriptors, each less its own mean; its variance is told by the sessions: descriptors go together."""
    there = np.isfinite(value) & (variance > 0)
    filled = np.where(there, value, 0.0)
    off = np.where(there, value - np.nan_to_num(ratio(filled.sum(axis=0), there.sum(axis=0))), 0.0)
    count = there.sum(axis=2, keepdims=True)
    mean = ratio(off.sum(axis=2, keepdims=True), count)
    scale = np.nan_to_num(ratio(np.where(there, variance, 0.0).sum(axis=2, keepdims=True), count), nan=1.0)
    return mean, scale * np.nan_to_num(between_sessions(mean, np.zeros(mean.shape), pooled=(1,), scale=scale))


def _spread(found: SlopeSpread, rest: SlopeSpread, df: np.ndarray, names: list[str]) -> pd.DataFrame:
    table = pd.DataFrame(
        {DESCRIPTOR: names, SPREAD: found.sd, "low": found.low, "high": found.high, "tasters": found.count,
         "df_error": df, "p": found.p, "p_rest": holm(np.where(rest.count >= LEAST_TASTERS, rest.p, np.nan))}
    )  # fmt: skip
    table = table[found.count >= LEAST_TASTERS].reset_index(drop=True)
    return table.assign(p_adjusted=holm(table["p"].to_numpy()))


def _trends(own: Slopes, found: SlopeSpread, tasters: list[str], names: list[str]) -> pd.DataFrame:
    taster, column = np.nonzero(np.isfinite(own.slope) & (found.count >= LEAST_TASTERS))
    at = (taster, column)
    reach = stdtrit(own.df[at], (1 + LEVEL) / 2) * np.sqrt(own.variance[at])
    near = stdtrit(np.inf, (1 + LEVEL) / 2) * found.shrunken_sd[at]
    return pd.DataFrame(
        {TASTER: np.array(tasters, dtype=object)[taster], DESCRIPTOR: np.array(names, dtype=object)[column],
         SLOPE: own.slope[at], "low": own.slope[at] - reach, "high": own.slope[at] + reach,
         SHRUNKEN: found.shrunken[at], f"{SHRUNKEN}_low": found.shrunken[at] - near,
         f"{SHRUNKEN}_high": found.shrunken[at] + near}
    )  # fmt: skip
