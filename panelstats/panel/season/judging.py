"""All charts of a season: level against the others and on hidden controls, noise, agreement; whose alarms are told."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, partial
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from panelstats.models.charts import Side, between_sessions, weighted_ewma
from panelstats.panel.season.charted import AFTER, baselines, charted
from panelstats.panel.season.series import (
    Series,
    agreement_series,
    control_series,
    level_series,
    noise_series,
    noise_source,
)
from panelstats.panel.season.tables import AGREEMENT, AGREEMENT_LOSS, CONTROLS, LEVEL_CHART, NOISE, Judged, named_among
from panelstats.panel.tasters.finding import SD_RATIO
from panelstats.panel.tasters.fit import panel_size
from panelstats.panel.tasters.level import widened
from panelstats.panel.tasters.reference import Pool, block_sums

if TYPE_CHECKING:
    from collections.abc import Callable

PANEL = "panel"
# Shares of the false alarms of a season (ours); where controls were served, level leaves a third to them.
SHARES = {LEVEL_CHART: 0.6, NOISE: 0.2, AGREEMENT: 0.2}
WITH_CONTROLS = {LEVEL_CHART: 0.4, CONTROLS: 0.1, PANEL: 0.1}


@dataclass(frozen=True, eq=False)
class Asked:
    """A season and what is asked of it.

    Attributes
    ----------
    pool : Pool
    tolerance : ndarray, shape (descriptor,)
    controls : list of str
        Lots met in two sessions or more.
    baseline : int
    false_alarm : float
    seed : int
    """

    pool: Pool
    tolerance: np.ndarray
    controls: list[str]
    baseline: int
    false_alarm: float
    seed: int

    @property
    def size(self) -> int:
        """Tasters who sat together, where anybody is judged: a lot tells only beside the fewest others."""
        alone = len(self.pool.tasters) == 1
        return panel_size(self.pool) if alone else max(panel_size(self.pool), self.least + 1)

    @property
    def least(self) -> int:
        """Fewest others on a lot."""
        return 1 if len(self.pool.tasters) == 2 else 2

    @property
    def most(self) -> int:
        """Tasters who may leave the references of a chart."""
        return (self.size - 1) // 3 if self.size > 3 else 0

    @property
    def baselines(self) -> np.ndarray:
        """Sessions of each taster's baseline, (taster, 1)."""
        seen = block_sums((~np.isnan(self.pool.mean)).any(axis=2).astype(float), self.pool.session) > 0
        return baselines(seen, self.baseline)

    @cached_property
    def source(self) -> str:
        """What tells of noise: repeats or scatter."""
        return noise_source(self.pool)

    def alpha(self, chart: str) -> float:
        """Chance of a false alarm of one kind of chart."""
        shares = SHARES | (WITH_CONTROLS if self.controls else {})
        return self.false_alarm * shares[chart]


def judge(asked: Asked, tell: Callable[[str], None]) -> tuple[dict[str, Judged], list[str]]:
    """Every chart that the season allows, each told before it is made, and the controls that could not be linked."""
    pool, out = asked.pool, {}
    tasters, words = [str(name) for name in pool.tasters], [str(name) for name in pool.descriptors]
    everyone = np.ones((len(tasters), len(words)), bool)
    if len(tasters) > 1:
        tell("season: level")
        found = charted(partial(level_series, pool, least=asked.least), everyone, alpha=asked.alpha(LEVEL_CHART),
                        side="both", baseline=asked.baselines, most=asked.most, seed=asked.seed)  # fmt: skip
        together = _together(asked, found.limit) if asked.size == 3 else None
        named, reason = named_among(found, asked.size, together=together)
        out[LEVEL_CHART] = Judged(LEVEL_CHART, found, tasters, words, -asked.tolerance, asked.tolerance, named, reason,
                                  few=asked.size <= 3)  # fmt: skip
        everyone = everyone & ~found.alarmed
    unlinked: list[str] = []
    if asked.controls:
        tell("season: controls")
        own, panel, unlinked = control_series(pool, asked.controls, everyone, baseline=asked.baseline)
        out[PANEL] = _alone(asked, panel, [""], words)
        out[CONTROLS] = _alone(asked, own, tasters, words, moved=out[PANEL].charts.alarmed)
    tell("season: noise")
    out[NOISE] = _pooled(asked, NOISE, partial(noise_series, pool, least=asked.least, source=asked.source), tasters)
    if len(tasters) > 1:
        tell("season: agreement")
        out[AGREEMENT] = _pooled(asked, AGREEMENT, partial(agreement_series, pool, least=asked.least), tasters)
    return out, unlinked


def _pooled(asked: Asked, kind: str, series_of: Callable[[np.ndarray], Series], tasters: list[str]) -> Judged:
    """Charts of all descriptors together: noise going up, or agreement going down."""
    everyone = np.ones((len(tasters), 1), bool)
    side: Side = "up" if kind == NOISE else "down"
    found = charted(series_of, everyone, alpha=asked.alpha(kind), side=side, baseline=asked.baselines, most=asked.most,
                    seed=asked.seed)  # fmt: skip
    floor, ceiling = (-np.inf, 2 * np.log(SD_RATIO)) if kind == NOISE else (-AGREEMENT_LOSS, np.inf)
    named, reason = named_among(found, asked.size)
    return Judged(kind, found, tasters, [""], np.array([floor]), np.array([ceiling]), named, reason,
                  few=1 < asked.size <= 3)  # fmt: skip


def _alone(
    asked: Asked, series: Series, tasters: list[str], words: list[str], *, moved: np.ndarray | None = None
) -> Judged:
    """Charts that have no reference; an alarm is not told of a taster where the whole panel `moved`."""
    kind = PANEL if moved is None else CONTROLS
    active = np.ones(series.value.shape[1:], bool)
    baseline = asked.baselines if moved is not None else np.array([[asked.baseline]])
    found = charted(lambda _: series, active, alpha=asked.alpha(kind), side="both", baseline=baseline, most=0,
                    seed=asked.seed)  # fmt: skip
    named, reason = found.alarmed, np.full(found.alarmed.shape, "", dtype=object)
    if moved is not None:
        named = named & ~moved
    return Judged(CONTROLS, found, tasters, words, -asked.tolerance, asked.tolerance, named, reason)


def _together(asked: Asked, limit: float) -> np.ndarray:
    """Of three tasters: whether the other two kept together, (taster, descriptor).

    Their level against each other never passed the limit, and its 90 % interval at the end lies within the tolerance
    on a pair.
    """
    pool = asked.pool
    count, words = pool.mean.shape[1:]
    out = np.zeros((count, words), bool)
    for i in range(count):
        rest = np.delete(np.arange(count), i)
        series = level_series(pool.take(rest), np.ones((count - 1, words), bool), least=1)
        between = np.nan_to_num(between_sessions(series.value, series.se, pooled=(1,)))
        chart = weighted_ewma(series.value, series.se**2 + between, baseline=asked.baselines[rest])
        there = np.isfinite(chart.level)
        last = len(there) - 1 - there[::-1].argmax(axis=0)
        now, sd = (np.take_along_axis(x, last[None], axis=0)[0] for x in (chart.level, chart.sd))
        assert series.df is not None  # noqa: S101 - level has them
        reach = stdtrit(np.maximum(series.df, 1.0), 0.95) * sd
        inside = np.abs(now) + reach < widened(asked.tolerance, np.array(1.0))
        quiet = (np.abs(np.nan_to_num(chart.z)) <= limit).all(axis=0)
        out[i] = (inside & quiet)[(there.sum(axis=0) >= AFTER).any(axis=1)].all(axis=0)
    return out
