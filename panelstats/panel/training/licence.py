"""When a trainee's scores count: a licence for each descriptor, and readiness over all of them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.panel.tasters.calls import lots_to_settle
from panelstats.panel.tasters.evidence import reason_why
from panelstats.panel.tasters.finding import ALIKE, LEVEL, NOTICED, REPEATABILITY, SCALE_USE, SCATTER, Finding
from panelstats.panel.tasters.naming import CANNOT, rejected
from panelstats.panel.training.trial import TRAINEE, Trial, assurance_lots, mean_level, why_not_tested
from panelstats.speech import Phrase
from panelstats.words import listing

READY, NOT_YET = "ready", "not yet"
# A licence needs this many sessions: one good day is no palate (ours).
LEAST_SESSIONS = 2
# With fewer descriptors the single intervals stand in for the pooled ones (ours).
LEAST_POOLED = 3
# A single spread beyond tolerance at this level withholds a licence (ours).
SPREAD_P = 0.025
# Level of the three tests over all descriptors together (Bonferroni).
OVERALL_P = 0.05 / 3
LEVEL_OPEN = "level not yet shown inside the tolerance"
SCALE_OVER_ALL = "scale use over all descriptors not yet shown inside the tolerance"
STEADY_OVER_ALL = "steadiness over all descriptors not yet shown inside the tolerance"
ONLY_NOTICED = Phrase("counts for whether something is noticed, not for how much")
SLOPE_OPEN = Phrase("level only: scale use not yet shown inside on this word alone")
SPREAD_OPEN = Phrase("level only: steadiness not yet shown inside on this word alone")
BOTH_OPEN = Phrase("level only: scale use and steadiness not yet shown inside on this word alone")
UNSHOWN = ("", SPREAD_OPEN, SLOPE_OPEN, BOTH_OPEN)
NOTICING_OPEN = Phrase("most marks stand at an end of the scale; not yet shown to notice as often as the reference")
FULL, LEVEL_ONLY, NOTICED_ONLY = "full", "level only", "noticed"


@dataclass(frozen=True, eq=False)
class Licence:
    """Calls on one trainee.

    Attributes
    ----------
    call, reason, kind : ndarray of str, shape (descriptor,)
        ready / not yet / cannot tell; why; of a licence "full", "level only", "noticed", else "".
    lots_in_all : ndarray, shape (descriptor,)
        In all, until level is settled with 80 % assurance; NaN where it is settled.
    overall : str
    worst : tuple of str and int
        Aspect and descriptor (-1 over all) that matter most; aspect "" where nothing does.
    """

    call: np.ndarray
    reason: np.ndarray
    kind: np.ndarray
    lots_in_all: np.ndarray
    overall: str
    worst: tuple[str, int]


def licence(tested: Trial) -> Licence:
    """Apply the rule to one trainee.

    Licensed: two sessions; the interval of level inside the tolerance; the slope above 0 and not wholly outside its
    tolerance where the lots differ; the spread not beyond its own; slope and spread over all descriptors inside. It is
    full where slope and spread are shown inside on the descriptor itself (two one-sided tests, Schuirmann 1987), else
    on level only; where most marks stand at an end of the scale it holds for what is noticed alone. Not yet: level,
    slope or spread beyond tolerance after Benjamini & Hochberg over descriptors, within each aspect.
    """
    parts = parts_of(tested)
    beyond = {aspect: rejected(found.p)[0] & (found.why[0] == "") for aspect, (found, _) in parts.items()}
    beyond[LEVEL] &= ~_at_floor(tested)
    not_yet = np.any(list(beyond.values()), axis=0)
    reason, kind = _in_the_way(tested), _kind(tested)
    call = np.select([not_yet, reason == ""], [NOT_YET, READY], default=CANNOT).astype(object)
    lots = np.where(call == CANNOT, _lots(tested, reason), np.nan)
    for d in np.flatnonzero(not_yet):
        reason[d] = Phrase("beyond tolerance on {part}").format(part=listing(_PLAIN[a] for a in beyond if beyond[a][d]))
    kind = np.where(call == READY, kind, "")
    return Licence(call, reason, kind, lots, _overall(tested, not_yet), _worst(tested, beyond))


_PLAIN = {
    LEVEL: Phrase("level"),
    SCALE_USE: Phrase("scale use"),
    REPEATABILITY: Phrase("repeating the own marks"),
    SCATTER: Phrase("scatter"),
    NOTICED: Phrase("what is noticed"),
}


def steadiness_aspect(tested: Trial) -> str:
    """What steadiness was measured by."""
    return REPEATABILITY if tested.repeated else SCATTER


def parts_of(tested: Trial) -> dict[str, tuple[Finding, Finding]]:
    """By aspect: the finding by descriptor, and over all."""
    found = {
        LEVEL: (tested.level, tested.level_all),
        SCALE_USE: (tested.slope, tested.slope_all),
        steadiness_aspect(tested): (tested.steadiness, tested.steadiness_all),
    }
    return found | ({} if tested.noticed is None else {NOTICED: (tested.noticed, tested.noticed)})


def _at_floor(tested: Trial) -> np.ndarray:
    """Descriptors on which only noticing can be judged."""
    return tested.evidence.floored[TRAINEE]


def _in_the_way(tested: Trial) -> np.ndarray:
    """The first thing that withholds a licence, "" where nothing does."""
    slope, steady = tested.slope, tested.steadiness
    judged, floor = slope.why[0] == "", _at_floor(tested)
    unnoticed = floor if tested.noticed is None else floor & ~tested.noticed.inside[0]
    one_day = np.full(len(judged), tested.sessions < LEAST_SESSIONS)
    cases = [
        (tested.level.why[0] != "", Phrase("fewer than 8 lots with the reference, or than 4 in each of two sessions")),
        (one_day, Phrase("shown in one session only: a second day is needed")),
        (unnoticed, NOTICING_OPEN),
        (floor, ""),
        (~tested.level.inside[0], LEVEL_OPEN),
        (slope.why[0] == "constant scores", Phrase("every lot got the same mark")),
        (judged & ~(tested.slope_low > 0), Phrase("not shown to follow the lots")),
        (slope.outside[0], Phrase("scale use stands out on its own")),
        ((steady.why[0] == "") & (steady.p[0] < SPREAD_P), Phrase("marks spread beyond the tolerance")),
        (~_shown(tested.slope_all, slope), SCALE_OVER_ALL),
        (~_shown(tested.steadiness_all, steady), STEADY_OVER_ALL),
    ]
    return reason_why(*cases)


def _lots(tested: Trial, reason: np.ndarray) -> np.ndarray:
    """Lots in all that would settle what is in the way; NaN where more lots are not what is missing."""
    compared = np.array([float(lots_compared(tested))])
    steady = steadiness_aspect(tested), tested.steadiness_all
    asked = {SCALE_OVER_ALL: (SCALE_USE, tested.slope_all), STEADY_OVER_ALL: steady}
    over = {why: lots_to_settle(*about, compared, tail=tested.tail)[0] for why, about in asked.items()}
    pooled = np.array([over.get(text, np.nan) for text in reason])
    return np.where(reason == LEVEL_OPEN, assurance_lots(tested), pooled)


def _shown(over_all: Finding, single: Finding) -> np.ndarray:
    """Whether an aspect is shown inside: over all descriptors, with one or two on each; untested is no hindrance."""
    if single.estimate.shape[1] < LEAST_POOLED:
        return single.inside[0] | (single.why[0] != "")
    untested = not (single.why == "").any()
    return np.full(single.estimate.shape[1], bool(over_all.inside[0]) or untested)


def _kind(tested: Trial) -> np.ndarray:
    """Full where order and spread are shown inside too; on what is noticed where most marks stand at an end."""
    full = tested.slope_shown & tested.steadiness_shown
    return np.select([_at_floor(tested), full], [NOTICED_ONLY, FULL], default=LEVEL_ONLY)


def untested_said(tested: Trial, d: int) -> str:
    """What a licence does not cover, "" for a full one."""
    if _at_floor(tested)[d]:
        return ONLY_NOTICED
    if tested.slope.why[0, d] == "":
        return UNSHOWN[2 * (not tested.slope_shown[d]) + (not tested.steadiness_shown[d])]
    if tested.slope.why[0, d] == ALIKE:
        return Phrase("order not tested, the lots lay too close to rank")
    return why_not_tested(tested, tested.slope, d)


def _overall(tested: Trial, not_yet: np.ndarray) -> str:
    over_all = (tested.level_all, tested.slope_all, tested.steadiness_all)
    pooled = len(not_yet) >= LEAST_POOLED
    if not_yet.any() or (pooled and any(found.tested[0] and found.p[0] < OVERALL_P for found in over_all)):
        return NOT_YET
    level_in = bool(tested.level.inside.all())
    if pooled:
        low, high = mean_level(tested)
        level_in = bool(tested.level_all.inside[0]) and max(-low, high) <= float(tested.level_all.ceiling[0])
    others_in = _shown(tested.slope_all, tested.slope).all() and _shown(tested.steadiness_all, tested.steadiness).all()
    shown = level_in and others_in and order_known(tested)
    return READY if shown and tested.sessions >= LEAST_SESSIONS else CANNOT


def order_known(tested: Trial) -> bool:
    """Whether there was an order of the lots to follow, on any descriptor: a level alone makes nobody ready."""
    return bool((tested.slope.why == "").any())


def _worst(tested: Trial, beyond: dict[str, np.ndarray]) -> tuple[str, int]:
    """What is beyond tolerance with the smallest p: on a descriptor, else over all; else what is not yet shown."""
    parts = parts_of(tested)
    found = [(float(parts[a][0].p[0, d]), a, int(d)) for a, mask in beyond.items() for d in np.flatnonzero(mask)]
    if found:
        _, aspect, d = min(found)
        return aspect, d
    open_all = {a: f for a, (_, f) in parts.items() if a != NOTICED and f.tested[0] and not f.inside[0]}
    if open_all:
        return min(open_all, key=lambda a: float(open_all[a].p[0])), -1
    open_ = np.flatnonzero(~tested.level.inside[0] & tested.level.tested[0])
    if len(open_):
        return LEVEL, int(open_[np.argmin(tested.level.p[0, open_])])
    return "", -1


def lots_compared(tested: Trial) -> int:
    """Lots the trainee scored together with the reference."""
    return int(tested.evidence.rows[:, TRAINEE].sum())
