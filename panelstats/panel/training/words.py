"""What is said to a trainee, and to the head taster who may count the trainee's marks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.tasters.finding import LEVEL
from panelstats.panel.tasters.words import finding_said
from panelstats.panel.training.licence import (
    CANNOT,
    LEVEL_ONLY,
    NOT_YET,
    NOTICED_ONLY,
    READY,
    lots_compared,
    order_known,
    parts_of,
)
from panelstats.panel.training.tables import Judged, lesson, more_lots
from panelstats.result import Act, Verdict
from panelstats.speech import Phrase
from panelstats.words import capital, count, listing

if TYPE_CHECKING:
    import pandas as pd

QUESTION = Phrase("May this trainee's scores count?")
OPENING = {
    READY: Phrase("{trainee}: ready overall. {clauses}"),
    NOT_YET: Phrase("{trainee}: not yet. {clauses}"),
    CANNOT: Phrase("{trainee}: cannot tell overall yet. {clauses}"),
}
OPENING_WITH = {
    READY: Phrase("{trainee}: ready overall, measured against {master}. {clauses}"),
    NOT_YET: Phrase("{trainee}: not yet, measured against {master}. {clauses}"),
    CANNOT: Phrase("{trainee}: cannot tell overall yet, measured against {master}. {clauses}"),
}
NONE_COUNTS = Phrase("No descriptor counts yet.")
COUNT = Phrase("Count {descriptors} from today{note}.")
AGREES = Phrase("Agrees with {master} on {descriptors}{note}: these count from today.")
ALL = Phrase("all {n} descriptors")
LEVEL_NOTE = Phrase(" ({descriptors}: level only, order and steadiness are not shown there)")
NOTICED_NOTE = Phrase(" ({descriptors}: whether something is noticed, not how much)")
REFUSED, REFUSED_WITH = Phrase("Not yet on {descriptors}."), Phrase("Not yet with {master} on {descriptors}.")
OPEN, OPEN_GROUP = Phrase("Cannot tell on {groups}."), "{descriptors}: {what}"
SEEN = Phrase("{lots} in {sessions} beside {reference}.")
SEEN_SINCE = Phrase(
    "{lots} in {sessions} since {first} beside {reference}; by then the learning curve had passed the tolerance."
)
LEFT = Phrase(" {seniors} left the reference where apart.")
AGAIN, LOT_AGAIN = Phrase("Taste again: {lots}."), Phrase("lot {lot} ({descriptor})")
FORECAST = Phrase("Learning curve: {forecast}.")
NO_ORDER = Phrase("There was no order of the lots to follow: taste lots that are known to differ beside the reference.")
MORE = Phrase("Taste more lots beside the reference, on another day.")
SENIORS, SENIORS_OWN, OWN_OF = Phrase("the seniors"), Phrase("the seniors'"), Phrase("{master}'s")
AMONG = Phrase("for {who}")


def trainee_verdict(judged: Judged, again: pd.DataFrame) -> Verdict:
    """The verdict on one trainee: overall, what counts from today, what does not, and what to train."""
    lic, t = judged.licence, judged.trial
    clauses = [_worst(judged), _licensed(judged), _refused(judged), _open(judged), _seen(judged)]
    sentence = (OPENING_WITH if judged.master else OPENING)[lic.overall].format(
        trainee=t.trainee, master=judged.master, clauses=" ".join(str(c) for c in clauses if c)
    )
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
    said = finding_said(
        aspect, found, at, "" if d < 0 else str(t.pool.descriptors[d]),
        others=OWN_OF.format(master=judged.master) if judged.master else SENIORS_OWN,
        among=AMONG.format(who=judged.master or SENIORS),
    )  # fmt: skip
    return f"{capital(said)}."


def _names(judged: Judged, call: str) -> list[str]:
    return [str(x) for x in judged.trial.pool.descriptors[judged.licence.call == call]]


def _licensed(judged: Judged) -> str:
    """What counts from today; what a licence does not cover stands beside it."""
    names = _names(judged, READY)
    if not names:
        return NONE_COUNTS
    note = ""
    for kind, template in ((LEVEL_ONLY, LEVEL_NOTE), (NOTICED_ONLY, NOTICED_NOTE)):
        partly = (judged.licence.kind == kind) & (judged.licence.call == READY)
        note += template.format(descriptors=listing(judged.trial.pool.descriptors[partly])) if partly.any() else ""
    if len(names) == len(judged.licence.call):
        names = [ALL.format(n=len(names))] if len(names) > 1 else names
    return (AGREES if judged.master else COUNT).format(master=judged.master, descriptors=listing(names), note=note)


def _refused(judged: Judged) -> str:
    names = _names(judged, NOT_YET)
    template = REFUSED_WITH if judged.master else REFUSED
    return template.format(master=judged.master, descriptors=listing(names)) if names else ""


def _open(judged: Judged) -> str:
    """Undecided descriptors, each group with what would settle it."""
    groups: dict[str, list[str]] = {}
    for d in np.flatnonzero(judged.licence.call == CANNOT):
        what = more_lots(judged, int(d)) or str(judged.licence.reason[d])
        groups.setdefault(what, []).append(str(judged.trial.pool.descriptors[d]))
    said = [OPEN_GROUP.format(descriptors=listing(names), what=what) for what, names in groups.items()]
    return OPEN.format(groups="; ".join(said)) if said else ""


def _seen(judged: Judged) -> str:
    t = judged.trial
    lots, sessions = count(lots_compared(t), "lot"), count(t.sessions, "session")
    template = SEEN_SINCE if t.sessions < judged.sessions_seen else SEEN
    first = t.pool.sessions[0] if len(t.pool.sessions) else ""
    said = template.format(lots=lots, sessions=sessions, first=first, reference=listing(t.masters))
    return said + (LEFT.format(seniors=listing(judged.removed)) if judged.removed else "")


def _next(judged: Judged, again: pd.DataFrame) -> str:
    """The lesson, the bowls, and what the learning curve foretells."""
    lic = judged.licence
    if lic.overall == READY and (lic.call == READY).all():
        return ""
    lots = [LOT_AGAIN.format(lot=row.lot, descriptor=row.descriptor) for row in again.itertuples()]
    parts = [lesson(judged) if order_known(judged.trial) else str(NO_ORDER)]
    if lots:
        parts.append(AGAIN.format(lots=listing(lots)))
    if lic.overall != READY:
        parts.append(FORECAST.format(forecast=judged.curve.forecast))
    return " ".join(str(p) for p in parts if p) or MORE


def _numbers(judged: Judged) -> dict[str, float]:
    found = judged.trial.level_all
    return {
        "estimate": float(found.estimate[0]),
        "low": float(found.low[0]),
        "high": float(found.high[0]),
        "ceiling": float(found.ceiling[0]),
        "licensed": float((judged.licence.call == READY).sum()),
    }
