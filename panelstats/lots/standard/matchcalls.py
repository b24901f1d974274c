"""The verdict on a lot held against the standard."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.standard import words
from panelstats.models.lending import STEADIED
from panelstats.models.numbersneeded import MOST_TASTERS, PLANNING_POT_SD, pots_and_tasters_needed, tasters_needed
from panelstats.models.reml import LOT_POT, LOT_TASTER, RESIDUAL
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, LOT, SESSION
from panelstats.speech import Phrase, said
from panelstats.words import FROM_TO, count, decimals, interval, limit, listing, number, stated, stated_percent

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.lots.classfit import ClassFit
    from panelstats.lots.standard.beside import Beside

# Descriptors named one by one in a sentence; more are counted.
NAMED = 4
# Pot degrees of freedom below which an unsteadied pot variance breaks the error rate. Simulated with two pots of each,
# three descriptors, 1000 tastings a figure: 3.7, 6.5 and 8.2 % at a pot SD of 0.15, 0.3 and 0.5 point.
UNSTEADIED_DF = 20
# A match lies inside two limits; each is met in 9 cases of 10 where both are in 8.
POWER_A_SIDE = 0.9
HOW_SOON = {words.MATCH: Act.KNOW, words.DIFFER: Act.DECIDE, words.CANNOT_TELL: Act.TASTE_AGAIN}


def match_verdict(row: pd.Series, mine: pd.DataFrame, found: Beside, standard: str, level: float) -> Verdict:
    """The verdict on one lot of one session.

    Parameters
    ----------
    row : Series
        Row of the summary: session, lot, call, distance, low, high.
    mine : DataFrame
        The lot's rows of the table.
    found : Beside
        The fits, for what would settle it.
    standard : str
    level : float in (0, 1)
    """
    group, call = found.groups[str(row[SESSION])], str(row["call"])
    says = {words.MATCH: _match, words.DIFFER: _differ, words.CANNOT_TELL: _open}[call](mine, standard, level)
    where = words.IN_SESSION.format(session=row[SESSION]) if group.among_sessions else ""
    lot = words.LOT.format(lot=row[LOT], where=where, says=says)
    return Verdict(
        question=words.QUESTION.format(standard=standard),
        subject=str(row[LOT]),
        call=call,
        sentence=lot + _far(row) + _pots(mine, call, group),
        numbers={name: float(row[name]) for name in ("distance", "low", "high")}
        | {"largest": float(mine["difference"].abs().max())},
        next_step=_settle(mine, group, level) if call == words.CANNOT_TELL else "",
        act=HOW_SOON[call],
    )


def _one(row: pd.Series, *, within: bool) -> str:
    """A descriptor with its difference and interval."""
    places = decimals(float(row["se"]))
    low, high = (row["within_low"], row["within_high"]) if within else (row["low"], row["high"])
    size = float(row["tolerance"])
    clear = {words.MATCH: [-size, size], words.DIFFER: [0.0]}.get(str(row["call"]), [])  # what the call rests on
    ends = [limit(float(end), places, up=up, clear=clear, sign=True) for end, up in ((low, False), (high, True))]
    return words.ONE.format(
        descriptor=row[DESCRIPTOR],
        difference=number(float(row["difference"]), places, sign=True),
        interval=FROM_TO.format(low=ends[0], high=ends[1]),
    )


def _by_size(rows: pd.DataFrame, *, within: bool) -> str:
    largest = rows.sort_values("difference", key=np.abs, ascending=False, kind="stable")
    named = [_one(row, within=within) for _, row in largest.head(NAMED).iterrows()]
    more = len(rows) - NAMED
    return listing([*named, count(more, "more descriptor")]) if more > 0 else listing(named)


def _tolerance(mine: pd.DataFrame) -> str:
    """The tolerance and whose it is."""
    sizes, whose = mine["tolerance"], listing(map(said, dict.fromkeys(mine["tolerance_from"])))
    low, high = float(sizes.min()), float(sizes.max())
    told = words.TOLERANCE if low == high else words.TOLERANCES
    return told.format(low=stated(low, ".3g"), high=_points(high), whose=whose)


def _points(size: float) -> str:
    return f"{stated(size, '.3g')} {Phrase('point') if size == 1 else Phrase('points')}"


def _match(mine: pd.DataFrame, standard: str, level: float) -> str:
    seen = int((mine["p_adjusted"] < 1 - level).sum())
    largest = mine.loc[[mine["difference"].abs().idxmax()]]
    return words.MATCHES.format(
        standard=standard,
        descriptors=Phrase("all {mine} descriptors").format(mine=len(mine))
        if len(mine) > 1
        else str(mine[DESCRIPTOR].iloc[0]),
        tolerance=_tolerance(mine),
        largest=_by_size(largest, within=True),
        level=stated_percent(2 * level - 1),
        risk=stated_percent(1 - level),
        detected=words.DETECTED.format(descriptors=count(seen, "descriptor")) if seen else "",
    )


def _differ(mine: pd.DataFrame, standard: str, level: float) -> str:
    apart = mine[mine["call"] == words.DIFFER]
    outside = int(((apart["low"] > apart["tolerance"]) | (apart["high"] < -apart["tolerance"])).sum())
    beyond = words.ALL_OUTSIDE if outside == len(apart) else words.SOME_OUTSIDE.format(count=outside) if outside else ""
    return words.DIFFERS.format(
        standard=standard,
        allowing=words.ALLOWING.format(descriptors=count(len(mine), "descriptor")) if len(mine) > 1 else "",
        largest=_by_size(apart, within=False),
        beyond=beyond,
        level=stated_percent(level),
        tolerance=_tolerance(mine),
    )


def _open(mine: pd.DataFrame, standard: str, level: float) -> str:
    left = mine[mine["call"] == words.CANNOT_TELL]
    known, silent = left[left["reason"] == ""], left[left["reason"] != ""]
    matched = len(mine) - len(left)
    says = words.NOT_TOLD.format(standard=standard, tolerance=_tolerance(mine))
    if matched:
        says += words.SOME_MATCH.format(descriptors=count(matched, "descriptor"), all=len(mine))
    if len(known):
        says += words.OPEN.format(largest=_by_size(known, within=True), level=stated_percent(2 * level - 1))
    if len(silent):
        reasons = dict.fromkeys(f"{row[DESCRIPTOR]} ({row['reason']})" for _, row in silent.iterrows())
        says += words.SILENT.format(descriptors=listing(list(reasons)[:NAMED]))
    return says


def _far(row: pd.Series) -> str:
    if np.isnan(row["distance"]):
        return ""
    limits = interval(float(row["low"]), float(row["high"]), 2)
    return words.FAR.format(distance=number(float(row["distance"]), 2), interval=limits)


def _pots(mine: pd.DataFrame, call: str, group: ClassFit) -> str:
    """What the pots leave open: one brew, two pots, or a pot variance that nothing steadies."""
    brews = mine.loc[mine["brews"] > 0, "brews"]
    if (brews == 1).any():
        return words.ONE_BREW
    apart = mine.loc[mine["call"] == words.DIFFER, DESCRIPTOR]
    if call == words.DIFFER and any(_unsteadied(group, name) for name in apart):
        return words.UNSTEADIED
    return words.TWO_POTS if (brews == 2).any() and call == words.CANNOT_TELL else ""


def _unsteadied(group: ClassFit, descriptor: str) -> bool:
    """Whether few shared pots stand alone: fewer than four descriptors of the stage to lend their variance."""
    fit = group.of(int(np.flatnonzero(group.grid.descriptors == descriptor)[0]))
    if fit is None or not fit.part.shared:
        return False
    return bool(fit.part.pots.rule[fit.slot] != STEADIED and fit.part.pots.df[fit.slot] < UNSTEADIED_DF)


def _settle(mine: pd.DataFrame, group: ClassFit, level: float) -> str:
    """Pots or tasters with which the widest open descriptor would be settled in 8 cases of 10."""
    open_ = mine[(mine["call"] == words.CANNOT_TELL) & (mine["reason"] == "") & mine["tolerance"].notna()]
    if open_.empty:
        return words.TASTE_AGAIN
    row = open_.iloc[int(np.argmax(open_["se"] / open_["tolerance"]))]
    d = int(np.flatnonzero(group.grid.descriptors == row[DESCRIPTOR])[0])
    fit, size, tasters = group.of(d), float(row["tolerance"]), len(group.grid.tasters)
    assert fit is not None  # noqa: S101 - an open row has a fit
    variance, fields = fit.variances, {"descriptor": row[DESCRIPTOR], "tolerance": _points(size)}
    if (fit.part.shared or group.one_brew(d)) and tasters > 1:
        would = _pots_would(variance, row, tasters, level)
        return words.POTS_WOULD.format(**would, **fields) if would else _nobody_would(fields)
    more = tasters_needed(
        variance[LOT_TASTER],
        variance[RESIDUAL],
        looks=max(int(group.grid.looks[..., d].sum(axis=2).max()), 1),
        difference=size,
        power=POWER_A_SIDE,
        level=2 * level - 1,
    )
    if more is None:
        return _nobody_would(fields)
    return words.TASTERS_WOULD.format(tasters=count(max(more, tasters + 1), "taster"), **fields)


def _nobody_would(fields: dict[str, str]) -> str:
    return words.NOBODY_WOULD.format(most=MOST_TASTERS, **fields)


def _pots_would(variance: np.ndarray, row: pd.Series, tasters: int, level: float) -> dict[str, str]:
    """Shared pots of each that would do, with more tasters where these do not; empty where no number does."""
    told = variance[LOT_POT] > 0
    enough = pots_and_tasters_needed(
        variance[LOT_POT] if told else PLANNING_POT_SD**2,
        variance[LOT_TASTER],
        variance[RESIDUAL],
        tasters=tasters,
        difference=float(row["tolerance"]),
        power=POWER_A_SIDE,
        level=2 * level - 1,
    )
    if enough is None:
        return {}
    pots, many = enough
    assumed = "" if told else words.ASSUMED_POTS.format(sd=PLANNING_POT_SD)
    return {"pots": count(max(pots, int(row["brews"]) + (many == tasters)), "pot"), "assumed": assumed,
            "tasters": count(many, "taster")}  # fmt: skip
