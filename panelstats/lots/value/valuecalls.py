"""The verdicts on a price."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.value import words
from panelstats.lots.value.priced import PRICE
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, LOT
from panelstats.words import count, decimals, interval, listing, number, p_value, percent

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping
    from typing import Any

    import pandas as pd

    from panelstats.lots.value.priced import Priced

    Record = Mapping[Hashable, Any]


@dataclass(frozen=True)
class Asked:
    """What is asked: the column and its unit, the strata in words, how sure, and what is known of blind tasting."""

    by: str
    unit: str
    strata: str
    level: float
    blind: str


def value_verdicts(
    asked: Asked, priced: Priced, link: pd.DataFrame, table: pd.DataFrame, together: pd.DataFrame, lots: pd.DataFrame,
    why: str, *, least: int,
) -> list[Verdict]:  # fmt: skip
    """First whether, then which words, then which lots."""
    row = link.iloc[0].to_dict()
    first = _whether(asked, row, why, least)
    rest = [] if why else [*_words(asked, table), *_beyond(asked, together),
                           *_lots(asked, lots, carried=first.call == words.GOES)]  # fmt: skip
    return [first, *rest, *_rests_on(asked, priced, row)]


def _whether(asked: Asked, row: Record, why: str, least: int) -> Verdict:
    lots = count(int(row["lots"]), "lot")
    fields = {"by": asked.by, "strata": asked.strata, "lots": lots}
    question = words.QUESTION.format(by=asked.by)
    if why == words.FEW:
        step = words.FEW_STEP.format(by=asked.by, more=count(max(least - int(row["lots"]), 1), "lot more", "lots more"))
        return Verdict(question, "", words.CANNOT_TELL, why.format(**fields, least=least), {}, step,
                       Act.TASTE_AGAIN)  # fmt: skip
    if why:
        p = "" if np.isnan(row["order_p"]) else p_value(row["order_p"])
        step = words.NO_ORDER_STEP if why == words.NO_ORDER else words.NO_SPREAD_STEP.format(by=asked.by)
        return Verdict(question, "", words.CANNOT_TELL, why.format(**fields, p=p), {}, step, Act.TASTE_AGAIN)
    numbers = {"share": row["share"], "share_anew": row["share_anew"], "p": row["p"]}
    if row["call"] != words.GOES:
        told = words.OPEN.format(**fields)
        return Verdict(question, "", words.CANNOT_TELL, told, numbers, words.MORE_LOTS.format(by=asked.by),
                       Act.TASTE_AGAIN)  # fmt: skip
    told = words.CARRIED.format(**fields, share=percent(row["share"]))
    told += words.CARRIED_ANEW.format(share=percent(max(row["share_anew"], 0.0)))
    return Verdict(question, "", words.GOES, told, numbers, "", Act.DECIDE)


def _rests_on(asked: Asked, priced: Priced, row: Record) -> list[Verdict]:
    """What was left out, and what else the scores may follow."""
    told = []
    if row["unsold"]:
        told.append(words.UNSOLD.format(n=count(int(row["unsold"]), "lot"), by=asked.by))
    if row["left_out"]:
        told.append(words.LEFT_OUT.format(n=count(int(row["left_out"]), "lot"), strata=asked.strata))
    if asked.blind != "yes":
        told.append((words.NOT_BLIND if asked.blind else words.BLIND_UNKNOWN).format(by=asked.by))
    if len(priced.lots) and not priced.error:
        told.append(words.ERROR_UNKNOWN)
    elif len(priced.lots) and not priced.of_pots:
        told.append(words.POTS_UNKNOWN)
    return [Verdict(words.REST_QUESTION, "", words.KNOWN, " ".join(map(str, told)))] if told else []


def _numbers(row: Record) -> dict[str, float]:
    return {"change": row["slope"], "low": row["low"], "high": row["high"], "p": row["p_adjusted"]}


def _sized(row: Record) -> dict[str, str]:
    places = max(0, decimals((row["high"] - row["low"]) / 4))
    return {"slope": f"{number(row['slope'], places, sign=True)} %",
            "interval": f"{interval(row['low'], row['high'], places, sign=True)} %"}  # fmt: skip


def _words(asked: Asked, table: pd.DataFrame) -> list[Verdict]:
    question, out = words.WORD_QUESTION.format(by=asked.by), []
    shown = table[table["call"] == words.GOES]
    order = shown["correlation"].abs().sort_values(ascending=False, kind="stable").index
    for row in shown.loc[order].to_dict("records"):
        template = words.MORE if row["correlation"] > 0 else words.LESS
        told = template.format(word=row[DESCRIPTOR], strata=asked.strata, **_sized(row))
        numbers = _numbers(row)
        out.append(Verdict(question, str(row[DESCRIPTOR]), words.GOES, told, numbers, "", Act.DECIDE))
    for group in _alike(shown):
        told = words.UNLIKE.format(words=listing(group), by=asked.by)
        out.append(Verdict(question, ", ".join(group), words.TOGETHER, told, {}, words.UNLIKE_STEP, Act.TASTE_AGAIN))
    return out


def _alike(shown: pd.DataFrame) -> list[list[str]]:
    """Words that go with the price and stand for one another, each set once, in the order of the sheet."""
    sets: list[set[str]] = []
    for row in shown.to_dict("records"):
        group = {str(row[DESCRIPTOR]), *filter(None, str(row["alike"]).split(", "))}
        near = [each for each in sets if each & group]
        sets = [each for each in sets if each not in near] + [group.union(*near)]
    place = {name: at for at, name in enumerate(shown[DESCRIPTOR])}
    return [sorted(each, key=lambda name: place.get(name, len(place))) for each in sets if len(each) > 1]


def _beyond(asked: Asked, together: pd.DataFrame) -> list[Verdict]:
    if not len(together):
        return []
    question = words.WORD_QUESTION.format(by=asked.by)
    shown = together[together["call"] == words.BEYOND].sort_values("p", kind="stable")
    if not len(shown):
        told = words.NOT_BEYOND.format(by=asked.by)
        return [Verdict(question, "", words.CANNOT_TELL, told, {}, words.NOT_BEYOND_STEP, Act.TASTE_AGAIN)]
    return [
        Verdict(question, str(row["descriptors"]), words.BEYOND,
                words.BEYOND_OTHERS.format(word=row["descriptors"], by=asked.by, **_sized(row)),
                _numbers(row), "", Act.DECIDE)
        for row in shown.to_dict("records")
    ]  # fmt: skip


def _lots(asked: Asked, lots: pd.DataFrame, *, carried: bool) -> list[Verdict]:
    if not carried:
        return []
    far = lots[lots["call"].isin([words.ABOVE, words.BELOW])].sort_values("p_adjusted", kind="stable")
    if not len(far):
        told = words.LOTS_NONE.format(lots=count(len(lots), "lot"))
        return [Verdict(words.LOT_QUESTION, "", words.AS_EXPECTED, told)]
    unit = f" {asked.unit}" if asked.unit else ""
    out = []
    for row in far.to_dict("records"):
        places = max(0, decimals((row["high"] - row["low"]) / 4))
        told = words.LOT_ABOVE.format(
            lot=row[LOT], price=f"{number(row[PRICE], max(places, 1))}{unit}", expected=number(row["expected"], places),
            interval=interval(row["low"], row["high"], places),
        )  # fmt: skip
        numbers = {"change": row[PRICE] - row["expected"], "price": row[PRICE], "expected": row["expected"],
                   "low": row["low"], "high": row["high"]}  # fmt: skip
        out.append(Verdict(words.LOT_QUESTION, str(row[LOT]), str(row["call"]), told, numbers, words.LOT_STEP,
                           Act.DECIDE))  # fmt: skip
    return out
