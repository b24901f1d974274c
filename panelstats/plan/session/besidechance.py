"""How a plan stands beside one drawn at random: what joins its lots, how even its orders are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.plan.orders.audit import Audit, audit
from panelstats.plan.orders.efficiency import Efficiency, efficiency_of, incidence_of
from panelstats.plan.session.layout import Sheet

if TYPE_CHECKING:
    from panelstats.plan.session.request import Request

_CHANCE = 6  # stream of the draws of a plan made at random, for comparison


def how_joined(asked: Request, sheets: list[Sheet]) -> Efficiency:
    """How well the plan tells its lots apart; refused where nothing joins some of them."""
    mine = np.arange(len(asked.names)) < len(asked.lots)
    incidence = _incidence(asked, sheets)
    unserved = np.flatnonzero(incidence.sum(axis=1) == 0)
    if len(unserved):
        raise DesignError("nobody who may taste it was dealt a lot", where=f"lot {asked.names[unserved[0]]!r}",
                          do="give the lots to more tasters (tasters_per_lot), or take another seed")  # fmt: skip
    found = efficiency_of(incidence, compared=mine)
    if found.parts > 1:
        raise DesignError(
            f"nothing joins the lots of different sheets: they fall into {found.parts} parts",
            where=f"limit={asked.limit}, {len(asked.lots)} lots, no controls",
            do="serve a control in every session (controls=[...]), better two, or plan more pots or tasters for lots",
        )
    return found


def efficiency_by_chance(asked: Request, sheets: list[Sheet]) -> float:
    """Efficiency of lots dealt at random to sheets of the same sizes, each lot as often."""
    rng, lots = asked.rng(_CHANCE), len(asked.lots)
    drawn = np.concatenate([rng.permutation(lots) for _ in range(-(-sum(len(s.lots) for s in sheets) // lots))])
    ends = np.cumsum([0, *(len(sheet.lots) for sheet in sheets)])
    dealt = [
        Sheet(sheet.session, sheet.taster, drawn[a:b], sheet.rounds)
        for sheet, a, b in zip(sheets, ends[:-1], ends[1:], strict=True)
    ]
    mine = np.arange(len(asked.names)) < lots
    return efficiency_of(_incidence(asked, dealt), compared=mine, worst=False).efficiency


def _incidence(asked: Request, sheets: list[Sheet]) -> np.ndarray:
    """How often each lot and control stands on each sheet."""
    controls = len(asked.lots) + np.arange(len(asked.controls))
    blocks = []
    for sheet in sheets:
        served = np.concatenate([sheet.lots, controls])
        barred = asked.barred(asked.tasters[sheet.taster]) if sheet.taster >= 0 else []
        blocks.append(np.tile(served[~np.isin(served, barred)], sheet.rounds))
    return incidence_of(blocks, len(asked.names))


def audits(asked: Request, servings: pd.DataFrame) -> tuple[Audit, Audit]:
    """The orders as served, and the same pots in orders drawn at random."""
    number = {name: at for at, name in enumerate(asked.names)}
    lot = servings["lot"].map(number).to_numpy(np.int64)
    group = servings.groupby(["taster", "session", "flight"] if asked.pots > 1 else ["taster", "session"], sort=False)
    orders = [lot[at] for at in group.indices.values()]
    rng = asked.rng(_CHANCE, 1)
    return audit(orders, asked.names), audit([rng.permutation(order) for order in orders], asked.names)


def balance(found: Audit, chance: Audit, joined: Efficiency, random: float) -> pd.DataFrame:
    """The figures of the plan beside those of one at random."""
    figures = {
        "position_gap": (found.position_gap, chance.position_gap),
        "neighbours_most": (found.neighbours_most, chance.neighbours_most),
        "neighbours_least": (found.neighbours_least, chance.neighbours_least),
        "beside_itself": (found.beside_itself, chance.beside_itself),
        "efficiency": (joined.efficiency, random),
    }
    return pd.DataFrame(
        [(name, float(a), float(b)) for name, (a, b) in figures.items()], columns=["figure", "plan", "random"]
    )
