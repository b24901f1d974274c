"""What is said of servings that were drawn: their figures and sentences, as planned, as changed and as served."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.plan.orders.efficiency import Efficiency, resolvable_bound
from panelstats.plan.session import words
from panelstats.plan.session.besidechance import audits, balance, efficiency_by_chance, how_joined, incidence, looked_at
from panelstats.plan.session.brew import brews_of
from panelstats.plan.session.plancalls import (
    codes_verdict,
    compare_verdict,
    left_out_verdicts,
    load_verdict,
    order_verdicts,
    proof_verdict,
    repeat_verdict,
)
from panelstats.plan.session.proof import Looks, least_differences, no_proof
from panelstats.plan.session.request import BENCH, BY_CLASS, Request, digest_of
from panelstats.plan.session.servingplan import ServingPlan
from panelstats.result import in_order
from panelstats.words import percent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from panelstats.result import Verdict

    Known = tuple[pd.DataFrame | None, str, bool]

NOTHING_KNOWN: Known = (None, "", True)


@dataclass(frozen=True)
class Drawn:
    """What a plan rests on besides its servings.

    Attributes
    ----------
    asked : Request
    way : str
        How lots were dealt to sheets.
    safe : bool
        Whether every slip of a digit shows.
    level : float
    """

    asked: Request
    way: str
    safe: bool
    level: float


def told(
    drawn: Drawn, servings: pd.DataFrame, codes: pd.DataFrame, known: Known, also: Sequence[Verdict] = ()
) -> ServingPlan:
    """A plan with its figures and sentences; it has no id yet.

    Parameters
    ----------
    drawn : Drawn
    servings, codes : DataFrame
        As `ServingPlan` holds them.
    known : tuple
        Variances, where they come from, whether every part is known.
    also : sequence of Verdict
        What else is to be said.
    """
    asked = drawn.asked
    found, chance = audits(asked, servings)
    compared = looked_at(asked, servings)
    served = incidence(compared, servings)
    joined = how_joined(compared, served)
    random, bound = _beside(replace(drawn, asked=compared), served, joined)
    per_lot = _per_lot(servings)
    table, source, whole = known
    looks = Looks(len(asked.lots), per_lot, asked.pots, 1, asked.service == BENCH)
    can = table is not None and len(asked.lots) > 1 and joined.parts == 1
    proof = least_differences(table, looks, joined.efficiency, drawn.level) if can else no_proof()  # type: ignore[arg-type]
    verdicts = [
        *also,
        *order_verdicts(asked, found, chance, complete=drawn.way == words.COMPLETE),
        compare_verdict(compared, joined, random, bound, drawn.way if compared is asked else words.REPLICATES),
        repeat_verdict(servings),
        proof_verdict(asked, proof, per_lot, source, whole=whole),
        codes_verdict(codes, safe=drawn.safe),
        load_verdict(servings, codes, asked.pot_minutes),
        *left_out_verdicts(asked),
    ]
    orders = words.CLASS_ORDER if asked.order == BY_CLASS else words.ORDERS[f"{asked.service} {drawn.way}"]
    return ServingPlan(
        servings=servings, codes=codes, balance=balance(found, chance, joined, random), positions=found.lots,
        proof=proof, lots=asked.register, tasters=tuple(asked.tasters), service=asked.service,
        randomised=asked.order != BY_CLASS, brews=brews_of(None, []), warm_up="", plan_id="", before="",
        renewed=tuple(asked.tasters), verdicts=in_order(verdicts), drawn=drawn,
        method=words.METHOD.format(seed=asked.seed, orders=orders, level=percent(drawn.level)),
    )  # fmt: skip


def _beside(drawn: Drawn, served: np.ndarray, joined: Efficiency) -> tuple[float, float]:
    """Efficiency of lots dealt at random, and the most that can be had; NaN where that is not known."""
    asked = drawn.asked
    blocked = joined.efficiency < 1 - 1e-9 and len(asked.lots) > 1
    random = efficiency_by_chance(asked, served) if blocked else joined.efficiency
    if drawn.way != words.REPLICATES or asked.controls:
        return random, np.nan
    sheets = served.shape[1]
    replicates = asked.pots if asked.service == BENCH else round(float((served[: len(asked.lots)] > 0).sum(1).mean()))
    return random, resolvable_bound(len(asked.lots), sheets // replicates, replicates)


def _per_lot(servings: pd.DataFrame) -> int:
    """Tasters of a lot."""
    own = servings[servings["role"] == "lot"]
    return round(float(own.groupby("lot")["taster"].nunique().mean()))


def with_id(plan: ServingPlan, brew: Mapping[str, object] | pd.DataFrame | None, warm_up: str) -> ServingPlan:
    """The plan with its brews, and an id of all that is served."""
    brews = brews_of(brew, list(dict.fromkeys(plan.servings["session"])))
    plan_id = digest_of([plan.before, plan.servings.to_csv(), brews.to_csv(), warm_up])
    return labelled(replace(plan, brews=brews, warm_up=warm_up), plan_id)


def labelled(plan: ServingPlan, plan_id: str) -> ServingPlan:
    """The plan under its id."""
    return replace(
        plan, plan_id=plan_id, codes=plan.codes.assign(plan=plan_id),
        method=f"{words.OF_PLAN.format(plan=plan_id)} {plan.method}",
    )  # fmt: skip
