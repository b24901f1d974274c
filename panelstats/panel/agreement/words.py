"""What the agreement of a panel says in words: in looks and points, not in coefficients."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from scipy.stats import norm

from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR
from panelstats.words import count, listing, number, percent

if TYPE_CHECKING:
    import pandas as pd

QUESTION = "Do the tasters agree on the lots?"
# Order and levels are told apart in words when consistency exceeds agreement by this much (ours).
LEVELS_APART = 0.2


def agreement_verdicts(table: pd.DataFrame, level: float, classes: list[str], session: str) -> list[Verdict]:
    """One verdict per kind of answer, each naming its descriptors (and the session, where there are several)."""
    found = _by_call(table, level, len(classes))
    if not session:
        return found
    return [replace(verdict, sentence=f"Session {session}: {verdict.sentence}") for verdict in found]


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
        f"{name} {percent(mean)} ({percent(max(low, 0.0)).removesuffix(' %')} to {percent(high)})"
        for name, mean, low, high in zip(
            rows[DESCRIPTOR], rows["icc_mean"], rows["icc_mean_low"], rows["icc_mean_high"], strict=True
        )
    )


def _subject(rows: pd.DataFrame) -> str:
    return str(rows[DESCRIPTOR].iloc[0]) if len(rows) == 1 else ""


def _numbers(rows: pd.DataFrame) -> dict[str, float]:
    return {f"icc_mean {row[DESCRIPTOR]}": float(row["icc_mean"]) for _, row in rows.iterrows()}


def _reach(rows: pd.DataFrame, level: float) -> str:
    """How far one mark of the panel may lie from what such a panel would say in the long run."""
    reach = rows["mark_se"].dropna() * norm.isf((1 - level) / 2)
    if reach.empty:
        return ""
    low, high = number(reach.min(), 1), number(reach.max(), 1)
    width = high if low == high else f"{low} to {high}"
    return f" A mark of the panel may lie up to {width} points away from what such a panel would say in the long run."


def _levels(rows: pd.DataFrame) -> str:
    far = rows[rows["icc_consistency_mean"] - rows["icc_mean"] > LEVELS_APART]
    if far.empty:
        return ""
    return f" On {listing(far[DESCRIPTOR])} the tasters order the lots alike but use different levels."


def _agree(rows: pd.DataFrame, level: float) -> Verdict:
    people = count(int(rows["tasters"].max()), "taster")
    sentence = (
        f"The {people} agree on the lots. Share of the spread of their marks that is the lots' own: {_shares(rows)}."
        + _reach(rows, level)
        + _levels(rows)
    )
    return Verdict(QUESTION, _subject(rows), "agree", sentence, _numbers(rows), "", Act.KNOW)


def _apart(rows: pd.DataFrame, level: float) -> Verdict:
    sentence = (
        f"The tasters do not agree on {_shares(rows)}: less than half of the spread of the panel's marks is the lots' "
        "own." + _reach(rows, level) + _levels(rows)
    )
    step = "Taste a reference together on these words before the next session, and settle what each word means."
    return Verdict(QUESTION, _subject(rows), "apart", sentence, _numbers(rows), step, Act.DECIDE)


def _open(rows: pd.DataFrame, level: float) -> Verdict:
    judged = rows.dropna(subset=["icc_mean_low"])
    names = listing(rows[DESCRIPTOR])
    if judged.empty:
        sentence = f"Cannot tell whether the tasters agree on {names}: {rows['reason'].iloc[0]}."
        return Verdict(
            QUESTION,
            _subject(rows),
            "cannot tell",
            sentence,
            {},
            "Serve two lots or more to two tasters or more.",
            Act.KNOW,
        )
    sentence = (
        f"Cannot tell how well the tasters agree on {_shares(judged)}: the intervals are too wide."
        + _reach(judged, level)
        + _levels(judged)
    )
    lots = int(rows["lots"].max())
    step = (
        f"Taste more lots of a class together: with about {2 * lots} instead of {lots} the interval would be a third "
        "narrower."
    )
    return Verdict(QUESTION, _subject(rows), "cannot tell", sentence, _numbers(judged), step, Act.KNOW)


def _alike(rows: pd.DataFrame, level: float, classes: int) -> Verdict:
    where = " within their class" if classes > 1 else ""
    sentence = (
        f"The lots are too alike{where} on {listing(rows[DESCRIPTOR])} to judge whether the tasters agree; this is no "
        "fault of the panel." + _reach(rows, level)
    )
    step = "Serve lots that are known to differ on these words to judge the tasters on them."
    return Verdict(QUESTION, _subject(rows), "cannot tell", sentence, {}, step, Act.KNOW)
