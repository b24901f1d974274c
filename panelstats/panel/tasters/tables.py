"""The tables of a taster assessment: every taster, descriptor and aspect keeps its row."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from scipy import special

from panelstats.panel.tasters.calls import Calls, lots_to_settle
from panelstats.panel.tasters.finding import (
    AGREEMENT,
    ALIKE,
    ASPECTS,
    DISCRIMINATION,
    LEVEL,
    NOT_TESTED,
    REPEATABILITY,
    SCALE_USE,
    SCATTER,
    Finding,
)
from panelstats.panel.tasters.judgement import TOO_FEW, Bench
from panelstats.panel.tasters.naming import APART, CANNOT, EACH_OTHER, WITH, Names
from panelstats.panel.tasters.ownlots import OwnLots
from panelstats.panel.tasters.spread import CONSTANT, IDENTICAL
from panelstats.scores.cells import DESCRIPTOR, TASTER

ASPECT, CALL, REASON, ESTIMATE, LOW, HIGH, P = "aspect", "call", "reason", "estimate", "low", "high", "p"
FLOOR, CEILING, LOTS_NEEDED = "floor", "ceiling", "lots_needed"
# A ratio of spreads below this, with its interval below 1, asks for remembered scores (ours).
UNUSUALLY_STEADY = 0.5
# Share of marks at the ends of the scale from which slope and spread are squeezed (ours).
SQUEEZED = 0.2

# What an aspect is called in a sentence.
SAID = {
    LEVEL: "level",
    REPEATABILITY: "repeatability",
    DISCRIMINATION: "telling lots apart",
    AGREEMENT: "order",
    SCALE_USE: "scale use",
    SCATTER: "scatter",
}
WHY = {
    ALIKE: "the lots are too alike on this descriptor for the others to tell them apart",
    NOT_TESTED: "not tested",
    CONSTANT: "gave every lot the same mark",
    IDENTICAL: "the others gave identical marks: nothing to compare with",
    TOO_FEW: "fewer than 4 lots scored together with the others (in each of 2 sessions where there are several)",
}


@dataclass(frozen=True, eq=False)
class Assessed:
    """Everything the tables and sentences of an assessment are written from."""

    bench: Bench
    names: Names
    calls: Calls
    size: int
    level: float
    at_ends: np.ndarray  # share of a taster's marks at the ends of the scale, (taster, descriptor)

    @property
    def tasters(self) -> np.ndarray:
        """Labels of the tasters."""
        return self.bench.pool.tasters

    @property
    def descriptors(self) -> np.ndarray:
        """Labels of the descriptors."""
        return self.bench.pool.descriptors

    @property
    def lots(self) -> np.ndarray:
        """Number of lots each taster is compared on."""
        return self.names.judgement.evidence.rows.sum(axis=0)


def table_of(a: Assessed) -> pd.DataFrame:
    """Rows by taster, aspect and descriptor, each aspect closing with all descriptors together (descriptor "")."""
    columns: dict[str, list[np.ndarray]] = {}
    labels = np.append(a.descriptors, "")
    for aspect in ASPECTS:
        parts = (
            (a.names.judgement.cells[aspect], a.calls.cells[aspect]),
            (over_all(a, aspect).as_column(), a.calls.tasters[aspect][:, None]),
        )
        both = [_columns(a, aspect, found, call) for found, call in parts]
        for name in both[0]:
            columns.setdefault(name, []).append(np.concatenate([part[name] for part in both], axis=1))
    size = len(labels)
    return pd.DataFrame(
        {
            TASTER: np.repeat(a.tasters, size * len(ASPECTS)),
            DESCRIPTOR: np.tile(labels, len(a.tasters) * len(ASPECTS)),
            ASPECT: np.tile(np.repeat(ASPECTS, size), len(a.tasters)),
            **{name: np.stack(parts, axis=1).ravel() for name, parts in columns.items()},
        }
    )


def over_all(a: Assessed, aspect: str) -> Finding:
    """A taster's finding over all descriptors, with the lots that would settle it."""
    found = a.names.judgement.tasters[aspect]
    return replace(found, lots=np.where(found.tested, lots_to_settle(aspect, found, a.lots), np.nan))


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
        LOTS_NEEDED: found.lots,
    }


def reason_of(a: Assessed, aspect: str, found: Finding, call: str, i: int, d: int) -> str:
    """Why a call is what it is, in a few words."""
    why = found.why[i, d]
    if why:
        return _not_tested(a, aspect) if why == NOT_TESTED else WHY.get(why, why)
    if call == "":
        return "shown, not judged: repeated servings say it better"
    note = _note(a, aspect, found, i, d)
    if call != CANNOT:
        return note
    if found.estimate.shape[1] == len(a.descriptors):
        out = a.names.cells_out
    else:
        out = {k: v[:, None] for k, v in a.names.tasters_out.items()}
    if out[aspect][i, d]:
        return "stands out, but the others do not agree among themselves: nobody can be named"
    if found.outside[i, d]:
        looks = int((~np.isnan(found.p)).sum())
        return f"would stand out on its own, not after allowing for {looks} looks: taste again"
    return "; ".join(part for part in (_more_lots(a, found, i, d), note) if part)


def _not_tested(a: Assessed, aspect: str) -> str:
    if aspect in (REPEATABILITY, DISCRIMINATION) and not (a.bench.pool.looks > 1).any():
        return "not tested: each lot was served once"
    return "not tested: too few others or too few lots scored together"


def _more_lots(a: Assessed, found: Finding, i: int, d: int) -> str:
    lots = found.lots[i, d]
    if np.isnan(lots):
        return "the interval reaches over the tolerance"
    if np.isinf(lots):
        return "sits at the tolerance: more lots will not settle it soon"
    return f"about {max(int(lots) - int(a.lots[i]), 1)} more lots would settle it"


def _note(a: Assessed, aspect: str, found: Finding, i: int, d: int) -> str:
    notes = []
    if aspect == SCALE_USE and found.high[i, d] < 0:
        notes.append("scored the wrong way round: check the anchor words first")
    if aspect == REPEATABILITY and found.estimate[i, d] < UNUSUALLY_STEADY and found.high[i, d] < 1:
        notes.append("unusually steady: check for remembered scores or few scale points")
    if aspect == REPEATABILITY and found.high[i, d] == 0:
        notes.append("no variation recorded: the steps of the scale hide it")
    single = found.estimate.shape[1] == len(a.descriptors)
    if single and aspect in (REPEATABILITY, SCALE_USE) and a.at_ends[i, d] > SQUEEZED:
        notes.append(f"{a.at_ends[i, d]:.0%} of the marks lie at the ends of the scale and squeeze this")
    if single and a.names.judgement.reference.parts[i, d] > 1:
        notes.append("the others fall into groups that share no lot: levels are compared inside each group only")
    return "; ".join(notes)


def summary_of(a: Assessed) -> pd.DataFrame:
    """A row a taster."""
    shown = shown_with_panel(a)
    return pd.DataFrame(
        {
            TASTER: a.tasters,
            CALL: a.calls.overall,
            "worst": [worst_of(a, i)[2] if call in (APART, CANNOT) else "" for i, call in enumerate(a.calls.overall)],
            "shown_with_panel": shown,
            "descriptors": len(a.descriptors),
            "not_tested": not_tested(a),
            "lots": a.lots,
        }
    )


def shown_with_panel(a: Assessed) -> np.ndarray:
    """Number of descriptors on which every judged aspect is shown with the panel, by taster."""
    judged = a.names.judgement.judged
    if not judged:
        return np.zeros(len(a.tasters), int)
    return np.all([np.isin(a.calls.cells[k], [WITH, EACH_OTHER]) for k in judged], axis=0).sum(axis=1)


def not_tested(a: Assessed) -> str:
    """Aspects nothing could be said on, in words; scatter stands in for repeatability."""
    judged = a.names.judgement.judged
    asked = [k for k in ASPECTS if k != SCATTER and k not in judged]
    return ", ".join(SAID[k] for k in asked)


def worst_of(a: Assessed, i: int) -> tuple[str, int, str]:
    """The aspect and descriptor (-1 over all) that matter most for taster `i`, and both in words.

    What is named comes first, over all descriptors before one; then what stands out; then what is not shown inside.
    """
    best: tuple[float, float, str, int] = (9.0, 9.0, "", -1)
    for k in a.names.judgement.judged:
        cells, over = a.names.judgement.cells[k], a.names.judgement.tasters[k]
        ranks = [(_rank(a.calls.tasters[k][i], a.names.tasters_out[k][i], over.outside[i], over.inside[i], 0.0), -1)]
        calls = zip(a.calls.cells[k][i], a.names.cells_out[k][i], cells.outside[i], cells.inside[i], strict=True)
        ranks = ranks * (len(a.descriptors) > 1) + [(_rank(*call, 0.5), d) for d, call in enumerate(calls)]
        for rank, d in ranks:
            p = over.p[i] if d < 0 else cells.p[i, d]
            best = min(best, (rank, 1.0 if np.isnan(p) else float(p), k, d))
    if best[0] >= 4:
        return "", -1, ""
    if best[2] == SCALE_USE and best[3] >= 0 and a.names.cells[AGREEMENT][i, best[3]]:
        best = (*best[:2], AGREEMENT, best[3])  # another order says more than another slope
    where = f" of {a.descriptors[best[3]]}" if best[3] >= 0 else " over all descriptors"
    return best[2], best[3], SAID[best[2]] + where


def _rank(call: str, out: bool, outside: bool, inside: bool, single: float) -> float:
    if call == APART:
        return 0.0 + single
    if out:
        return 1.0 + single
    if outside:
        return 2.0 + single
    return 4.0 if inside else 3.0 + single


def alone_of(a: Assessed) -> pd.DataFrame:
    """What each taster's own repeated servings show, without anyone else."""
    own, tail = a.bench.own, (1 - a.level) / 2
    with np.errstate(divide="ignore", invalid="ignore"):
        sd = np.sqrt(np.where(own.error_df > 0, own.error_ss / np.maximum(own.error_df, 1), np.nan))
        ends = [sd * np.sqrt(own.error_df / special.chdtri(own.error_df, t)) for t in (tail, 1 - tail)]
    share = _shares(own, tail)
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


def _shares(own: OwnLots, tail: float) -> dict[str, np.ndarray]:
    """Share of one serving's variance that is the lot, its interval, and the p-value that lots do not differ."""
    f, df = own.f, (own.lots_df, own.error_df)
    ends = (f, f / special.fdtri(*df, 1 - tail), f / special.fdtri(*df, tail))
    value, low, high = ((x - 1) / (x - 1 + own.servings) for x in ends)
    return {"lot_share": value, "lot_share_low": low, "lot_share_high": high, "p_lots": special.fdtrc(*df, f)}
