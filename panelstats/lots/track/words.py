"""What is said of a blend that is tasted week after week against its master."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, SESSION
from panelstats.words import count, decimals, interval, listing, number

if TYPE_CHECKING:
    import pandas as pd

ON, CREEPING, LEFT, CANNOT_TELL = "on the standard", "creeping", "left the standard", "cannot tell"
# Fewer weeks are shown as points and intervals only (ours).
FEW_WEEKS = 4
QUESTION = "Is the blend still on its master?"


def call_of(low: float, high: float, tolerance: float, *, alarm: bool, weeks: int) -> str:
    """The call of one descriptor at the last week, from the interval of the smoothed level."""
    if weeks < FEW_WEEKS:
        return CANNOT_TELL
    if alarm:
        return LEFT if low > tolerance or high < -tolerance else CREEPING
    return ON if -tolerance < low and high < tolerance else CANNOT_TELL


def tracking_verdicts(table: pd.DataFrame, summary: pd.DataFrame, standard: str, level: float) -> list[Verdict]:
    """One verdict for each descriptor that moved, one for those on the standard, one for those left open."""
    chain = _chain(table)
    moved = summary[summary["call"].isin([LEFT, CREEPING])]
    verdicts = [_moved(row, standard, chain) for _, row in moved.iterrows()]
    for call in (ON, CANNOT_TELL):
        some = summary[summary["call"] == call]
        if len(some):
            verdicts.append(_others(some, call, standard, level, chain if moved.empty else ""))
    return verdicts


def _moved(row: pd.Series, standard: str, chain: str) -> Verdict:
    places = decimals(float(row["high"] - row["low"]) / 4)
    now = f"{number(row['smoothed'], places, sign=True)} ({interval(row['low'], row['high'], places, sign=True)})"
    size = f"tolerance {row['tolerance']:.3g}, {row['tolerance_from']}"
    inside = -row["tolerance"] < row["low"] and row["high"] < row["tolerance"]
    where = "still within" if inside else "whether still within the tolerance cannot be told"
    says = f"left {standard}" if row["call"] == LEFT else f"is creeping from {standard}, {where}"
    return Verdict(
        question=QUESTION,
        subject=str(row[DESCRIPTOR]),
        call=str(row["call"]),
        sentence=f"{row[DESCRIPTOR]}: the blend {says}, since {row['since']}; now {now} from the master ({size}). "
        f"{chain}",
        numbers={name: float(row[name]) for name in ("smoothed", "low", "high", "tolerance")},
        next_step="Correct the blend against the master itself, not against last week's.",
        act=Act.NOW if row["call"] == LEFT else Act.DECIDE,
    )


def _others(some: pd.DataFrame, call: str, standard: str, level: float, chain: str) -> Verdict:
    names = listing(some[DESCRIPTOR].tolist())
    widest = some.loc[[(some["high"].abs().combine(some["low"].abs(), max)).idxmax()]].iloc[0]
    places = decimals(float(widest["high"] - widest["low"]) / 4)
    reach = interval(widest["low"], widest["high"], places, sign=True)
    far = f"furthest, {widest[DESCRIPTOR]}, {reach} from the master ({100 * level:g} % interval)"
    weeks = int(some["weeks"].max())
    if call == ON:
        sentence = f"{names}: on {standard} after {count(weeks, 'week')}, within the tolerance; {far}. {chain}"
        return Verdict(QUESTION, "", call, sentence.strip(), {"weeks": weeks}, "", Act.KNOW)
    few = f"{count(weeks, 'week')} are too few to chart; " if weeks < FEW_WEEKS else ""
    sentence = f"{names}: cannot tell whether the blend is still on {standard}: {few}{far}. {chain}"
    step = "Taste the blend beside the master in more weeks, from more pots of each."
    return Verdict(QUESTION, "", call, sentence.strip(), {"weeks": weeks}, step, Act.TASTE_AGAIN)


def _chain(table: pd.DataFrame) -> str:
    """How often each week could be told from the week before: what week-to-week matching sees of a creep."""
    told, pairs = 0, 0
    for _, mine in table.groupby(DESCRIPTOR, sort=False):
        step = np.diff(mine["difference"])
        se = np.hypot(mine["se"].to_numpy()[1:], mine["se"].to_numpy()[:-1])
        told, pairs = told + int((np.abs(step) > 1.96 * se).sum()), pairs + len(step)
    if not pairs:
        return ""
    return (
        f"From one week to the next the blend was told apart in {told} of {pairs} comparisons: a chain of matches is "
        "not a match."
    )


def master_verdict(table: pd.DataFrame, standard: str, other: str) -> Verdict:
    """Whether two masters keep together."""
    last = table[table[SESSION] == table[SESSION].iloc[-1]]
    apart = last[last["alarm"]]
    weeks = table[SESSION].nunique()
    if len(apart):
        names = listing([f"{r[DESCRIPTOR]} {number(r['smoothed'], 1, sign=True)}" for _, r in apart.iterrows()])
        sentence = f"The masters {other} and {standard} have drawn apart ({names}): one of them may have moved."
        step = "Open a fresh master and taste all of them together before correcting the blend."
        return Verdict("Has the master itself moved?", other, "differ", sentence, {"weeks": weeks}, step, Act.DECIDE)
    sentence = (
        f"Cannot tell whether the master has moved: {other} and {standard} kept together for {count(weeks, 'week')}"
    )
    step = "Masters that age alike move alike: open them at different dates and overlap them for three weeks."
    return Verdict("Has the master itself moved?", other, CANNOT_TELL, f"{sentence}.", {"weeks": weeks}, step, Act.KNOW)
