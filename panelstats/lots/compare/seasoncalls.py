"""The verdicts on lots of several sessions: what is compared as one season, which lots differ, what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.compare import seasonwords as words
from panelstats.lots.compare.lotcalls import WHY_NOT
from panelstats.lots.compare.seasontables import named_sessions
from panelstats.lots.compare.words import CANNOT_TELL, CORRECTIONS, DUNNETT
from panelstats.lots.compare.words import DIFFER as DIFFER_CALL
from panelstats.models import comparisons
from panelstats.models.seasonsources import SESSION, TASTER_SESSION
from panelstats.result import Act, Verdict
from panelstats.speech import Phrase
from panelstats.words import capital, count, decimals, limit, listing, number, shortened, span, stated_percent

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.lots.compare.seasonfits import SeasonClass
    from panelstats.models.linkedsessions import SeasonPart

# With fewer joined sessions than this their spread is hardly known (ours). Of 300 simulated pairs of lots of different
# days that were alike, the 95 % interval missed in 10 of 100 with two sessions, 3 tasters and one control; with two
# controls, or three sessions, in 3 to 8.
FEW_DAYS = 4
# Names told of a longer list.
MOST_NAMED = 4


def season_verdicts(classes: list[SeasonClass]) -> list[Verdict]:
    """What lots of different sessions show, class by class."""
    out = []
    for one in classes:
        out += _not_joined(one)
        for group in _by_sessions(one):
            out += _season(one, group)
    return out


def season_method(classes: list[SeasonClass], *, adjust: str, control: str | None) -> str:
    """The method of the season model; empty where no lot joins two sessions."""
    if not any(one.parts for one in classes):
        return ""
    correction = DUNNETT.format(control=control) if control is not None and adjust != "none" else CORRECTIONS[adjust]
    return words.METHOD.format(correction=correction)


def _of_class(one: SeasonClass) -> str:
    return words.OF_CLASS.format(lot_class=one.lot_class) if one.lot_class else ""


def _by_sessions(one: SeasonClass) -> Iterable[list[int]]:
    """The fits of one set of joined sessions together, by place."""
    groups: dict[tuple[int, ...], list[int]] = {}
    for at, part in enumerate(one.parts):
        groups.setdefault(tuple(part.sessions), []).append(at)
    return groups.values()


def _season(one: SeasonClass, group: list[int]) -> list[Verdict]:
    """What one set of joined sessions shows."""
    part = one.parts[group[0]]
    lots = _of_class(one) + words.OVER.format(sessions=named_sessions(one, part))
    out, unfit, open_ones = [_joined(one, group)], dict[str, list[str]](), list[tuple[int, int]]()
    for at in group:
        for d, state in zip(one.parts[at].descriptors, one.parts[at].state, strict=True):
            p = one.p_adjusted.get((at, int(d)), np.nan)
            if state:
                unfit.setdefault(str(state), []).append(str(one.descriptors[d]))
            elif one.passed(at, int(d)):
                out.append(_differ(one, at, int(d), lots))
            elif np.isfinite(p):
                open_ones.append((at, int(d)))
    if open_ones:
        out.append(_cannot_tell(one, open_ones, lots))
    return out + [_no_answer(state, names, lots) for state, names in unfit.items()]


def _joined(one: SeasonClass, group: list[int]) -> Verdict:
    """Which sessions are compared as one, by what, and what a day does."""
    parts = [one.parts[at] for at in group]
    links = list(dict.fromkeys(name for part in parts for name in one.lots[part.links]))
    said = words.ONE_LINK if len(links) == 1 else words.MORE_LINKS
    fitted = [part.effects.fit.variances for part in parts if part.effects is not None]
    sds = np.sqrt(np.concatenate(fitted)) if fitted else np.zeros((0, 0))
    days: str = words.NO_MODEL
    if len(sds):
        days = words.DAYS.format(session=span(sds[:, SESSION], 2), own=span(sds[:, TASTER_SESSION], 2))
    sessions = count(len(parts[0].sessions), "session")
    sentence = words.SEASON.format(
        of_class=_of_class(one),
        sessions=f"{sessions} ({named_sessions(one, parts[0])})",
        links=said.format(links=listing(shortened(links, MOST_NAMED, "lot"))),
        days=days,
    )
    few = len(parts[0].sessions) < FEW_DAYS
    step = words.FEW_DAYS.format(sessions=capital(sessions)) if few else words.SAME_TEA
    numbers = {"sessions": float(len(parts[0].sessions)), "links": float(len(links))}
    return Verdict(words.QUESTION, one.lot_class, words.JOINED, sentence, numbers, step, Act.KNOW)


def _differ(one: SeasonClass, at: int, d: int, lots: str) -> Verdict:
    part, name = one.parts[at], str(one.descriptors[d])
    top, bottom, difference, half, _ = _widest(one, part, d)
    places, low, high = max(decimals(half / 2), 1), difference - half, difference + half
    labels = one.lots[one.lots_in(part, d)]
    sentence = words.DIFFER.format(
        descriptor=name,
        lots=lots,
        above=labels[top],
        below=labels[bottom],
        difference=number(difference, places),
        level=stated_percent(one.level),
        interval=Phrase("{low} to {high}").format(
            low=limit(low, places, up=False, clear=[0.0]), high=limit(high, places, up=True)
        ),
    )
    if part.one_brew[np.flatnonzero(part.descriptors == d)[0]]:
        sentence += words.ONE_BREW
    numbers = {"difference": difference, "low": low, "high": high, "p": one.p_adjusted[at, d]}
    return Verdict(words.QUESTION, name, DIFFER_CALL, sentence, numbers, "", Act.DECIDE)


def _widest(one: SeasonClass, part: SeasonPart, d: int) -> tuple[int, int, float, float, float]:
    """Highest and lowest compared lot, their distance, half the width of its interval, and of a usual pair's."""
    assert part.effects is not None  # noqa: S101 - asked only of what was fitted
    k, ours = part.slot[d], np.flatnonzero(one.compared_in(part, d))
    mean = part.effects.mean(k)[ours]
    top, bottom = int(ours[mean.argmax()]), int(ours[mean.argmin()])
    mixed = np.random.default_rng(0).permutation(ours)  # neighbours in it are a fair sample of the pairs
    found = part.effects.pairs(k, np.r_[top, mixed], np.r_[bottom, np.roll(mixed, 1)])
    half = comparisons.pairs_half_width(found.se, found.df, np.full(len(found.se), len(ours)), level=one.level)
    return top, bottom, float(found.estimate[0]), float(half[0]), float(np.nanmedian(half[1:]))


def _cannot_tell(one: SeasonClass, which: list[tuple[int, int]], lots: str) -> Verdict:
    """One verdict for all descriptors on which the lots are not told apart."""
    names = [str(one.descriptors[d]) for _, d in which]
    least = [_widest(one, one.parts[at], d)[4] for at, d in which]
    sentence = words.NOT_TOLD.format(lots=lots, descriptors=listing(names), least=span(least, 1))
    numbers = {"least_difference_low": min(least), "least_difference_high": max(least)}
    subject = names[0] if len(names) == 1 else ""
    return Verdict(words.QUESTION, subject, CANNOT_TELL, sentence, numbers, words.MORE_TOLD, Act.KNOW)


def _no_answer(state: str, names: list[str], lots: str) -> Verdict:
    reason, step = WHY_NOT[state]
    sentence = words.NO_ANSWER.format(descriptors=listing(names), lots=lots, reason=reason)
    return Verdict(words.QUESTION, names[0] if len(names) == 1 else "", CANNOT_TELL, sentence, {}, step, Act.KNOW)


def _not_joined(one: SeasonClass) -> list[Verdict]:
    """Groups of sessions that no lot joins; one verdict for the descriptors on which they are the same."""
    out: dict[tuple[tuple[int, ...], ...], list[str]] = {}
    for joined in one.joined:
        if len(joined.groups) > 1:
            key = tuple(tuple(int(s) for s in group) for group in joined.groups)
            out.setdefault(key, []).extend(str(name) for name in one.descriptors[joined.descriptors])
    every = sum(len(joined.descriptors) for joined in one.joined)
    return [_apart(one, groups, names, every) for groups, names in out.items()]


def _apart(one: SeasonClass, groups: tuple[tuple[int, ...], ...], names: list[str], every: int) -> Verdict:
    told = []
    for group in groups:
        labels = one.sessions[list(group)]
        told.append(
            listing(labels)
            if len(labels) < MOST_NAMED
            else Phrase("{low} to {high}").format(low=labels[0], high=labels[-1])
        )
    listed = "; ".join(shortened(told, MOST_NAMED, "group"))
    on = "" if len(names) == every else words.ON.format(descriptors=listing(names))
    sentence = words.NOT_JOINED_WORDS.format(of_class=_of_class(one), groups=listed, on=on)
    return Verdict(words.QUESTION, one.lot_class, words.NOT_JOINED, sentence, {"groups": float(len(groups))},
                   words.JOIN_THEM, Act.KNOW)  # fmt: skip
