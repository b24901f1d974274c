"""The first screen of the room's page in sentences: what to set aside, how far to trust a mark, what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import pandas as pd

from panelstats.lots.compare.fit import LotComparison
from panelstats.lots.compare.without import WithoutPots
from panelstats.lots.compare.words import ORDER_CHANGES
from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.lots.packs.weighed import LotDensities
from panelstats.lots.pots.fit import PotCheck
from panelstats.panel.agreement.fit import PanelAgreement
from panelstats.panel.agreement.words import reach
from panelstats.report.pages.head import SET_ASIDE
from panelstats.report.tables import plain
from panelstats.result import Act
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, POTS, SESSION, TASTER
from panelstats.speech import Phrase, heard, said
from panelstats.words import capital, count, listing, number, shortened

if TYPE_CHECKING:
    from panelstats.review import Review
    from panelstats.scores.table import Scores

FAULT = Phrase("{lot} is {faults} ({tasters}){remarks}.")
POTS_APART = Phrase("{lot}: its pots disagree ({sizes} apart).")
REMARKS = Phrase(": “{remarks}”")
AGREED = Phrase("The {tasters} agree on {words}")
NOT_SHOWN = Phrase("It is not shown on any word that the {tasters} agree")
SOME, EVERY = Phrase("{agreed} of {all} words"), Phrase("all {all} words")
MAY_BE_OFF = Phrase("a mark of the panel may be {reach} off")
OTHERWISE = {
    "apart": Phrase("Not agreed: {words}."),
    "cannot tell": Phrase("Unsettled: {words}."),
    "too alike to judge": Phrase("Not to be judged today: {words}."),
}
OTHER = "{call}: {words}."
NO_TEST = Phrase("{words} (nor are the tasters tested there)")
WITHOUT, STANDS = Phrase("Without {pots} {lots} change places."), Phrase("Without {pots} the order stands.")
NOT_SETTLED = Phrase("Not settled: whether lots differ on {parts}.")
NOTHING_SETTLED = " {step}"
ALONE = Phrase("Not settled: each lot stands alone in its class. Taste two or more of a class together.")
ONE_LOT = Phrase("Not settled: there is one lot. Taste it beside another of its class.")
READ = Phrase("Read: {scores}{blanks} in {files}{pots}.")
EARLIER = Phrase(" This page is of {session} alone.")
ASIDE = Phrase(" Set aside, for nobody could read it: {n}.")
MORE = Phrase("The same of {names}.")
_NAMED = 3
_TOLD = 5  # alarms told in full that ask for the same; the rest are named


class Alarm(NamedTuple):
    """What cannot wait, and what to do about all of it."""

    sentences: list[str]
    step: str


def alarms(review: Review) -> list[Alarm]:
    """Everything to be done now, by what to do; a fault is told by who noticed it."""
    found = review.find(FaultsNoticed)
    noticed = {} if found is None or review.scores is None else _noticed(found, review.scores, review.session)
    told = _pots_apart(review.find(PotCheck))
    for verdict in found.verdicts if found else ():
        if verdict.subject in noticed:
            told[id(verdict)] = noticed[verdict.subject]
    now: dict[str, list[tuple[str, str]]] = {}
    for verdict in review.verdicts:
        if verdict.act == Act.NOW:
            sentence = told.get(id(verdict), verdict.sentence)
            now.setdefault(verdict.next_step, []).append((verdict.subject, sentence))
    steps, changed = _changed(review)
    return [Alarm(_first(some) + (changed if step in steps else []), step) for step, some in now.items()]


def _changed(review: Review) -> tuple[set[str], list[str]]:
    """What is to be done about pots in doubt, and whether lots would stand elsewhere without these."""
    pots, rest = review.find(PotCheck), review.find(WithoutPots)
    if pots is None or rest is None:
        return set(), []
    doubtful = [verdict for verdict in pots.verdicts if verdict.act == Act.NOW]
    which = str(Phrase("it") if len(doubtful) == 1 else Phrase("them"))
    told = [
        (WITHOUT if verdict.call == ORDER_CHANGES else STANDS).format(
            pots=which, lots=count(int(verdict.numbers["moved"]), "lot"))
        for verdict in rest.verdicts
    ]  # fmt: skip
    return {verdict.next_step for verdict in doubtful}, told


def _first(some: list[tuple[str, str]]) -> list[str]:
    """The first in full, the rest by name."""
    more = [MORE.format(names=listing(name for name, _ in some[_TOLD:]))] if some[_TOLD:] else []
    return [*(sentence for _, sentence in some[:_TOLD]), *more]


def _pots_apart(found: PotCheck | None) -> dict[int, str]:
    """Each lot whose pots were brewed unlike one another, by its verdict: by how much, on what."""
    sentences = {}
    for verdict in found.verdicts if found else ():
        if verdict.act == Act.NOW and verdict.numbers:
            farthest = sorted(verdict.numbers.items(), key=lambda each: -abs(each[1]))[:_NAMED]
            sizes = ", ".join(f"{name} {number(abs(size), 1)}" for name, size in farthest)
            sentences[id(verdict)] = POTS_APART.format(lot=verdict.subject, sizes=sizes)
    return sentences


def _noticed(found: FaultsNoticed, scores: Scores, session: str) -> dict[str, str]:
    """Each lot with a fault in a sentence: which fault, and who noticed it."""
    table = scores.faults
    if not len(table):
        return {}
    here = table[(table[SESSION].astype(str) == session) & table["noticed"].astype(bool)]
    who: dict[str, set[str]] = {}
    for lot, taster in zip(here[LOT].astype(str), here[TASTER].astype(str), strict=True):
        who.setdefault(lot, set()).add(taster)
    told = {}
    for lot, rows in found.table.groupby(found.table[LOT].astype(str), sort=False):
        remarks = "; ".join(filter(None, dict.fromkeys(rows["remarks"].map(plain))))
        if lot in who:
            told[str(lot)] = FAULT.format(
                lot=lot, faults=listing(rows["fault"].astype(str)), tasters=", ".join(sorted(who[str(lot)])),
                remarks=REMARKS.format(remarks=remarks) if remarks else "",
            )  # fmt: skip
    return told


def suspect(review: Review) -> set[str]:
    """What an alarm is about: a lot of these is given no place among the others."""
    return {verdict.subject for verdict in review.verdicts if verdict.act == Act.NOW}


def trust(review: Review) -> str:
    """How far to trust a mark of the panel, in points."""
    found = review.find(PanelAgreement)
    if found is None or not len(found.table) or not found.table["tasters"].max() > 1:
        return ""
    table = found.table
    words: dict[str, list[str]] = {}
    for call, name in zip(table["call"].astype(str), table[DESCRIPTOR].astype(str), strict=True):
        words.setdefault(call, []).append(name)
    agreed = words.get("agree", [])
    told = AGREED.format(tasters=(who := count(int(table["tasters"].max()), "taster")), words=_of(agreed, len(table)))
    told = told if agreed else NOT_SHOWN.format(tasters=who)
    off = MAY_BE_OFF.format(reach=far) if (far := reach(table)) else ""
    if not _comparable(review):  # alone in its class no lot tells whether tasters agree
        return f"{capital(off)}." if off else ""
    parts = [told + (f"; {off}" if off else "") + "."]
    unlike = {name for names in open_words(review).values() for name in names}
    for call, some in words.items():
        names = [name for name in some if name not in unlike]  # the others are told as not settled
        if call != "agree" and names:
            parts.append(" " + OTHERWISE.get(call, OTHER).format(words=a_few(names), call=capital(said(call))))
    return "".join(parts)


def _of(agreed: list[str], all_: int) -> str:
    """The words agreed on: one by its name, else counted."""
    if len(agreed) == all_:
        return agreed[0] if all_ == 1 else EVERY.format(all=all_)
    return SOME.format(agreed=len(agreed), all=all_)


def _comparable(review: Review) -> bool:
    """Whether some class has two lots or more in the session."""
    if review.scores is None:
        return True
    frame, lots = review.scores.frame, review.scores.lots
    here = frame[frame[SESSION].astype(str) == review.session] if review.session else frame
    known = lots[lots[LOT].astype(str).isin(here[LOT].astype(str).unique())]
    return bool((known.groupby(CLASS, dropna=False, observed=True).size() > 1).any())


def open_words(review: Review) -> dict[str, list[str]]:
    """On which descriptors lots could not be told apart: under "" in every class, then class by class."""
    found = review.find(LotComparison)
    if found is None or not len(found.anova):
        return {"": []}
    tests = found.anova[found.anova["source"] == "lot"]
    groups = tests[CLASS].fillna("").astype(str) if CLASS in tests else pd.Series("", index=tests.index)
    open_ones = tests[~(tests["p_adjusted"] < 1 - found.level)]
    where: dict[str, list[str]] = {}
    for name, group in zip(open_ones[DESCRIPTOR].astype(str), groups[open_ones.index], strict=True):
        where.setdefault(name, []).append(str(group))
    every = list(dict.fromkeys(groups))
    own = {group: [name for name, some in where.items() if group in some and len(some) < len(every)] for group in every}
    return own | {"": [name for name, some in where.items() if len(some) == len(every)]}


def unsettled(review: Review) -> str:
    """On which descriptors the lots could not be told apart: one line, and what would tell where nothing could."""
    if not _comparable(review):
        return ONE_LOT if review.scores is None or len(review.scores.frame[LOT].unique()) < 2 else ALONE
    words = open_words(review)
    parts = [NO_TEST.format(words=a_few(words[""]))] if words[""] else []
    parts += [f"{a_few(names)} ({group})" for group, names in words.items() if group and names]
    return NOT_SETTLED.format(parts="; ".join(parts)) + _would_settle(review, words) if parts else ""


def _would_settle(review: Review, words: dict[str, list[str]]) -> str:
    """The step that would tell lots apart, where no word did."""
    found = review.find(LotComparison)
    if found is None or len(words[""]) < found.anova[DESCRIPTOR].nunique():
        return ""
    step = next((each.next_step for each in found.verdicts if each.numbers and each.next_step), "")
    return NOTHING_SETTLED.format(step=step) if step else ""


def read(review: Review) -> str:
    """What was read, as far as it changes who or what the page is about."""
    scores = review.scores
    if scores is None:
        return ""
    account = scores.account
    blanks = int(account["blanks"].sum())
    told = READ.format(
        scores=count(int(account["scores"].sum()), "mark"),
        blanks=f", {count(blanks, 'blank')}" if blanks else "",
        files=count(len(account), "sheet"),
        pots=_pots(scores.pots[scores.pots[SESSION].astype(str) == review.session]),
    )
    others = [name for name in scores.sessions[SESSION].astype(str) if name != review.session]
    aside = int(account[SET_ASIDE].sum())
    told += EARLIER.format(session=review.session) if others and review.session else ""
    told += ASIDE.format(n=count(aside, "cell")) if aside else ""
    return " ".join([told, *map(heard, scores.said)])


def densities(review: Review) -> str:
    """How dense the leaf is, and which lots stand apart."""
    found = review.find(LotDensities)
    return "" if found is None else " ".join(verdict.sentence for verdict in reversed(found.verdicts))


def _pots(table: pd.DataFrame) -> str:
    kinds = list(dict.fromkeys(table[POTS].astype(str)))
    if len(kinds) != 1:
        return ""
    undeclared = "" if table["declared"].all() else Phrase(", not declared")
    return Phrase("; pots {kinds}").format(kinds=said(kinds[0])) + undeclared


def a_few(names: list[str]) -> str:
    """A few names listed, of many the first and how many more."""
    return listing(shortened(names, _NAMED))
