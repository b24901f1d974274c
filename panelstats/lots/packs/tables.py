"""Tables of packs: by grade and state, and lot by lot."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtr

from panelstats.lots.packs import words
from panelstats.lots.packs.readings import DENSITY, GRADE, LOT, STATE
from panelstats.models.nested import Nested, Pivots, pivots
from panelstats.models.normalshares import capability, one_sided_factor, plan_to_accept, share_below

# Densities of leaf outside these are told (g/ml; ours).
LIKELY = (0.05, 0.80)
# A readings' spread below this share of their mean is none.
NO_SPREAD = 1e-9
MISS = 0.2  # how often a plan may miss what is as good as it looks
GRADES = [GRADE, STATE, "lots", "readings", DENSITY, "between_sd", "within_sd", "over", "over_low", "over_high",
          "over_lots_only", "lots_over", "slack", "slack_low", "slack_high", "largest_grams", "least_millilitres",
          "density_low", "density_high", "cpk", "cpk_low", "cpk_high", "plain_high", "call",
          "lots_needed", "reason"]  # fmt: skip
LOTS = [LOT, GRADE, STATE, "readings", DENSITY, "expected", "sd", "over", "over_low", "over_high", "slack", "slack_low",
        "slack_high", "call"]  # fmt: skip


@dataclass(frozen=True)
class Pack:
    """What is asked.

    Attributes
    ----------
    grams, millilitres : float
        Charge and usable capacity.
    fill : float
        Least share of the capacity that must be full.
    allowed : float
        Share of packs that may fail.
    level : float
    seed, draws : int
    charge_cv, capacity_cv : float
        Relative standard deviations of the charge and of the capacity from pack to pack.
    """

    grams: float
    millilitres: float
    fill: float
    allowed: float
    level: float
    seed: int
    draws: int
    charge_cv: float = 0.0
    capacity_cv: float = 0.0

    @property
    def varies(self) -> float:
        """Variance of the logarithm of charge / capacity; above 0 all is computed on logarithms of densities."""
        return self.charge_cv**2 + self.capacity_cv**2

    def scaled(self, density: np.ndarray | float) -> np.ndarray:
        """A density on the scale of computing."""
        return np.log(density) if self.varies else np.asarray(density)

    def back(self, value: np.ndarray | float) -> np.ndarray:
        """A density from the scale of computing: the median there."""
        return np.exp(value) if self.varies else np.asarray(value)

    def sd(self, variance: np.ndarray | float, at: np.ndarray | float) -> np.ndarray:
        """A standard deviation in g/ml, at a density."""
        return np.sqrt(variance) * (at if self.varies else 1.0)

    @property
    def line(self) -> float:
        """Density below which a pack overflows, g/ml."""
        return self.grams / self.millilitres

    @property
    def top(self) -> float:
        """Density above which a pack is slack, g/ml."""
        return self.line / self.fill

    def call(self, over: tuple[float, float], slack: tuple[float, float]) -> str:
        """From limits of the two shares."""
        if over[0] > self.allowed:
            return words.OVERFLOWS
        if slack[0] > self.allowed:
            return words.SLACK
        return words.FITS if max(over[1], slack[1]) <= self.allowed else words.CANNOT_TELL


def pack_tables(readings: pd.DataFrame, pack: Pack) -> tuple[pd.DataFrame, pd.DataFrame]:
    """A row for each grade and state, and a row for each lot of them.

    Parameters
    ----------
    readings : DataFrame
        lot, grade, state, density.
    pack : Pack
    """
    grades: list[dict[str, object]] = []
    lots = []
    for (grade, state), rows in readings.groupby([GRADE, STATE], sort=False):
        code, names = pd.factorize(rows[LOT])
        found = Nested.of(pack.scaled(rows[DENSITY].to_numpy(float)), code)
        rng = np.random.default_rng([pack.seed, len(grades)])
        drawn = pivots(found, rng, pack.draws) if found.units > 1 and _spread(found, pack) else None
        row, own = _grade(found, drawn, pack), _lots(found, drawn, names, pack, rng)
        grades.append({GRADE: grade, STATE: state} | row)
        lots.append(own.assign(grade=str(grade), state=str(state)))
    table = pd.DataFrame(grades, columns=GRADES)
    return table, pd.concat(lots, ignore_index=True)[LOTS] if lots else pd.DataFrame(columns=LOTS)


def _spread(found: Nested, pack: Pack) -> bool:
    return bool(found.ss_between > (NO_SPREAD * (1 if pack.varies else found.mean)) ** 2)


def _grade(found: Nested, drawn: Pivots | None, pack: Pack) -> dict[str, object]:
    density = float(pack.back(found.mean))
    row: dict[str, object] = {
        "lots": found.units, "readings": int(found.counts.sum()), DENSITY: density,
        "between_sd": pack.sd(found.between, density), "within_sd": pack.sd(found.within, density),
    }  # fmt: skip
    if drawn is None:
        why = words.ONE_REASON if found.units < 2 else words.ALIKE_REASON
        return row | {"call": words.CANNOT_TELL, "reason": why}
    line, top = float(pack.scaled(pack.line)), float(pack.scaled(pack.top))
    over, slack = _shares(found, drawn, line, pack), _shares(found, drawn, top, pack, above=True)
    low, high = (float(pack.back(limit)) for limit in _limits(found, drawn, pack, 0.0))
    fills = float(pack.back(_limits(found, drawn, pack, pack.varies)[0]))  # what charge and capacity add
    lots_sd = max(np.sqrt(found.between), 1e-12)
    total = found.between + np.nan_to_num(found.within) + pack.varies
    lies = capability(found.mean, float(np.sqrt(total)), found.units, (line, top), level=pack.level)
    call = pack.call(over[1:], slack[1:])
    return row | {
        "over": over[0], "over_low": over[1], "over_high": over[2],
        "over_lots_only": float(ndtr((line - found.mean) / np.sqrt(lots_sd**2 + pack.varies))),
        "lots_over": float(ndtr((line - found.mean) / lots_sd)),
        "slack": slack[0], "slack_low": slack[1], "slack_high": slack[2],
        "largest_grams": fills * pack.millilitres, "least_millilitres": pack.grams / fills if fills > 0 else np.inf,
        "density_low": low, "density_high": high, "cpk": lies.cpk, "cpk_low": lies.cpk_low, "cpk_high": lies.cpk_high,
        "plain_high": np.nan if (found.means < line).any() else 1 - (1 - pack.level) ** (1 / found.units), "call": call,
        "lots_needed": _needed(max(over[0], slack[0]), pack) if call == words.CANNOT_TELL else np.nan, "reason": "",
    }  # fmt: skip


def _shares(
    found: Nested, drawn: Pivots, line: float, pack: Pack, *, above: bool = False
) -> tuple[float, float, float]:
    """Share of packs of new lots beyond a line, with limits."""
    sd = np.sqrt(found.between + (found.within if found.df_within else 0.0) + pack.varies)
    way = -1 if above else 1
    share = float(ndtr(way * (line - found.mean) / sd))
    if not found.df_within and not pack.varies:
        k = way * (found.mean - line) / np.sqrt(found.between)
        return share, *share_below(k, found.units, level=pack.level)
    draws = _widened(drawn, pack.varies).share_below(line)
    low, high = np.quantile(1 - draws if above else draws, [(1 - pack.level) / 2, (1 + pack.level) / 2])
    return share, float(low), float(high)


def _widened(drawn: Pivots, varies: float) -> Pivots:
    """Draws of what packs feel: densities, and what charge and capacity add."""
    return Pivots(drawn.mean, drawn.between, drawn.within, drawn.total + varies)


def _limits(found: Nested, drawn: Pivots, pack: Pack, varies: float) -> tuple[float, float]:
    """Densities below and above which at most the allowed share lies, each with this confidence."""
    if not found.df_within and not varies:
        reach = one_sided_factor(found.units, 1 - pack.allowed, pack.level) * np.sqrt(found.between)
        return found.mean - reach, found.mean + reach
    drawn = _widened(drawn, varies)
    low = drawn.limit(1 - pack.allowed, pack.level)
    turned = Pivots(-drawn.mean, drawn.between, drawn.within, drawn.total)
    return low, -turned.limit(1 - pack.allowed, pack.level)


def _needed(share: float, pack: Pack) -> float:
    """Lots that would show it if packs are as good as they look; NaN where none would."""
    plan = plan_to_accept(min(max(share, 1e-6), 0.5), pack.allowed, miss=MISS, wrong=1 - pack.level)
    return np.nan if plan is None else float(plan.n)


def _lots(found: Nested, drawn: Pivots | None, names: pd.Index, pack: Pack, rng: np.random.Generator) -> pd.DataFrame:
    """Each lot that was weighed: where it lies, its mean drawn towards its grade's, and its packs."""
    means = pack.back(found.means)
    table = pd.DataFrame({LOT: names, "readings": found.counts, DENSITY: means})
    if drawn is None and found.units == 1 and found.ss_within > (NO_SPREAD * found.mean) ** 2:
        return _one_lot(found, table, pack, rng)
    if drawn is None:
        return table.assign(expected=means, **dict.fromkeys(["sd", *LOTS[7:-1]], np.nan), call=words.CANNOT_TELL)
    within = np.maximum(drawn.within, 1e-300)[:, None]
    kept = found.counts * drawn.between[:, None] / (found.counts * drawn.between[:, None] + within)
    centre = drawn.mean[:, None] + kept * (found.means - drawn.mean[:, None])
    spread = drawn.within[:, None] + drawn.between[:, None] * (1 - kept)
    at = centre + np.sqrt(drawn.between[:, None] * (1 - kept)) * rng.standard_normal(centre.shape)  # where it may lie
    own = np.sqrt(np.maximum(drawn.within, 1e-300) + pack.varies)[:, None]
    expected = pack.back(centre.mean(axis=0))
    sd = pack.sd(spread.mean(axis=0) + centre.var(axis=0), expected)
    return _packed(table.assign(expected=expected, sd=sd), at, own, pack)


def _one_lot(found: Nested, table: pd.DataFrame, pack: Pack, rng: np.random.Generator) -> pd.DataFrame:
    """A lot alone: its packs by its own readings, the pivots of a normal sample."""
    n = int(found.counts[0])
    within = found.ss_within / rng.chisquare(n - 1, pack.draws)
    at = found.mean + rng.standard_normal(pack.draws) * np.sqrt(within / n)
    told = table.assign(expected=table[DENSITY], sd=pack.sd(found.within, table[DENSITY].to_numpy(float)))
    return _packed(told, at[:, None], np.sqrt(within + pack.varies)[:, None], pack)


def _packed(table: pd.DataFrame, at: np.ndarray, own: np.ndarray, pack: Pack) -> pd.DataFrame:
    """Lots with the shares of their packs, from draws of where each lies and of what its packs differ by."""
    line, top = pack.scaled(pack.line), pack.scaled(pack.top)
    over, slack = ndtr((line - at) / own), ndtr((at - top) / own)
    tails = [(1 - pack.level) / 2, (1 + pack.level) / 2]
    limits = [np.quantile(share, tails, axis=0) for share in (over, slack)]
    calls = [pack.call((a, b), (c, d)) for a, b, c, d in zip(*limits[0], *limits[1], strict=True)]
    return table.assign(
        over=over.mean(axis=0), over_low=limits[0][0], over_high=limits[0][1], slack=slack.mean(axis=0),
        slack_low=limits[1][0], slack_high=limits[1][1], call=calls,
    )  # fmt: skip
