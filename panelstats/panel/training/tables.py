"""The tables on trainees: a licence for each descriptor, one mark's limits, and bowls to taste again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from panelstats.models.likeness import WIDTH, concordance, limits_of_agreement
from panelstats.models.lotsneeded import MOST_LOTS
from panelstats.models.meansquares import ratio
from panelstats.panel.tasters.finding import SCATTER, Finding
from panelstats.panel.tasters.judgement import Bench
from panelstats.panel.tasters.tables import DESCRIPTOR, HIGH, LOW, REASON, TASTER
from panelstats.panel.tasters.tasteagain import bowls
from panelstats.panel.tasters.words import LESSON
from panelstats.panel.training.learning import Curve
from panelstats.panel.training.licence import (
    CANNOT,
    NOT_YET,
    READY,
    Licence,
    lots_compared,
    untested_said,
)
from panelstats.panel.training.master import habit
from panelstats.panel.training.trial import LEAST_REPEATS, TRAINEE, Trial
from panelstats.speech import Phrase, said
from panelstats.words import listing

TRAINEE_NAME, CALL, LICENCE = "trainee", "call", "licence"
LOTS_IN_ALL, LOTS_MORE = "lots_in_all", "lots_more"


@dataclass(frozen=True, eq=False)
class Judged:
    """One trainee's trial, licence and learning curve; `removed` are seniors who left the reference.

    The trial and the licence rest on the latest of the `sessions_seen` sessions, those that count (`Curve`).
    """

    trial: Trial
    licence: Licence
    curve: Curve
    removed: tuple[str, ...] = ()
    sessions_seen: int = 0

    @property
    def master(self) -> str:
        """The one master, "" where there are several seniors."""
        return str(self.trial.masters[0]) if len(self.trial.masters) == 1 else ""


def _numbers(name: str, found: Finding) -> dict[str, np.ndarray]:
    return {name: found.estimate[0], f"{name}_low": found.low[0], f"{name}_high": found.high[0]}


def licence_table(judged: Judged) -> pd.DataFrame:
    """A row a descriptor."""
    t, lic = judged.trial, judged.licence
    said = [_reason(judged, d) for d in range(len(t.pool.descriptors))]
    return pd.DataFrame(
        {
            TRAINEE_NAME: t.trainee,
            DESCRIPTOR: t.pool.descriptors,
            CALL: lic.call,
            LICENCE: lic.kind,
            "difference": t.level.estimate[0],
            LOW: t.level.low[0],
            HIGH: t.level.high[0],
            "tolerance": t.tolerance,
            **_numbers("slope", t.slope),
            **_numbers("spread", t.steadiness),
            "spread_from": "repeats" if t.repeated else SCATTER,
            "lots": t.lots,
            LOTS_IN_ALL: lic.lots_in_all,
            REASON: said,
        }
    )


def _reason(judged: Judged, d: int) -> str:
    lic = judged.licence
    if lic.call[d] == READY:
        return untested_said(judged.trial, d)
    more = more_lots(judged, d)
    return f"{said(lic.reason[d])}; {more}" if more else said(lic.reason[d])


def more_lots(judged: Judged, d: int) -> str:
    """How many more lots would settle the level of a descriptor, "" where that is not what is missing."""
    needed = judged.licence.lots_in_all[d]
    if judged.licence.call[d] != CANNOT or np.isnan(needed):
        return ""
    if np.isinf(needed):
        return Phrase("sits at the tolerance: {most_lots} lots would not settle it").format(most_lots=MOST_LOTS)
    return Phrase("about {d} more lots").format(d=max(int(needed - judged.trial.lots[d]), 1))


def summary_row(judged: Judged) -> dict[str, object]:
    """One trainee's line of the summary."""
    t, lic = judged.trial, judged.licence
    needed = lic.lots_in_all[np.isfinite(lic.lots_in_all)] - t.lots[np.isfinite(lic.lots_in_all)]
    return {
        TRAINEE_NAME: t.trainee,
        CALL: lic.overall,
        "licensed": int((lic.call == READY).sum()),
        "descriptors": len(t.pool.descriptors),
        "lesson": lesson(judged),
        LOTS_MORE: float(max(needed.max(), 1)) if len(needed) else np.nan,
        "sessions": t.sessions,
        "sessions_seen": judged.sessions_seen,
        "counted_from": str(t.pool.sessions[0]) if len(t.pool.sessions) else "",
        "lots": lots_compared(t),
        "reference": listing(t.masters),
        "forecast": judged.curve.forecast,
    }


def lesson(judged: Judged) -> str:
    """What to train, "" where nothing is missing."""
    aspect, d = judged.licence.worst
    if not aspect or (judged.licence.call == READY).all():
        return ""
    t = judged.trial
    if d >= 0 and t.slope.high[0, d] < 0:
        return Phrase("{d} is scored the wrong way round: check the anchor words first.").format(
            d=t.pool.descriptors[d]
        )
    return LESSON[aspect]


def limits_table(judged: Judged, tail: float) -> pd.DataFrame:
    """How far one mark may lie from the reference's, beside the seniors' own reach; and Lin's concordance."""
    t = judged.trial
    lots, bias = t.lots, t.levels.bias[TRAINEE]
    sd = np.sqrt(t.levels.plain[TRAINEE] + (_wander(t) if t.sessions > 1 else 0.0))
    found = limits_of_agreement(bias, sd, lots, tail=tail)
    like = concordance(t.pool.mean[:, TRAINEE], t.reference.score[:, TRAINEE], tail=tail)
    columns = {
        TRAINEE_NAME: t.trainee, DESCRIPTOR: t.pool.descriptors, "lots": lots, "difference": bias,
        "limit_low": found.low, "limit_low_from": found.low_interval[0], "limit_low_to": found.low_interval[1],
        "limit_high": found.high, "limit_high_from": found.high_interval[0], "limit_high_to": found.high_interval[1],
        "seniors_reach": _seniors_reach(t), "concordance": like.value, "concordance_low": like.low,
        "concordance_high": like.high, "order": like.pearson, "accuracy": like.accuracy,
    }  # fmt: skip
    return pd.DataFrame(columns | _freed(t, bias, sd, tail))


def _wander(t: Trial) -> np.ndarray:
    return np.broadcast_to(t.levels.wander, t.levels.bias.shape)[TRAINEE]


def _seniors_reach(t: Trial) -> np.ndarray:
    """1.96 standard deviations of the seniors' own differences to the others, rms over seniors."""
    plain = t.levels.plain[TRAINEE + 1 :]
    if len(plain) < 2:
        return np.full(plain.shape[1], np.nan)
    known = ~np.isnan(plain)
    return WIDTH * np.sqrt(ratio(np.where(known, plain, 0.0).sum(axis=0), known.sum(axis=0)))


def _freed(t: Trial, bias: np.ndarray, sd: np.ndarray, tail: float) -> dict[str, np.ndarray]:
    """Limits freed of one master's own wavering, and the trainee's distance in multiples of it; NaN for a panel."""
    m = t.evidence.moments
    df = m.others_df[TRAINEE].astype(float)
    usable = (df >= LEAST_REPEATS) if len(t.masters) == 1 else np.zeros(len(bias), bool)
    own = np.where(usable, m.others_variance[TRAINEE], np.nan)
    with np.errstate(divide="ignore", invalid="ignore"):
        own_df, freedom = np.where(usable, df, np.nan), t.levels.plain_df[TRAINEE]
        found = habit(sd**2, freedom, own, own_df, m.others[TRAINEE], tail=tail)
    low, high = found.limits(bias)
    names = ("freed_limit_low", "freed_limit_high", "wavering", "wavering_low", "wavering_high")
    return dict(zip(names, (low, high, found.kappa, found.kappa_low, found.kappa_high), strict=True))


def trainee_bowls(judged: Judged) -> pd.DataFrame:
    """Three lots on which it showed: on what is not yet, else on what is undecided, else on all."""
    t, call = judged.trial, judged.licence.call
    cases = (call == NOT_YET, call == CANNOT, np.ones(len(call), bool))
    at_issue = next(case for case in cases if case.any())
    mask = np.zeros((len(t.pool.tasters), len(call)), bool)
    mask[TRAINEE] = at_issue
    table = bowls(Bench(t.pool, t.tolerance), t.reference.score, mask)
    return table[table[TASTER] == t.trainee].rename(columns={TASTER: TRAINEE_NAME}).reset_index(drop=True)
