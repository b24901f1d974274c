"""What the agreement of a panel says in words: in looks and points, not in coefficients."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scipy.special import ndtri

from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR
from panelstats.words import count, listing, number, percent

if TYPE_CHECKING:
    import pandas as pd

QUESTION = "Do the tasters agree on the lots?"
# Order and levels are told apart in words when consistency exceeds agreement by this much (ours).
LEVELS_APART = 0.2

AGREE = "The {tasters} agree on the lots. Share of the spread of their marks that is the lots' own: {shares}."
DISAGREE = "The tasters do not agree on {shares}: less than half of the spread of the panel's marks is the lots' own."
DISAGREE_STEP = "Taste a reference together on these words before the next session, and settle what each word means."
TOO_WIDE = "Cannot tell how well the tasters agree on {shares}: the intervals are too wide."
TOO_WIDE_STEP = (
    "Taste more lots of a class together: with about {twice} instead of {lots} the interval would be a third narrower."
)
NOT_JUDGED = "Cannot tell whether the tasters agree on {descriptors}: {reason}."
NOT_JUDGED_STEP = "Serve two lots or more to two tasters or more."
ALIKE = "The lots are too alike on {descriptors} to judge whether the tasters agree; this is no fault of the panel."
ALIKE_IN_CLASS = (
    "The lots are too alike within their class on {descriptors} to judge whether the tasters agree; this is no fault "
    "of the panel."
)
ALIKE_STEP = "Serve lots that are known to differ on these words to judge the tasters on them."
SHARE = "{descriptor} {share} ({low} to {high})"
REACH = " A mark of the panel may lie up to {reach} points away from what such a panel would say in the long run."
FROM_TO = "{low} to {high}"
LEVELS = " On {descriptors} the tasters order the lots alike but use different levels."
IN_SESSION = "Session {session}: {sentence}"


def agreement_verdicts(table: pd.DataFrame, level: float, classes: list[str], session: str) -> list[Verdict]:
    """One verdict per kind of answer, each naming its descriptors (and the session, where there are several)."""
    found = _by_call(table, level, len(classes))
    if not session:
        return found
    return [
        replace(verdict, sentence=IN_SESSION.format(session=session, sentence=verdict.sentence)) for verdict in found
    ]


def _by_call(table: pd.DataFrame, level: float, classes: int) -> list[Verdict]:
    out = []
    for call, speak in (("agree", _agree), ("apart", _apart), ("cannot tell", _open)):
        rows = table[table["call"] == call]
        if len(rows):
            out.append(speak(rows, level))
    alike = table[table["call"] == "too alike to judge"]
    return [*out, _alike(alike, level, classes)] if len(alike) else out


def _shares(rows: pd.DataFrame) -> str:
    """Each descriptor with the share of its marks' spread that is the lots' own, and the interval."""
    return listing(
        SHARE.format(
            descriptor=name,
            share=percent(mean),
            low=percent(max(low, 0.0)).removesuffix(" %"),
            high=percent(high),
        )
        for name, mean, low, high in zip(
            rows[DESCRIPTOR], rows["icc_mean"], rows["icc_mean_low"], rows["icc_mean_high"], strict=True
        )
    )


def _subject(rows: pd.DataFrame) -> str:
    return str(rows[DESCRIPTOR].iloc[0]) if len(rows) == 1 else ""


def _numbers(rows: pd.DataFrame) -> dict[str, float]:
    return {f"icc_mean {row[DESCRIPTOR]}": float(row["icc_mean"]) for _, row in rows.iterrows()}


def reach(rows: pd.DataFrame, level: float) -> str:
    """How far one mark of the panel may lie from what such a panel would say, as "0.4 to 0.7"; "" where not known."""
    far = rows["mark_se"].dropna() * ndtri((1 + level) / 2)
    if far.empty:
        return ""
    low, high = number(far.min(), 1), number(far.max(), 1)
    return high if low == high else FROM_TO.format(low=low, high=high)


def _reach(rows: pd.DataFrame, level: float) -> str:
    far = reach(rows, level)
    return REACH.format(reach=far) if far else ""


def _levels(rows: pd.DataFrame) -> str:
    far = rows[rows["icc_consistency_mean"] - rows["icc_mean"] > LEVELS_APART]
    if far.empty:
        return ""
    return LEVELS.format(descriptors=listing(far[DESCRIPTOR]))


def _agree(rows: pd.DataFrame, level: float) -> Verdict:
    people = count(int(rows["tasters"].max()), "taster")
    sentence = AGREE.format(tasters=people, shares=_shares(rows)) + _reach(rows, level) + _levels(rows)
    return Verdict(QUESTION, _subject(rows), "agree", sentence, _numbers(rows), "", Act.KNOW)


def _apart(rows: pd.DataFrame, level: float) -> Verdict:
    sentence = DISAGREE.format(shares=_shares(rows)) + _reach(rows, level) + _levels(rows)
    return Verdict(QUESTION, _subject(rows), "apart", sentence, _numbers(rows), DISAGREE_STEP, Act.DECIDE)


def _open(rows: pd.DataFrame, level: float) -> Verdict:
    judged = rows.dropna(subset=["icc_mean_low"])
    if judged.empty:
        sentence = NOT_JUDGED.format(descriptors=listing(rows[DESCRIPTOR]), reason=rows["reason"].iloc[0])
        return Verdict(QUESTION, _subject(rows), "cannot tell", sentence, {}, NOT_JUDGED_STEP, Act.KNOW)
    sentence = TOO_WIDE.format(shares=_shares(judged)) + _reach(judged, level) + _levels(judged)
    lots = int(rows["lots"].max())
    step = TOO_WIDE_STEP.format(twice=2 * lots, lots=lots)
    return Verdict(QUESTION, _subject(rows), "cannot tell", sentence, _numbers(judged), step, Act.KNOW)


def _alike(rows: pd.DataFrame, level: float, classes: int) -> Verdict:
    template = ALIKE_IN_CLASS if classes > 1 else ALIKE
    sentence = template.format(descriptors=listing(rows[DESCRIPTOR])) + _reach(rows, level)
    return Verdict(QUESTION, _subject(rows), "cannot tell", sentence, {}, ALIKE_STEP, Act.KNOW)
