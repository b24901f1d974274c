"""The verdicts on packs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.packs import words
from panelstats.lots.packs.readings import DENSITY, GRADE, LOT, STATE
from panelstats.lots.packs.tables import LIKELY
from panelstats.result import Act, Verdict
from panelstats.speech import Phrase
from panelstats.words import count, listing, number, percent, percent_limit, span, stated, stated_percent

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping
    from typing import Any

    import pandas as pd

    from panelstats.lots.packs.tables import Pack

    Record = Mapping[Hashable, Any]

LOOSE, TAPPED = "loose", "tapped"
# Lots told one by one; more are counted in the table (ours).
TOLD = 6
# Fewest lots for a grade of which one was weighed (ours).
OTHERS = 6
# Trouble comes in runs where lots put so much of the whole variance (ours).
RUNS = 0.5


def pack_verdicts(grades: pd.DataFrame, lots: pd.DataFrame, pack: Pack) -> list[Verdict]:
    """By grade and state, then lots in trouble, then what else rules the pack."""
    question = words.QUESTION.format(grams=stated(pack.grams), millilitres=stated(pack.millilitres))
    out = [_unlikely(row, lots) for row in grades.to_dict("records") if not LIKELY[0] <= row[DENSITY] <= LIKELY[1]]
    out += [_grade(row, pack, question, lots) for row in grades.to_dict("records")]
    own = lots.merge(grades[[GRADE, STATE, "call"]], on=[GRADE, STATE], suffixes=("", "_of_grade"))
    bad = own[own["call"].isin([words.OVERFLOWS, words.SLACK]) & (own["call"] != own["call_of_grade"])]
    worst = bad.assign(most=bad[["over", "slack"]].max(axis=1)).sort_values("most", ascending=False, kind="stable")
    out += [_lot(row, pack, several=len(grades) > 1) for row in worst.head(TOLD).to_dict("records")]
    return [*out, Verdict(words.NET_QUESTION, "", words.TOLD, words.NET),
            Verdict(words.HANDLING_QUESTION, "", words.TOLD, words.HANDLING)]  # fmt: skip


def settling_verdicts(readings: pd.DataFrame) -> list[Verdict]:
    """How much denser tapped leaf is than loose, by grade, from lots that were weighed both ways."""
    state = readings[STATE].str.casefold()
    means = readings.assign(**{STATE: state}).pivot_table(DENSITY, [GRADE, LOT], STATE, sort=False)
    if not {LOOSE, TAPPED} <= set(means):
        return []
    ratio = (means[TAPPED] / means[LOOSE]).dropna()
    out = []
    for grade, own in ratio.groupby(level=GRADE, sort=False):
        many = Phrase(" ({span} over {lots})").format(span=span(own, 2), lots=count(len(own), "lot"))
        told = words.SETTLES.format(what=str(grade) or Phrase("all lots"), ratio=number(own.mean(), 2),
                                    span=many if len(own) > 1 else "", share=percent(1 / own.mean()))  # fmt: skip
        numbers = {"ratio": float(own.mean()), "lots": len(own)}
        out.append(Verdict(words.SETTLING_QUESTION, str(grade), words.TOLD, told, numbers))
    return out


def mixture_verdict(shares: Mapping[str, float], low: float, high: float) -> Verdict:
    """What a mixture can weigh."""
    told = words.MIXED.format(shares=listing(f"{percent(s)} {g}" for g, s in shares.items()), low=number(low, 2),
                              high=number(high, 2))  # fmt: skip
    return Verdict(words.MIX_QUESTION, " + ".join(shares), words.DENSE, told, {"low": low, "high": high}, words.MEASURE,
                   Act.TASTE_AGAIN)  # fmt: skip


def name_of(row: Record) -> str:
    """Grade and state in words."""
    return ", ".join(str(part) for part in (row[GRADE] or Phrase("all lots"), row[STATE]) if part)


def _unlikely(row: Record, lots: pd.DataFrame) -> Verdict:
    mine = lots[(lots[GRADE] == row[GRADE]) & (lots[STATE] == row[STATE])]
    odd = mine[(mine[DENSITY] < LIKELY[0]) | (mine[DENSITY] > LIKELY[1])][LOT].astype(str).tolist()
    told = words.UNLIKELY.format(what=name_of(row), density=number(row[DENSITY], 3))
    return Verdict(words.MIX_QUESTION, name_of(row), words.CANNOT_TELL, told, {DENSITY: row[DENSITY]},
                   words.UNLIKELY_STEP.format(lots=listing(odd[:TOLD]) or "this grade"), Act.DECIDE)  # fmt: skip


def _sized(row: Record, name: str) -> dict[str, str]:
    low, high = (percent_limit(row[f"{name}_{end}"], up=end == "high") for end in ("low", "high"))
    return {"share": percent(row[name]), "interval": Phrase("{low} to {high}").format(low=low, high=high)}


def _of_this_lot(row: Record, lots: pd.DataFrame, pack: Pack) -> str:
    """What the packs of the only lot weighed would do."""
    (own,) = lots[(lots[GRADE] == row[GRADE]) & (lots[STATE] == row[STATE])].to_dict("records")
    if np.isnan(own["over"]) or own["call"] in (words.OVERFLOWS, words.SLACK):  # told among the lots
        return ""
    slack = own["slack"] > own["over"]
    return words.OF_THIS_LOT.format(**_sized(own, "slack" if slack else "over"), allowed=stated_percent(pack.allowed),
                                    trouble=words.BE_SLACK if slack else words.OVERFLOW)  # fmt: skip


def _grade(row: Record, pack: Pack, question: str, weighed: pd.DataFrame) -> Verdict:
    what, density = name_of(row), number(row[DENSITY], 3)
    if row["reason"]:
        one = row["reason"] == words.ONE_REASON
        told = (words.ONE_LOT if one else words.ALIKE).format(what=what, density=density)
        told += _of_this_lot(row, weighed, pack) if one else ""
        step = words.SECOND_LOT.format(n=OTHERS) if one else words.FINER
        return Verdict(question, what, words.CANNOT_TELL, told, {}, step, Act.TASTE_AGAIN)
    lots, allowed = count(int(row["lots"]), "lot"), stated_percent(pack.allowed)
    slack = row["call"] == words.SLACK or (row["call"] == words.CANNOT_TELL and row["slack_high"] > row["over_high"])
    name = "slack" if slack else "over"
    fields = {"what": what, "density": density, "lots": lots, "allowed": allowed, "fill": stated_percent(pack.fill)}
    told = (words.SLACK_LOTS if slack else words.NEW_LOTS).format(**fields, **_sized(row, name))
    told += _runs(row) if name == "over" else ""
    if name == "over" and row["call"] != words.OVERFLOWS and not np.isnan(row["plain_high"]):
        told += words.NONE_BEYOND.format(lots=lots, limit=percent(row["plain_high"]))
    if np.isnan(row["within_sd"]):
        told += words.ONE_READING
    numbers = {name: row[name], "low": row[f"{name}_low"], "high": row[f"{name}_high"]} | _way(row, pack)
    act = Act.KNOW if row["call"] == words.FITS else Act.TASTE_AGAIN if row["call"] == words.CANNOT_TELL else Act.DECIDE
    return Verdict(question, what, str(row["call"]), told, numbers, _step(row, pack), act)


def _way(row: Record, pack: Pack) -> dict[str, float]:
    """How far the density is off: too light overflows, too dense leaves a pack slack."""
    line = {words.OVERFLOWS: pack.line, words.SLACK: pack.top}.get(row["call"])
    return {} if line is None else {"change": row[DENSITY] - line}


def _runs(row: Record) -> str:
    """Whether failures come lot by lot."""
    between, within = row["between_sd"] ** 2, np.nan_to_num(row["within_sd"]) ** 2
    share = row["lots_over"]
    if not 0.001 <= share <= 0.5 or between < RUNS * (between + within) or np.isnan(row["within_sd"]):
        return ""
    return words.RUNS.format(k=stated(round(1 / share), ","))


def _step(row: Record, pack: Pack) -> str:
    if row["call"] == words.FITS:
        return ""
    if row["call"] == words.SLACK:
        return words.CHARGE_MORE
    if row["call"] == words.OVERFLOWS and not (row["largest_grams"] >= 1 and np.isfinite(row["least_millilitres"])):
        return words.SECOND_LOT.format(n=OTHERS)  # so few lots that any charge might overflow
    if row["call"] == words.OVERFLOWS:
        return words.CHARGE_LESS.format(
            grams=stated(np.floor(row["largest_grams"]), ".0f"),
            millilitres=stated(np.ceil(row["least_millilitres"]), ".0f"),
            allowed=stated_percent(pack.allowed),
            level=stated_percent(pack.level),
        )
    if np.isnan(row["lots_needed"]):
        return words.MANY_LOTS
    return words.MORE_LOTS.format(n=count(int(row["lots_needed"]), "lot"))


def _lot(row: Record, pack: Pack, *, several: bool) -> Verdict:
    over = row["call"] == words.OVERFLOWS
    name = f"{row[LOT]} ({name_of(row)})" if several else str(row[LOT])
    fields = {"lot": name, "density": number(row[DENSITY], 3), "fill": stated_percent(pack.fill)}
    template, key = (words.OVER, "over") if over else (words.LOOSE_FULL, "slack")
    numbers = {key: row[key], "low": row[f"{key}_low"], "high": row[f"{key}_high"]} | _way(row, pack)
    return Verdict(words.LOT_QUESTION, str(row[LOT]), str(row["call"]), template.format(**fields, **_sized(row, key)),
                   numbers, words.WEIGH_AGAIN, Act.DECIDE)  # fmt: skip
