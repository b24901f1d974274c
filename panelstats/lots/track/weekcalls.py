"""The verdicts on a blend that is tasted week after week against its master."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.track import words
from panelstats.lots.track.words import CANNOT_TELL, CREEPING, LEFT, ON
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, SESSION
from panelstats.speech import said
from panelstats.words import count, decimals, interval, listing, number, stated, stated_percent

if TYPE_CHECKING:
    import pandas as pd

# Fewer weeks are shown as points and intervals only (ours).
FEW_WEEKS = 4
# Two neighbouring weeks are told apart beyond this many standard errors: 5 % of alike ones.
TOLD_APART = 1.96


def call_of(
    low: float, high: float, tolerance: float, *, alarm: bool, weeks: int, newest: bool = True, one_brew: bool = False
) -> str:
    """The call of one descriptor at the last week.

    Parameters
    ----------
    low, high : float
        Interval of the smoothed level.
    tolerance : float
    alarm : bool
    weeks : int
    newest : bool
        Whether the newest weeks alone lie inside the tolerance.
    one_brew : bool
        Whether every week stood on one shared brew, of which no more can be said than by one match.
    """
    if weeks < FEW_WEEKS or one_brew:
        return CANNOT_TELL
    if alarm:
        return LEFT if low > tolerance or high < -tolerance else CREEPING
    return ON if -tolerance < low and high < tolerance and newest else CANNOT_TELL


def tracking_verdicts(table: pd.DataFrame, summary: pd.DataFrame, standard: str, level: float) -> list[Verdict]:
    """One verdict for each descriptor that moved, one for those on the standard, one for those left open."""
    chain, brews = _chain(table), table.groupby(DESCRIPTOR)["brews"].max()
    moved = summary[summary["call"].isin([LEFT, CREEPING])]
    verdicts = [_moved(row, standard, chain) for _, row in moved.iterrows()]
    for call in (ON, CANNOT_TELL):
        some = summary[summary["call"] == call]
        if len(some):
            one_brew = bool((brews[some[DESCRIPTOR]] == 1).all())
            verdicts.append(_others(some, call, standard, level, chain if moved.empty else "", one_brew=one_brew))
    return verdicts


def _moved(row: pd.Series, standard: str, chain: str) -> Verdict:
    places = decimals(float(row["high"] - row["low"]) / 4)
    inside = -row["tolerance"] < row["low"] and row["high"] < row["tolerance"]
    creeps = words.STILL_WITHIN if inside else words.PERHAPS_WITHIN
    sentence = words.MOVED.format(
        descriptor=row[DESCRIPTOR],
        says=(words.HAS_LEFT if row["call"] == LEFT else creeps).format(standard=standard),
        since=row["since"],
        now=number(row["smoothed"], places, sign=True),
        interval=interval(row["low"], row["high"], places, sign=True),
        tolerance=words.TOLERANCE.format(
            tolerance=stated(row["tolerance"], ".3g"), whose=said(str(row["tolerance_from"]))
        ),
        chain=chain,
    )
    return Verdict(
        question=words.QUESTION,
        subject=str(row[DESCRIPTOR]),
        call=str(row["call"]),
        sentence=sentence,
        numbers={name: float(row[name]) for name in ("smoothed", "low", "high", "tolerance")},
        next_step=words.CORRECT,
        act=Act.NOW if row["call"] == LEFT else Act.DECIDE,
    )


def _past(some: pd.DataFrame) -> str:
    """Alarms that have ended, which the last week no longer shows."""
    ended = [f"{row[DESCRIPTOR]} ({row['past_alarms']})" for _, row in some.iterrows() if row["past_alarms"]]
    return words.PAST_ALARMS.format(descriptors=listing(ended)) if ended else ""


def _others(some: pd.DataFrame, call: str, standard: str, level: float, chain: str, *, one_brew: bool) -> Verdict:
    widest = some.loc[[(some["high"].abs().combine(some["low"].abs(), max)).idxmax()]].iloc[0]
    places = decimals(float(widest["high"] - widest["low"]) / 4)
    weeks = int(some["weeks"].max())
    furthest = words.FURTHEST.format(
        descriptor=widest[DESCRIPTOR],
        interval=interval(widest["low"], widest["high"], places, sign=True),
        level=stated_percent(level),
    )
    fields = {"descriptors": listing(some[DESCRIPTOR].tolist()), "standard": standard, "weeks": count(weeks, "week")}
    if call == ON:
        sentence = words.ON_STANDARD.format(**fields, furthest=furthest, past=_past(some), chain=chain)
        return Verdict(words.QUESTION, "", call, sentence.strip(), {"weeks": weeks}, "", Act.KNOW)
    few = words.FEW.format(**fields) if weeks < FEW_WEEKS else words.ONE_BREW_A_WEEK if one_brew else ""
    sentence = words.NOT_TOLD.format(**fields, few=few, furthest=furthest, past=_past(some), chain=chain).strip()
    return Verdict(words.QUESTION, "", call, sentence, {"weeks": weeks}, words.MORE_WEEKS, Act.TASTE_AGAIN)


def _chain(table: pd.DataFrame) -> str:
    """How often each week could be told from the week before: what week-to-week matching sees of a creep."""
    told, pairs = 0, 0
    for _, mine in table.groupby(DESCRIPTOR, sort=False):
        step = np.diff(mine["difference"])
        se = np.hypot(mine["se"].to_numpy()[1:], mine["se"].to_numpy()[:-1])
        told, pairs = told + int((np.abs(step) > TOLD_APART * se).sum()), pairs + len(step)
    return words.CHAIN.format(told=told, pairs=pairs) if pairs else ""


def master_verdict(table: pd.DataFrame, standard: str, other: str) -> Verdict:
    """Whether two masters keep together."""
    last = table[table[SESSION] == table[SESSION].iloc[-1]]
    apart, weeks = last[last["alarm"]], table[SESSION].nunique()
    question, numbers = words.MASTER_QUESTION, {"weeks": weeks}
    if len(apart):
        named = [f"{row[DESCRIPTOR]} {number(row['smoothed'], 1, sign=True)}" for _, row in apart.iterrows()]
        sentence = words.MASTERS_APART.format(other=other, standard=standard, descriptors=listing(named))
        return Verdict(question, other, "differ", sentence, numbers, words.FRESH_MASTER, Act.DECIDE)
    sentence = words.MASTERS_TOGETHER.format(other=other, standard=standard, weeks=count(weeks, "week"))
    return Verdict(question, other, CANNOT_TELL, sentence, numbers, words.OVERLAP_MASTERS, Act.KNOW)
