"""What the agreement of a panel says in words: in looks and points, not in coefficients."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR
from panelstats.speech import Phrase
from panelstats.words import count, listing, percent, span, stated

if TYPE_CHECKING:
    import pandas as pd

QUESTION = Phrase("Do the tasters agree on the lots?")
# Order and levels are told apart in words when consistency exceeds agreement by this much (ours).
LEVELS_APART = 0.2

# How a reason ends where the interval crosses the line.
TOO_WIDE_REASON = Phrase("the interval is too wide")
AGREE = Phrase(
    "The {tasters} agree on the lots. Of the spread of the panel's mean marks of these lots, so much is the lots' own: "
    "{shares}."
)
DISAGREE = Phrase(
    "The tasters do not agree: of the spread of the panel's mean marks of these lots, less than half is the lots' own "
    "on {shares}."
)
DISAGREE_STEP = Phrase(
    "Taste a reference together on these words before the next session, and settle what each word means."
)
TOO_WIDE = Phrase(
    "Cannot tell whether half of the spread of the panel's mean marks of these lots is the lots' own on {shares}."
)
TOO_WIDE_STEP = Phrase(
    "Taste more lots of a class together: with about {twice} instead of {lots} the interval would be a third narrower."
)
NOT_JUDGED = Phrase("Cannot tell whether the tasters agree on {descriptors}: {reason}.")
NOT_JUDGED_STEP = Phrase("Serve two lots or more to two tasters or more.")
ALIKE = Phrase(
    "On {descriptors} the marks show no difference between the lots: the lots may be alike, or the tasters tell "
    "nothing apart there."
)
ALIKE_IN_CLASS = Phrase(
    "On {descriptors} the marks show no difference between the lots of a class: the lots may be alike, or the tasters "
    "tell nothing apart there."
)
ALIKE_STEP = Phrase("Serve two lots known to differ on these words, six hidden cups each: that tells which.")
SHARE = Phrase("{descriptor} {share} ({low} to {high})")
SHARE_NONE = Phrase("{descriptor} none to be seen (at most {high})")
REACH = Phrase(
    " A mark of the panel may lie up to {reach} points away from what such a panel would say in the long run, the "
    "tasters' levels counted."
)
LEVELS = Phrase(" On {descriptors} the tasters order the lots alike but use different levels.")
TOO_MANY = Phrase(
    "Agreement is judged on the {judged} classes of most lots; the other {rest} of several lots are too many to be "
    "judged in one go."
)
TOO_MANY_STEP = Phrase("To judge them too, say in the register of lots which of them are one class.")
IN_SESSION = Phrase("Session {session}: {sentence}")


def agreement_verdicts(table: pd.DataFrame, classes: list[str], session: str) -> list[Verdict]:
    """One verdict per kind of answer, each naming its descriptors (and the session, where there are several)."""
    found = _by_call(table, len(classes))
    if not session:
        return found
    return [
        replace(verdict, sentence=IN_SESSION.format(session=session, sentence=verdict.sentence)) for verdict in found
    ]


def left_out(grids: int, judged: int, useful: int) -> list[Verdict]:
    """What is said where only some of the classes with several lots could be judged."""
    if grids == judged or useful <= judged:
        return []
    sentence = TOO_MANY.format(judged=judged, rest=stated(useful - judged, ","))
    return [Verdict(QUESTION, "", "in part", sentence, {}, TOO_MANY_STEP, Act.KNOW)]


def _by_call(table: pd.DataFrame, classes: int) -> list[Verdict]:
    agree, apart, open_, alike = (
        table[table["call"] == call] for call in ("agree", "apart", "cannot tell", "too alike to judge")
    )
    told = [speak(rows) for speak, rows in ((_agree, agree), (_apart, apart)) if len(rows)]
    return [*told, *_open(open_), *([_alike(alike, classes)] if len(alike) else [])]


def _shares(rows: pd.DataFrame) -> str:
    """Each descriptor with the share of its means' spread that is the lots' own, and the interval."""
    said = []
    numbers = rows[["share", "share_low", "share_high"]].to_numpy(float)
    for name, (share, low, high) in zip(rows[DESCRIPTOR], numbers, strict=True):
        template, floor = SHARE if share > 0 else SHARE_NONE, percent(low).removesuffix(" %")
        said.append(template.format(descriptor=name, share=percent(share), low=floor, high=percent(high)))
    return listing(said)


def _subject(rows: pd.DataFrame) -> str:
    return str(rows[DESCRIPTOR].iloc[0]) if len(rows) == 1 else ""


def _numbers(rows: pd.DataFrame) -> dict[str, float]:
    return {f"icc_mean {name}": float(value) for name, value in zip(rows[DESCRIPTOR], rows["icc_mean"], strict=True)}


def reach(rows: pd.DataFrame) -> str:
    """How far one mark of the panel may lie from what such a panel would say, as "0.4 to 0.7"; "" where not known."""
    far = rows["mark_reach"].dropna()
    return span(far, 1) if len(far) else ""


def _reach(rows: pd.DataFrame) -> str:
    far = reach(rows)
    return REACH.format(reach=far) if far else ""


def _levels(rows: pd.DataFrame) -> str:
    far = rows[rows["icc_consistency_mean"] - rows["icc_mean"] > LEVELS_APART]
    if far.empty:
        return ""
    return LEVELS.format(descriptors=listing(far[DESCRIPTOR]))


def _agree(rows: pd.DataFrame) -> Verdict:
    people = count(int(rows["tasters"].max()), "taster")
    sentence = AGREE.format(tasters=people, shares=_shares(rows)) + _reach(rows) + _levels(rows)
    return Verdict(QUESTION, _subject(rows), "agree", sentence, _numbers(rows), "", Act.KNOW)


def _apart(rows: pd.DataFrame) -> Verdict:
    sentence = DISAGREE.format(shares=_shares(rows)) + _reach(rows) + _levels(rows)
    return Verdict(QUESTION, _subject(rows), "apart", sentence, _numbers(rows), DISAGREE_STEP, Act.DECIDE)


def _open(rows: pd.DataFrame) -> list[Verdict]:
    """What cannot be told, each reason by itself."""
    wide = rows["share_low"].notna() & (rows["p_lots"] < 1) & rows["reason"].str.contains(str(TOO_WIDE_REASON))
    return ([_too_wide(rows[wide])] if wide.any() else []) + [
        _not_judged(part, str(reason)) for reason, part in rows[~wide].groupby("reason", sort=False)
    ]


def _too_wide(rows: pd.DataFrame) -> Verdict:
    sentence = TOO_WIDE.format(shares=_shares(rows)) + _reach(rows) + _levels(rows)
    lots = int(rows["lots"].max())
    step = TOO_WIDE_STEP.format(twice=2 * lots, lots=lots)
    return Verdict(QUESTION, _subject(rows), "cannot tell", sentence, _numbers(rows), step, Act.KNOW)


def _not_judged(rows: pd.DataFrame, reason: str) -> Verdict:
    sentence = NOT_JUDGED.format(descriptors=listing(rows[DESCRIPTOR]), reason=reason)
    return Verdict(QUESTION, _subject(rows), "cannot tell", sentence, {}, NOT_JUDGED_STEP, Act.KNOW)


def _alike(rows: pd.DataFrame, classes: int) -> Verdict:
    template = ALIKE_IN_CLASS if classes > 1 else ALIKE
    sentence = template.format(descriptors=listing(rows[DESCRIPTOR])) + _reach(rows)
    return Verdict(QUESTION, _subject(rows), "cannot tell", sentence, {}, ALIKE_STEP, Act.KNOW)
