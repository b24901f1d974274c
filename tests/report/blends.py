"""Invented matches, tracks and tests for the page tests: columns as the analyses give them, numbers made up."""

import numpy as np
import pandas as pd
from invented import DESCRIPTORS, HARD, review

from panelstats.lots.standard.fit import StandardMatch
from panelstats.lots.track.fit import StandardTrack
from panelstats.result import Act, Verdict, in_order

CALLS = {"match": Act.KNOW, "differ": Act.DECIDE, "cannot tell": Act.TASTE_AGAIN}


def match(*, lots=("B1", "B2"), descriptors=4, standard="S", tolerance=1.0, seed=0, unknown=False):
    """A match of some lots; `unknown` drops every interval."""
    rng = np.random.default_rng(seed)
    names = [name for _, name in DESCRIPTORS][-descriptors:]
    rows = [_row(rng, lot, name, tolerance, unknown) for lot in lots for name in names]
    table = pd.DataFrame(rows)
    whole = {lot: _whole(set(table.loc[table["lot"] == lot, "call"])) for lot in lots}
    far = (np.nan,) * 3 if unknown else (0.4, 0.1, 0.8)
    summary = pd.DataFrame(
        [(lot, whole[lot], *far) for lot in lots], columns=["lot", "call", "distance", "low", "high"]
    )
    verdicts = [
        Verdict(f"Does it match the standard {standard}?", lot, call, f"{lot}: {call} on {len(names)} descriptors.",
                {"distance": 0.4}, "6 pots of each would settle it." if call == "cannot tell" else "", CALLS[call])
        for lot, call in whole.items()
    ]  # fmt: skip
    return StandardMatch(
        standard=standard, table=table, summary=summary, level=0.95, verdicts=in_order(verdicts), method="As invented."
    )


def _row(rng, lot, name, tolerance, unknown):
    difference, se = rng.normal(0, 1.0), rng.uniform(0.1, 0.4)
    low, high = (difference - 2.1 * se, difference + 2.1 * se) if not unknown else (np.nan, np.nan)
    inner = (difference - 1.7 * se, difference + 1.7 * se) if not unknown else (np.nan, np.nan)
    call = "match" if inner[0] > -tolerance and inner[1] < tolerance else "differ" if low * high > 0 else "cannot tell"
    return {
        "lot": lot, "descriptor": name, "difference": difference, "se": se, "df": 20.0, "low": low, "high": high,
        "within_low": inner[0], "within_high": inner[1], "tolerance": tolerance, "tolerance_from": "the register's",
        "p": 0.04, "p_adjusted": 0.2, "call": "cannot tell" if unknown else call, "reason": "",
    }  # fmt: skip


def _whole(calls):
    return "differ" if "differ" in calls else "match" if calls == {"match"} else "cannot tell"


def track(*, weeks=30, descriptors=4, seed=0, session="2026-{:02d}"):
    """A track of a blend that creeps away on the first descriptor."""
    rng = np.random.default_rng(seed)
    names = [name for _, name in DESCRIPTORS][-descriptors:]
    rows, last = [], []
    for at, name in enumerate(names):
        true = np.linspace(0, 2.0 if at == 0 else 0.1, weeks)
        value = true + rng.normal(0, 0.4, weeks)
        level = pd.Series(value).ewm(alpha=0.2).mean().to_numpy()
        rows += [
            (session.format(week + 1), f"B{week + 1}", name, value[week], 0.4, value[week] - 0.8, value[week] + 0.8,
             level[week], 0.15, level[week] / 0.15, at == 0)
            for week in range(weeks)
        ]  # fmt: skip
        call = "cannot tell" if weeks < 4 else "left the standard" if at == 0 else "on the standard"
        since = session.format(weeks // 2) if at == 0 and weeks >= 4 else ""
        last.append((name, call, level[-1], level[-1] - 0.3, level[-1] + 0.3, 1.0, "the register's", since, weeks))
    table = pd.DataFrame(rows, columns=["session", "lot", "descriptor", "difference", "se", "low", "high", "smoothed",
                                        "sd", "z", "alarm"])  # fmt: skip
    summary = pd.DataFrame(last, columns=["descriptor", "call", "smoothed", "low", "high", "tolerance",
                                          "tolerance_from", "since", "weeks"])  # fmt: skip
    moved = Verdict(
        "Is the blend still on its master?", names[0], last[0][1], f"{names[0]}: as invented.", {"smoothed": 1.8},
        "Correct the blend against the master itself.", Act.NOW,
    )  # fmt: skip
    return StandardTrack(
        standard="S", table=table, summary=summary, distances=pd.DataFrame(), limit=3.7, level=0.95, verdicts=(moved,),
        method="As invented.",
    )  # fmt: skip


def scores(lots=("S", "B1", "B2"), descriptors=4):
    """What was tasted, as the page asks for it."""
    return review(lots=len(lots), names=list(lots), descriptors=descriptors, faults=0).scores


__all__ = ["HARD", "match", "scores", "track"]
