"""What is said of a lot held against the standard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import t as student

from panelstats.lots.compare.settling import MOST_TASTERS
from panelstats.models.fewpots import PLANNING_POT_SD, pots_needed
from panelstats.models.panel import STEADIED
from panelstats.models.reml import LOT_POT, LOT_TASTER, RESIDUAL
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION
from panelstats.words import count, decimals, interval, listing, number

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.lots.compare.fitted import Fitted
    from panelstats.lots.standard.against import Against

MATCH, DIFFER, CANNOT_TELL = "match", "differ", "cannot tell"
# Descriptors named one by one in a sentence; more are counted.
NAMED = 4
ONE_BREW = (
    "One shared brew of each cannot prove anything of the blends: these brews may differ where the blends do not."
)
TWO_POTS = (
    "Two pots of each leave pot-to-pot differences uncertain, so a match is rarely shown and a difference often missed."
)

# Pot degrees of freedom below which an unsteadied pot variance breaks the error rate. Simulated with two pots of each,
# three descriptors, 1000 tastings a figure: 3.7, 6.5 and 8.2 % at a pot SD of 0.15, 0.3 and 0.5 point.
UNSTEADIED_DF = 20
UNSTEADIED = (
    "So few pots and fewer than four descriptors of the stage leave the pot error poorly known: blends that are not "
    "apart get this verdict in up to 8 % of tastings where pots differ by half a point. Taste again before you act."
)


def match_verdict(row: pd.Series, mine: pd.DataFrame, found: Against, standard: str, level: float) -> Verdict:
    """The verdict on one lot of one session.

    Parameters
    ----------
    row : Series
        Row of the summary: session, lot, call, distance, low, high.
    mine : DataFrame
        The lot's rows of the table.
    found : Against
        The fits, for what would settle it.
    standard : str
    level : float in (0, 1)
    """
    group = found.groups[str(row[SESSION])]
    says = {MATCH: _match, DIFFER: _differ, CANNOT_TELL: _open}[row["call"]]
    where = f" in {row[SESSION]}" if group.among_sessions else ""
    worst = mine["difference"].abs().max()
    return Verdict(
        question=f"Does it match the standard {standard}?",
        subject=str(row[LOT]),
        call=str(row["call"]),
        sentence=f"{row[LOT]}{where}: {says(mine, standard, level)}{_far(row)}{_pots(mine, row['call'], group)}",
        numbers={name: float(row[name]) for name in ("distance", "low", "high")} | {"largest": float(worst)},
        next_step=_settle(mine, group, level) if row["call"] == CANNOT_TELL else "",
        act={MATCH: Act.KNOW, DIFFER: Act.DECIDE, CANNOT_TELL: Act.TASTE_AGAIN}[row["call"]],
    )


def _one(row: pd.Series, *, within: bool) -> str:
    """A descriptor with its difference, interval and tolerance."""
    places = decimals(float(row["se"]))
    low, high = (row["within_low"], row["within_high"]) if within else (row["low"], row["high"])
    size = number(float(row["difference"]), places, sign=True)
    return f"{row[DESCRIPTOR]} {size} ({interval(float(low), float(high), places, sign=True)})"


def _by_size(rows: pd.DataFrame, *, within: bool) -> str:
    largest = rows.sort_values("difference", key=np.abs, ascending=False)
    named = [_one(row, within=within) for _, row in largest.head(NAMED).iterrows()]
    more = len(rows) - NAMED
    return listing([*named, count(more, "more descriptor")]) if more > 0 else listing(named)


def _tolerance(mine: pd.DataFrame) -> str:
    """The tolerance and whose it is."""
    sizes, whose = mine["tolerance"], listing(dict.fromkeys(mine["tolerance_from"]))
    low, high = float(sizes.min()), float(sizes.max())
    return f"tolerance {_points(high)}, {whose}" if low == high else f"tolerance {low:.3g} to {_points(high)}, {whose}"


def _points(size: float) -> str:
    return f"{size:.3g} {'point' if size == 1 else 'points'}"


def _match(mine: pd.DataFrame, standard: str, level: float) -> str:
    seen = int((mine["p_adjusted"] < 1 - level).sum())
    detected = f" A difference was detected on {count(seen, 'descriptor')}, smaller than the tolerance." if seen else ""
    sure = f"{100 * (2 * level - 1):g} %"
    return (
        f"matches {standard} on {_all(mine)}, {_tolerance(mine)}. Largest: "
        f"{_by_size(_largest(mine), within=True)}; {sure} interval, "
        f"so that a lot at the tolerance gets this verdict in at most {100 * (1 - level):g} % of tastings.{detected}"
    )


def _largest(mine: pd.DataFrame) -> pd.DataFrame:
    return mine.loc[[mine["difference"].abs().idxmax()]]


def _all(mine: pd.DataFrame) -> str:
    return f"all {len(mine)} descriptors" if len(mine) > 1 else str(mine[DESCRIPTOR].iloc[0])


def _differ(mine: pd.DataFrame, standard: str, level: float) -> str:
    apart = mine[mine["call"] == DIFFER]
    outside = ((apart["low"] > apart["tolerance"]) | (apart["high"] < -apart["tolerance"])).sum()
    beyond = f", {outside} of them outside the tolerance" if 0 < outside < len(apart) else ""
    beyond = ", outside the tolerance" if outside == len(apart) else beyond
    allowing = f" after allowing for {count(len(mine), 'descriptor')}" if len(mine) > 1 else ""
    return (
        f"differs from {standard}{allowing}: {_by_size(apart, within=False)}{beyond} ({100 * level:g} % intervals, "
        f"{_tolerance(mine)})."
    )


def _open(mine: pd.DataFrame, standard: str, level: float) -> str:
    left = mine[mine["call"] == CANNOT_TELL]
    known = left[left["reason"] == ""]
    matched = len(mine) - len(left)
    shown = f" {count(matched, 'descriptor')} of {len(mine)} match." if matched else ""
    open_ = f" Open: {_by_size(known, within=True)} ({100 * (2 * level - 1):g} % intervals)." if len(known) else ""
    reasons = dict.fromkeys(f"{row[DESCRIPTOR]} ({row['reason']})" for _, row in left[left["reason"] != ""].iterrows())
    silent = f" No answer on {listing(list(reasons)[:NAMED])}." if reasons else ""
    return f"cannot tell whether it matches {standard} or differs from it, {_tolerance(mine)}.{shown}{open_}{silent}"


def _far(row: pd.Series) -> str:
    if np.isnan(row["distance"]):
        return ""
    limits = interval(float(row["low"]), float(row["high"]), 2)
    return f" Over all, {number(float(row['distance']), 2)} points a descriptor from it ({limits})."


def _pots(mine: pd.DataFrame, call: str, group: Fitted) -> str:
    """What the pots leave open: one brew, two pots, or a pot variance that nothing steadies."""
    brews = mine.loc[mine["brews"] > 0, "brews"]
    if (brews == 1).any():
        return f" {ONE_BREW}"
    if call == DIFFER and any(_unsteadied(group, name) for name in mine.loc[mine["call"] == DIFFER, DESCRIPTOR]):
        return f" {UNSTEADIED}"
    return f" {TWO_POTS}" if (brews == 2).any() and call == CANNOT_TELL else ""


def _unsteadied(group: Fitted, descriptor: str) -> bool:
    """Whether few shared pots stand alone: fewer than four descriptors of the stage to lend their variance."""
    d = int(np.flatnonzero(group.grid.descriptors == descriptor)[0])
    part = group.part(d)
    k = part.slot[d]
    return bool(part.shared and part.pot_rule[k] != STEADIED and part.pot_df[k] < UNSTEADIED_DF)


def _settle(mine: pd.DataFrame, group: Fitted, level: float) -> str:
    """Pots or tasters with which the widest open descriptor would be settled in 8 cases of 10."""
    open_ = mine[(mine["call"] == CANNOT_TELL) & (mine["reason"] == "") & mine["tolerance"].notna()]
    if open_.empty:
        return "Taste the lots again beside the standard, by more tasters."
    row = open_.iloc[int(np.argmax(open_["se"] / open_["tolerance"]))]
    d = int(np.flatnonzero(group.grid.descriptors == row[DESCRIPTOR])[0])
    part, size = group.part(d), float(row["tolerance"])
    assert part.effects is not None  # noqa: S101  (an open row has a fit)
    variance = part.effects.fit.variances[part.slot[d]]
    tasters = len(group.grid.tasters)
    end = f"would settle {row[DESCRIPTOR]} within {_points(size)} in 8 cases of 10."
    if part.shared and tasters > 1:
        pots = _enough_pots(variance, tasters, size, level)
        if pots is not None:
            assumed = "" if variance[LOT_POT] else f" (if pots differ by an SD of {PLANNING_POT_SD})"
            more_pots = count(max(pots, int(row["brews"]) + 1), "pot")
            return f"{more_pots} of each{assumed}, by {count(tasters, 'taster')}, {end}"
    more = _enough_tasters(variance, int(group.grid.looks[..., d].sum(axis=2).max()), size, level)
    if more is None:
        return (
            f"No number of tasters up to {MOST_TASTERS} {end.replace('would settle', 'settles')} Ask a wider tolerance."
        )
    return f"{count(max(more, tasters + 1), 'taster')} {end}"


def _enough_pots(variance: np.ndarray, tasters: int, size: float, level: float) -> int | None:
    """Shared pots of each with which a lot that is not apart is shown to match: both sides, hence power 0.9 a side."""
    pot = np.array(variance[LOT_POT] or PLANNING_POT_SD**2)
    interaction, error = np.array(variance[LOT_TASTER]), np.array(variance[RESIDUAL])
    need = float(pots_needed(pot, interaction, error, tasters=tasters, difference=size, power=0.9, level=2 * level - 1))
    return int(need) if np.isfinite(need) else None


def _enough_tasters(variance: np.ndarray, looks: int, size: float, level: float) -> int | None:
    for tasters in range(2, MOST_TASTERS + 1):
        spread = np.sqrt(2 * (variance[LOT_TASTER] + variance[RESIDUAL] / max(looks, 1)) / tasters)
        if (student.isf(1 - level, tasters - 1) + student.isf(0.1, tasters - 1)) * spread <= size:
            return tasters
    return None
