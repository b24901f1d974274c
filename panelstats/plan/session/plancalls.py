"""The verdicts on a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.plan.session import words
from panelstats.plan.session.proof import sd_factors
from panelstats.plan.session.request import BY_CLASS, TRAY
from panelstats.result import Act, Verdict
from panelstats.scores.spelling import natural
from panelstats.words import count, listing, number, percent, span, stated

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.plan.orders.audit import Audit
    from panelstats.plan.orders.efficiency import Efficiency
    from panelstats.plan.session.request import Request

ENOUGH_REPEATS = 10  # repeats a taster that give a usable standard deviation (common practice)


def order_verdicts(asked: Request, found: Audit, chance: Audit, *, complete: bool = True) -> list[Verdict]:
    """Positions, neighbours, lots beside themselves; `complete` where every sheet holds every lot."""
    if len(asked.names) * asked.pots + asked.repeats == 1:
        return []  # one pot has no order
    numbers = {"position_gap": found.position_gap, "neighbours_most": found.neighbours_most}
    call, told, step = _order(asked, found, chance)
    step = step if complete or asked.service != TRAY else ""  # blocks: no number of tasters makes squares of them
    out = [Verdict(words.ORDER_QUESTION, "", call, told, numbers, step)]
    if found.beside_itself:
        told = words.BESIDE.format(times=count(found.beside_itself, "time").capitalize())
        out.append(Verdict(words.ORDER_QUESTION, "neighbours", words.PARTLY, told, {}, words.BESIDE_STEP))
    return out


def strong_verdicts(asked: Request, beside: int) -> list[Verdict]:
    """Whether strong lots stand apart from controls, where that was asked for."""
    if not asked.strong:
        return []
    told = words.STRONG_BESIDE.format(times=count(beside, "time").capitalize()) if beside else words.STRONG_APART
    call, step = (words.PARTLY, words.STRONG_STEP) if beside else (words.YES, "")
    return [Verdict(words.ORDER_QUESTION, "strong lots", call, told, {"beside": beside}, step)]


def _order(asked: Request, found: Audit, chance: Audit) -> tuple[str, str, str]:
    tasters = len(asked.tasters)
    if asked.order == BY_CLASS:
        return words.NOT_BALANCED, words.ORDER_CLASS.format(every=asked.every), words.RANDOM_STEP
    if tasters == 1:
        return words.NOT_BALANCED, words.ORDER_ONE if asked.service == TRAY else words.ORDER_BENCH_ONE, ""
    if asked.service != TRAY:
        step = words.SECOND_ROUND if asked.pots == 1 else ""
        return words.PARTLY, words.ORDER_BENCH.format(gap=_gap(found)), step
    alike = found.neighbours_most == found.neighbours_least
    even = found.position_gap <= 1
    template = words.ORDER_ALIKE if alike else words.ORDER_UNLIKE
    most = count(found.neighbours_most, "time")
    neighbours = template.format(least=found.neighbours_least, most=most, random=chance.neighbours_most)
    told = words.ORDER_TRAY.format(position="balanced" if even else "nearly balanced", neighbours=neighbours,
                                   gap=_gap(found))  # fmt: skip
    items = len(asked.names) + asked.repeats
    whole = items * (1 if items % 2 == 0 else 2)
    step = "" if alike else words.MORE_TASTERS.format(n=count(whole, "taster"))
    return (words.BALANCED if alike and even else words.PARTLY), told, step if items <= whole <= 4 * tasters else ""


def compare_verdict(asked: Request, found: Efficiency, chance: float, bound: float, way: str) -> Verdict:
    """Whether all lots can be compared, and how well."""
    if len(asked.lots) == 1:
        return Verdict(words.COMPARE_QUESTION, "", words.NO, words.ONE_LOT, {}, words.ONE_LOT_STEP, Act.DECIDE)
    if found.parts > 1:
        told = words.FALL_APART.format(parts=found.parts)
        return Verdict(words.COMPARE_QUESTION, "", words.NO, told, {"parts": found.parts}, words.FALL_APART_STEP,
                       Act.DECIDE)  # fmt: skip
    unit = words.OF_A_LOOK if asked.service == TRAY else words.OF_A_POT
    factor = words.TIMES.format(n=number(1.96 * np.sqrt(found.variance), 2), unit=unit)
    step = words.TWO_LOTS if len(asked.lots) == 2 else ""
    numbers = {"efficiency": found.efficiency, "variance": found.variance}
    if found.efficiency > 1 - 1e-9:
        told = words.ALL_COMPARED.format(sheets=words.EVERY if way == words.COMPLETE else words.PLAN, factor=factor)
        return Verdict(words.COMPARE_QUESTION, "", words.YES, told, numbers, step)
    if way == words.SPLIT:
        controls = len(asked.controls)
        told = words.BY_CONTROLS.format(controls=count(controls, "control"), times=number(1 + 1 / controls, 2))
        step = words.MORE_CONTROLS if controls < 3 else ""
        return Verdict(words.COMPARE_QUESTION, "", words.YES, told, numbers, step)
    said = [words.BOUND.format(bound=percent(bound))] if np.isfinite(bound) else []
    said.append(words.RANDOM_SHARE.format(random=percent(chance)) if chance > 0 else words.RANDOM_APART)
    told = words.JOINED.format(
        efficiency=percent(found.efficiency), bound=listing(said), factor=factor,
        worst=number(1.96 * np.sqrt(found.worst), 2),
    )  # fmt: skip
    return Verdict(words.COMPARE_QUESTION, "", words.YES, told, numbers, step)


def _gap(found: Audit) -> str:
    """How far positions are from balance."""
    return words.GAP.format(gap=count(found.position_gap, "time")) if found.position_gap else words.NO_GAP


def repeat_verdict(servings: pd.DataFrame) -> Verdict:
    """What repeats, second pots and controls will tell of each taster."""
    met = servings.groupby(["taster", "session", "lot"], observed=True).size() - 1
    df = int(met.groupby("taster").sum().min())
    if df < 1:
        step = words.REPEATS_STEP.format(n=count(ENOUGH_REPEATS, "repeat"))
        return Verdict(words.REPEAT_QUESTION, "", words.NO, words.NO_REPEATS, {"df": 0}, step, Act.DECIDE)
    low, high = sd_factors(df)
    told = words.REPEATS.format(repeats=count(df, "repeat"), low=number(low, 2), high=number(high, 2))
    step = words.REPEATS_STEP.format(n=count(ENOUGH_REPEATS, "repeat")) if df < ENOUGH_REPEATS else ""
    return Verdict(words.REPEAT_QUESTION, "", words.YES, told, {"df": df, "low": low, "high": high}, step)


def proof_verdict(asked: Request, proof: pd.DataFrame, tasters: int, source: str, *, whole: bool) -> Verdict:
    """Least difference found, and what buys a smaller one."""
    if not len(proof):
        return Verdict(words.PROVE_QUESTION, "", words.UNKNOWN, words.NOT_KNOWN, {}, words.NOT_KNOWN_STEP,
                       Act.TASTE_AGAIN)  # fmt: skip
    now = proof[proof["change"] == "as planned"]
    told = words.PROVES.format(
        tasters=count(tasters, "taster"), pots=count(asked.pots, "pot"), source=source,
        eighty=f"{span(now['least_80'], 2)} points", ninety_five=f"{span(now['least_95'], 2)}",
    )  # fmt: skip
    told += "" if whole else words.PARTS_UNKNOWN
    steps = [_bought(rows) for change, rows in proof.groupby("change", sort=False) if change != "as planned"]
    numbers = {"least_80": float(now["least_80"].max()), "least_95": float(now["least_95"].max())}
    return Verdict(words.PROVE_QUESTION, "", words.PLANNED, told, numbers, f"{'; '.join(steps).capitalize()}.")


def _bought(rows: pd.DataFrame) -> str:
    brews = int(rows["brews"].iloc[0])
    return words.BUYS.format(
        change=str(rows["change"].iloc[0]), eighty=span(rows["least_80"], 2),
        cups=count(int(rows["cups"].iloc[0]), "cup"), brews=f" ({count(brews, 'brew')})" if brews else "",
    )  # fmt: skip


def left_out_verdicts(asked: Request) -> list[Verdict]:
    """Lots that are not served to somebody."""
    out = []
    for taster, lots in asked.left_out.items():
        if lots:
            told = words.LEFT_OUT.format(lots=listing(sorted(lots, key=natural)), taster=taster)
            out.append(Verdict(words.LEFT_OUT_QUESTION, taster, words.PLANNED, told, {}, words.LEFT_OUT_STEP, Act.KNOW))
    return out


def codes_verdict(codes: pd.DataFrame, *, safe: bool) -> Verdict:
    """Whether a slip leads to another pot."""
    digits = int(codes["code"].str.len().max())
    if safe:
        return Verdict(words.CODES_QUESTION, "", words.YES, words.SAFE.format(digits=span(codes["code"].str.len(), 0)))
    most = int(codes.groupby(["session", "taster"]).size().max())
    share = most / len(range(10 ** (digits - 1), 10**digits)) * 2  # about half of all numbers are candidates
    told = words.PLAIN.format(digits=digits, share=percent(min(share, 1)))
    return Verdict(words.CODES_QUESTION, "", words.NO, told, {"share": share}, words.PLAIN_STEP, Act.DECIDE)


def load_verdict(servings: pd.DataFrame, codes: pd.DataFrame, pot_minutes: float | None = None) -> Verdict:
    """Cups, minutes and breaks."""
    sittings = servings.groupby(["session", "taster"], observed=True)
    most, breaks = int(sittings.size().max()), int(sittings["flight"].nunique().max()) - 1
    told = words.LOAD.format(
        sessions=count(servings["session"].nunique(), "session"), most=count(most, "pot"),
        cups=count(len(servings), "cup"), brews=count(len(codes), "pot"),
    )  # fmt: skip
    numbers: dict[str, float] = {"most": most, "cups": len(servings)}
    if pot_minutes is not None:
        numbers["minutes"] = pot_minutes * most
        total = count(round(numbers["minutes"]), "minute")
        told += words.LOAD_TIME.format(minutes=stated(pot_minutes), total=total)
    told += words.LOAD_BREAKS.format(breaks=count(breaks, "break")) if breaks else ""
    return Verdict(words.LOAD_QUESTION, "", words.PLANNED, told, numbers, "" if breaks else words.LOAD_STEP)
