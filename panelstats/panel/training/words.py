"""What is said to a trainee, and to the head taster who may count the trainee's marks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.tasters.finding import LEVEL
from panelstats.panel.tasters.words import finding_said
from panelstats.panel.training.licence import CANNOT, LEVEL_ONLY, NOT_YET, READY, lots_compared
from panelstats.panel.training.tables import Judged, lesson, more_lots, parts_of
from panelstats.result import Act, Verdict
from panelstats.words import count, listing

if TYPE_CHECKING:
    import pandas as pd

QUESTION = "May this trainee's scores count?"


def trainee_verdict(judged: Judged, again: pd.DataFrame) -> Verdict:
    """The verdict on one trainee: overall, what counts from today, what does not, and what to train."""
    lic, t = judged.licence, judged.trial
    opening = {READY: "ready overall", NOT_YET: "not yet", CANNOT: "cannot tell overall yet"}[lic.overall]
    if judged.master:
        opening += f", measured against {judged.master}"
    clauses = [_worst(judged), _licensed(judged), _refused(judged), _open(judged), _seen(judged)]
    sentence = f"{t.trainee}: {opening}. " + " ".join(c for c in clauses if c)
    act = {READY: Act.KNOW, NOT_YET: Act.DECIDE, CANNOT: Act.TASTE_AGAIN}[lic.overall]
    return Verdict(QUESTION, t.trainee, lic.overall, sentence, _numbers(judged), _next(judged, again), act)


def _worst(judged: Judged) -> str:
    """The finding that decided: the largest, or over all descriptors where the trainee is ready."""
    aspect, d = judged.licence.worst
    t = judged.trial
    if judged.licence.overall == READY or not aspect:
        aspect, d = LEVEL, -1
    by_descriptor, over_all = parts_of(t)[aspect]
    found, at = (over_all, (0,)) if d < 0 else (by_descriptor, (0, d))
    if not found.tested[at]:
        return ""
    who = judged.master or "the seniors"
    said = finding_said(
        aspect, found, at, "" if d < 0 else str(t.pool.descriptors[d]),
        others=f"{judged.master}'s" if judged.master else "the seniors'", among=f"for {who}",
    )  # fmt: skip
    return f"{said[0].upper()}{said[1:]}."


def _names(judged: Judged, call: str) -> list[str]:
    return [str(x) for x in judged.trial.pool.descriptors[judged.licence.call == call]]


def _licensed(judged: Judged) -> str:
    """What counts from today; what a licence does not cover stands beside it."""
    names = _names(judged, READY)
    if not names:
        return "No descriptor counts yet."
    level_only = (judged.licence.kind == LEVEL_ONLY) & (judged.licence.call == READY)
    partly = listing(judged.trial.pool.descriptors[level_only])
    note = f" ({partly}: level only, the order of lots was not tested)" if partly else ""
    if len(names) == len(judged.licence.call):
        names = [f"all {len(names)} descriptors"] if len(names) > 1 else names
    if judged.master:
        return f"Agrees with {judged.master} on {listing(names)}{note}: these count from today."
    return f"Count {listing(names)} from today{note}."


def _refused(judged: Judged) -> str:
    names = _names(judged, NOT_YET)
    by = f" with {judged.master}" if judged.master else ""
    return f"Not yet{by} on {listing(names)}." if names else ""


def _open(judged: Judged) -> str:
    """Undecided descriptors, each group with what would settle it."""
    groups: dict[str, list[str]] = {}
    for d in np.flatnonzero(judged.licence.call == CANNOT):
        what = more_lots(judged, int(d)) or str(judged.licence.reason[d])
        groups.setdefault(what, []).append(str(judged.trial.pool.descriptors[d]))
    said = "; ".join(f"{listing(names)}: {what}" for what, names in groups.items())
    return f"Cannot tell on {said}." if said else ""


def _seen(judged: Judged) -> str:
    t = judged.trial
    removed = f" {listing(judged.removed)} left the reference where apart." if judged.removed else ""
    return f"{count(lots_compared(t), 'lot')} in {count(t.sessions, 'session')} beside {listing(t.masters)}.{removed}"


def _next(judged: Judged, again: pd.DataFrame) -> str:
    """The lesson, the bowls, and what the learning curve foretells."""
    lic = judged.licence
    if lic.overall == READY and (lic.call == READY).all():
        return ""
    lots = [f"lot {row.lot} ({row.descriptor})" for row in again.itertuples()]
    parts = [lesson(judged)]
    if lots:
        parts.append(f"Taste again: {listing(lots)}.")
    if lic.overall != READY:
        parts.append(f"At this rate of learning: {judged.curve.forecast}.")
    return " ".join(p for p in parts if p) or "Taste more lots beside the reference, on another day."


def _numbers(judged: Judged) -> dict[str, float]:
    found = judged.trial.level_all
    return {
        "estimate": float(found.estimate[0]),
        "low": float(found.low[0]),
        "high": float(found.high[0]),
        "ceiling": float(found.ceiling[0]),
        "licensed": float((judged.licence.call == READY).sum()),
    }
