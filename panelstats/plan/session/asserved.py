"""What was really served: positions, neighbours and what joins the lots, counted on the cups that are marked."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from panelstats.plan.session import words
from panelstats.plan.session.besidechance import audits, balance, efficiency_by_chance, how_joined, incidence, looked_at
from panelstats.plan.session.plancalls import compare_verdict, order_verdicts, repeat_verdict
from panelstats.result import Act, Verdict, in_order
from panelstats.scores.dates import day_before
from panelstats.scores.spelling import natural
from panelstats.words import count, listing

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.plan.session.servingplan import ServingPlan

_NAMED = 6  # lots that are named; more are counted (ours)


def as_served(plan: ServingPlan, opened: pd.DataFrame) -> ServingPlan:
    """The plan with the figures and sentences of what was tasted.

    Parameters
    ----------
    plan : ServingPlan
        Some of its servings are tasted.
    opened : DataFrame
        session, date, opened: what the room's register says.
    """
    tasted = plan.servings[plan.servings["tasted"]]
    there = set(tasted["taster"])
    asked = replace(plan.drawn.asked, tasters=[who for who in plan.drawn.asked.tasters if who in there])
    found, chance = audits(asked, tasted)
    compared = looked_at(asked, tasted)
    served = incidence(compared, tasted)
    joined = how_joined(compared, served)
    blocked = joined.parts == 1 and joined.efficiency < 1 - 1e-9
    random = efficiency_by_chance(compared, served) if blocked else joined.efficiency
    way = words.COMPLETE if len(set(tasted["session"])) == 1 else plan.drawn.way
    way = way if compared is asked else words.REPLICATES
    verdicts = [
        _served(plan, tasted),
        _opened(opened[opened["session"].isin(tasted["session"])]),
        *order_verdicts(asked, found, chance, complete=compared is asked and plan.drawn.way == words.COMPLETE),
        compare_verdict(compared, joined, random, float("nan"), way),
        repeat_verdict(tasted),
    ]
    figures = balance(found, chance, joined, random)
    return replace(plan, balance=figures, positions=found.lots, verdicts=in_order(verdicts))


def _served(plan: ServingPlan, tasted: pd.DataFrame) -> Verdict:
    """How much of the plan was tasted, and who has cups left."""
    left = plan.servings[~plan.servings["tasted"]]
    told = words.SERVED.format(cups=len(tasted), planned=count(len(plan.servings), "cup"))
    never = sorted(set(plan.servings["lot"]) - set(tasted["lot"]), key=natural)
    if never:
        named = listing(never) if len(never) <= _NAMED else count(len(never), "lot")
        told += words.NEVER_TASTED.format(lots=named)
    if not len(left):
        return Verdict(words.SERVED_QUESTION, "", words.WHOLE, told, {"tasted": len(tasted)})
    cups = left.groupby("taster", sort=False).size()
    told += words.LEFT.format(tasters=listing(f"{who} {n}" for who, n in cups.items()))
    numbers = {"tasted": len(tasted), "left": len(left)}
    return Verdict(words.SERVED_QUESTION, "", words.IN_PART, told, numbers, words.LEFT_STEP, Act.KNOW)


def _opened(sessions: pd.DataFrame) -> Verdict:
    """When the key was opened, as far as anybody wrote it down."""
    said = {row["session"]: row["opened"] for row in sessions.to_dict("records") if row["opened"]}
    missing = [name for name in sessions["session"] if name not in said]
    early = [row["session"] for row in sessions.to_dict("records")
             if day_before(row["opened"], row["date"] or row["session"])]  # fmt: skip
    if early:
        told = words.OPENED_EARLY.format(sessions=listing(f"{name} ({said[name]})" for name in early))
        return Verdict(words.OPENED_QUESTION, "", words.NO, told, {}, words.OPENED_EARLY_STEP, Act.DECIDE)
    if missing:
        told = words.OPENED_UNSAID.format(sessions=listing(missing))
        return Verdict(words.OPENED_QUESTION, "", words.UNKNOWN, told, {}, words.OPENED_STEP)
    several = len(said) > 1
    when = listing(f"{when} (session {name})" if several else when for name, when in said.items())
    return Verdict(words.OPENED_QUESTION, "", words.YES, words.OPENED.format(when=when))
