"""The tables of a taster assessment: every taster, descriptor and aspect keeps its row."""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy import special

from panelstats.panel.tasters.assessed import Assessed, over_all, shown_with_panel, untested
from panelstats.panel.tasters.finding import Finding
from panelstats.panel.tasters.naming import APART, CANNOT
from panelstats.panel.tasters.reasons import reason_of
from panelstats.panel.tasters.verdicts import crossed_said, worst_said
from panelstats.panel.tasters.words import SAID
from panelstats.scores.cells import DESCRIPTOR, TASTER

ASPECT, CALL, REASON, ESTIMATE, LOW, HIGH, P = "aspect", "call", "reason", "estimate", "low", "high", "p"
FLOOR, CEILING, LOTS_IN_ALL = "floor", "ceiling", "lots_in_all"


def table_of(a: Assessed) -> pd.DataFrame:
    """Rows by taster, aspect and descriptor, each aspect closing with all descriptors together (descriptor "")."""
    columns: dict[str, list[np.ndarray]] = {}
    labels = np.append(a.descriptors, "")
    aspects = list(a.names.judgement.cells)
    for aspect in aspects:
        parts = (
            (a.names.judgement.cells[aspect], a.calls.cells[aspect]),
            (over_all(a, aspect)[:, None], a.calls.tasters[aspect][:, None]),
        )
        both = [_columns(a, aspect, found, call) for found, call in parts]
        for name in both[0]:
            columns.setdefault(name, []).append(np.concatenate([part[name] for part in both], axis=1))
    size = len(labels)
    return pd.DataFrame(
        {
            TASTER: np.repeat(a.tasters, size * len(aspects)),
            DESCRIPTOR: np.tile(labels, len(a.tasters) * len(aspects)),
            ASPECT: np.tile(np.repeat(aspects, size), len(a.tasters)),
            **{name: np.stack(parts, axis=1).ravel() for name, parts in columns.items()},
        }
    )


def _columns(a: Assessed, aspect: str, found: Finding, call: np.ndarray) -> dict[str, np.ndarray]:
    """Values by taster and descriptor, in the order of the table's columns."""
    shape = found.estimate.shape
    reason = [[reason_of(a, aspect, found, call[i, d], i, d) for d in range(shape[1])] for i in range(shape[0])]
    return {
        ESTIMATE: found.estimate,
        LOW: found.low,
        HIGH: found.high,
        P: np.where(found.why == "", found.p, np.nan),
        CALL: call,
        REASON: np.array(reason, dtype=object).reshape(shape),
        FLOOR: found.floor,
        CEILING: found.ceiling,
        LOTS_IN_ALL: found.lots,
    }


def summary_of(a: Assessed) -> pd.DataFrame:
    """A row a taster."""
    shown = shown_with_panel(a)
    return pd.DataFrame(
        {
            TASTER: a.tasters,
            CALL: a.calls.overall,
            "worst": [worst_said(a, i) if call in (APART, CANNOT) else "" for i, call in enumerate(a.calls.overall)],
            "shown_with_panel": shown,
            "descriptors": len(a.descriptors),
            "not_tested": ", ".join(str(SAID[k]) for k in untested(a)),
            "lots": a.lots,
            "order_p": a.calls.orders.own_p,
            "panel_order_p": a.calls.orders.panel_p,
            "order_shown": int(a.calls.orders.on.sum()),
            "marks_spread": a.calls.orders.spread,
            "crossed_words": [crossed_said(a, i) for i in range(len(a.tasters))],
        }
    )


def crossed_table(a: Assessed) -> pd.DataFrame:
    """A row for each taster with a word that goes with another word of the others."""
    names = ("kind", "own", "across", "statistic", "limit")
    rows = [
        {TASTER: a.tasters[c.taster], DESCRIPTOR: a.descriptors[c.word], "other": a.descriptors[c.other]}
        | {name: getattr(c, name) for name in names}
        for c in a.crossed.values()
    ]
    return pd.DataFrame(rows, columns=[TASTER, DESCRIPTOR, "other", *names])


def alone_of(a: Assessed) -> pd.DataFrame:
    """What each taster's own repeated servings show, without anyone else."""
    own, tail = a.bench.own, (1 - a.level) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        sd = np.sqrt(np.where(own.error_df > 0, own.error_ss / np.maximum(own.error_df, 1), np.nan))
        ends = [sd * np.sqrt(own.error_df / special.chdtri(own.error_df, t)) for t in (tail, 1 - tail)]
    share = dict(zip(("lot_share", "lot_share_low", "lot_share_high"), own.lot_share(tail), strict=True))
    share["p_lots"] = special.fdtrc(own.lots_df, own.error_df, own.f)
    count = len(a.descriptors)
    return pd.DataFrame(
        {
            TASTER: np.repeat(a.tasters, count),
            DESCRIPTOR: np.tile(a.descriptors, len(a.tasters)),
            "sd": sd.ravel(),
            "sd_low": ends[0].ravel(),
            "sd_high": ends[1].ravel(),
            "df": own.error_df.ravel(),
            **{name: values.ravel() for name, values in share.items()},
        }
    )
