"""The verdicts of a short list: the list, what cannot be ranked, how far a look is off, what the day did."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc

from panelstats.lots.shortlist import words
from panelstats.lots.shortlist.classday import THESE_POTS
from panelstats.lots.shortlist.ranking import END_SHARE
from panelstats.lots.shortlist.tables import walk_taken, why_no_list
from panelstats.lots.worth import OVERALL
from panelstats.models.additive import fit_additive
from panelstats.models.chances import CUT_FROM
from panelstats.models.dayline import BEYOND_LUCK
from panelstats.models.multiplicity import adjusted
from panelstats.result import Act, Verdict
from panelstats.scores.cells import CLASS, DESCRIPTOR
from panelstats.words import count, listing, number, p_value, percent, span

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from panelstats.lots.shortlist.classday import ClassDay
    from panelstats.lots.shortlist.ranking import Ranking

CANNOT = "cannot tell"
REPEATS = 24  # hidden repeats a day from which a short list stands (simulated: 80 % of days pass)
WEAK_DF = 6
SHOWN = 0.05
FIRST = 3  # lots named in a sentence
HIGH_CHANCE = 0.6  # chances beyond this promise too much where many lots are lopsided (simulated)


def list_verdicts(day: ClassDay, every: Sequence[Ranking], *, named: bool) -> list[Verdict]:
    """What one class has to say; `named` where there are several classes or sessions."""
    of = words.OF_CLASS.format(name=day.grid.lot_class or day.grid.session) if named else ""
    lists = [_listed(ranking, of, every) for ranking in every if ranking.passed]
    return [*lists, *_unranked(every, of), *_along(day), *_tired(day)]


def _listed(ranking: Ranking, of: str, every: Sequence[Ranking]) -> Verdict:
    found = ranking.found
    assert found is not None  # noqa: S101 - asked only of lists
    best = int(np.lexsort((ranking.names, -found.best))[0])
    lopsided = ranking.lopsided
    above = lopsided and len(ranking.lots) >= CUT_FROM and found.best[best] > HIGH_CHANCE
    looks, now, then = ranking.forecasts[0]
    gains = np.argsort(-ranking.gains, kind="stable")
    overall = ranking.descriptor == OVERALL
    where = of + ("" if overall else words.ON.format(descriptors=ranking.descriptor))
    sentence = (words.SHORT if ranking.take > 1 else words.THE_ONE).format(
        take=ranking.take,
        where=where,
        best=ranking.names[best],
        chance=words.ABOVE if above else percent(found.best[best]),
        right=round(now * ranking.take),
        out=int((ranking.calls == "out").sum()),
        lots=len(ranking.lots),
    )
    sentence += (words.LOPSIDED if lopsided else "") + _at_the_end(ranking)
    again = words.AGAIN.format(
        looks=looks,
        names=listing(ranking.names[gains[: min(FIRST, looks)]]),
        now=percent(now),
        then=percent(then),
    )
    lead = overall or not any(each.descriptor == OVERALL for each in every)
    numbers = {"take": float(ranking.take), "share_right_now": now, "share_right_then": then, "p": ranking.p}
    subject = ", ".join(filter(None, (ranking.day.grid.lot_class if of else "", ranking.descriptor)))
    if not lead:
        return Verdict(words.OF_A_WORD, subject, "list of a word", sentence, numbers, "", Act.KNOW)
    return Verdict(words.LIST, subject, "short list", sentence, numbers, again, Act.DECIDE)


def _at_the_end(ranking: Ranking) -> str:
    marks = ranking.day.mean[ranking.lots, :, ranking.d][ranking.day.looks[ranking.lots, :, ranking.d] > 0]
    share = max((marks == marks.min()).mean(), (marks == marks.max()).mean()) if len(marks) else 0.0
    return words.AT_THE_END.format(share=percent(share)) if share > END_SHARE else ""


def _unranked(every: Sequence[Ranking], of: str) -> list[Verdict]:
    """One verdict for all descriptors that have no list for one reason."""
    out = []
    for why, sentence in _NO_LIST.items():
        mine = [ranking for ranking in every if why_no_list(ranking) == why]
        if not mine:
            continue
        names = [ranking.descriptor for ranking in mine]
        everywhere = len(mine) == len(every)
        where = of + ("" if everywhere else words.ON.format(descriptors=listing(names)))
        first = mine[0]
        p = min((ranking.p for ranking in mine if not np.isnan(ranking.p)), default=np.nan)
        told = (words.NO_ERROR if why == "alike" and np.isnan(p) else sentence).format(
            where=where,
            p=p_value(p),
            lots=count(len(first.lots), "lot"),
            take=first.take,
        )
        lead = everywhere or OVERALL in names
        step = _NEXT[why].format(repeats=REPEATS, cups=REPEATS * int(first.day.tasters.max(initial=1)))
        act = Act.TASTE_AGAIN if lead else Act.KNOW
        out.append(Verdict(words.LIST, "" if everywhere else listing(names), CANNOT, told, {}, step, act))
    return out


_NO_LIST = {
    "alike": words.ALIKE,
    "few": words.FEW,
    "nobody out": words.NOBODY_OUT,
    "nothing": words.UNKNOWN,
    THESE_POTS: words.POTS_ONLY,
}
_NEXT = {
    "alike": words.MORE, "few": words.BY_HAND, "nobody out": words.BY_HAND, "nothing": words.SERVE,
    THESE_POTS: words.SERVE,
}  # fmt: skip


def reach_verdicts(errors: pd.DataFrame, session: str = "") -> list[Verdict]:
    """How far one look is off in a session, over its classes and descriptors; none where nothing is known."""
    known = errors[errors["half_width"].notna() & (errors[DESCRIPTOR] != OVERALL)]
    if not len(known):
        return []
    df = float(known["df"].min())
    numbers = {"half_width": float(known["half_width"].max()), "df": df}
    sentence = reach_said(known, session) + words.ERROR_DF.format(df=number(df, 0))
    return [Verdict(words.ERROR, "", "known", sentence, numbers, "", Act.KNOW)]


def reach_said(errors: pd.DataFrame, session: str = "") -> str:
    """How far one look may be off, without its degrees of freedom; "" where nothing is known."""
    known = errors[errors["half_width"].notna() & (errors[DESCRIPTOR] != OVERALL)]
    if not len(known):
        return ""
    sources = set(known["source"])
    caution = "".join(told for source, told in words.SPEAKS.items() if sources == {source})
    caution += words.WEAK if known["df"].min() < WEAK_DF else ""
    borrowed = list(dict.fromkeys(known.loc[known["source"] == "borrowed", CLASS].astype(str)))
    caution += words.BORROWED.format(classes=listing(borrowed)) if borrowed else ""
    return words.REACH.format(
        tasters=count(int(known["tasters"].max()), "taster"),
        where=words.OF_CLASS.format(name=session) if session else "",
        half=span(known["half_width"], 1),
        least=span(known["least_difference"], 1),
        caution=caution,
    )


def _along(day: ClassDay) -> list[Verdict]:
    """Levels that moved along the row by more than luck; levels that jumped."""
    line = day.line
    if line is None:
        return []
    out = []
    for d, name in enumerate(day.grid.descriptors):
        numbers = {"change": float(line.change[d]), "se": float(line.se[d])}
        walked = day.jumps is not None and bool(day.jumps.walked[d])
        if abs(line.change[d]) > BEYOND_LUCK * line.se[d] and not walked:
            told = words.FELL.format(
                descriptor=name,
                moved=words.FALLEN if line.change[d] < 0 else words.RISEN,
                size=number(abs(line.change[d]), 1),
                low=number(line.low[d], 1, sign=True),
                high=number(line.high[d], 1, sign=True),
                part=percent(line.factor[d]),
            )
            out.append(Verdict(words.DAY, str(name), "moved", told, numbers, words.CONTROLS, Act.DECIDE))
        if day.jumps is not None and day.jumps.jumped[d]:
            out.append(_jumped(day, d))
    return out


def _jumped(day: ClassDay, d: int) -> Verdict:
    """A level that left its line, and whether the lots could be freed of that."""
    assert day.jumps is not None  # noqa: S101 - asked only of jumps
    name, p = str(day.grid.descriptors[d]), float(day.jumps.p[d])
    told = words.JUMPED.format(descriptor=name, p=p_value(p))
    numbers = {"p": p, "walked": float(day.jumps.walked[d])}
    if not day.jumps.walked[d]:
        return Verdict(words.DAY, name, "jumped", told + words.NOT_WALKED, numbers, words.CONTROLS, Act.DECIDE)
    low, high, error = (float(value[d]) for value in walk_taken(day).values())
    told += words.WALKED.format(low=number(low, 1, sign=True), high=number(high, 1, sign=True), error=number(error, 1))
    numbers |= {"low": low, "high": high, "se": error}
    return Verdict(words.DAY, name, "jumped", told, numbers, words.CONTROLS, Act.DECIDE)


def _tired(day: ClassDay) -> list[Verdict]:
    """Tasters who disagree more in the last third of the row than in the first; two of them or more."""
    place, mean, seen = day.place, day.mean, day.looks > 0
    if mean.shape[1] < 2 or np.ptp(place) == 0:
        return []
    cuts = np.quantile(place, [1 / 3, 2 / 3])
    parts = [fit_additive(mean[mine], seen[mine]) for mine in (place <= cuts[0], place >= cuts[1])]
    df = np.stack([part.df for part in parts])
    square = np.stack([(part.residual**2).sum(axis=(0, 1)) for part in parts])
    usable = (df > 0).all(axis=0) & (square > 0).all(axis=0)
    ratio = np.where(usable, square[1] * df[0] / np.where(usable, square[0] * df[1], 1.0), np.nan)
    p = np.where(usable, fdtrc(np.maximum(df[1], 1), np.maximum(df[0], 1), np.nan_to_num(ratio)), np.nan)
    tired = adjusted(p, "holm") < SHOWN
    return [
        Verdict(
            words.DAY, str(name), "tired",
            words.TIRED.format(descriptor=name, times=number(float(np.sqrt(ratio[d])), 1)),
            {"ratio": float(ratio[d]), "p": float(p[d])}, words.REST, Act.KNOW,
        )
        for d, name in enumerate(day.grid.descriptors)
        if tired[d]
    ]  # fmt: skip
