"""How servings stand beside ones drawn at random: what joins their lots, how even their orders are."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.plan.orders.audit import Audit, audit
from panelstats.plan.orders.efficiency import Efficiency, efficiency_of
from panelstats.plan.session.request import TRAY

if TYPE_CHECKING:
    from panelstats.plan.session.request import Request

_CHANCE = 6  # stream of the draws of a plan made at random, for comparison


def incidence(asked: Request, servings: pd.DataFrame) -> np.ndarray:
    """How often each lot and control stands on each sheet, repeats apart: (names, sheets).

    A sheet is a taster's trays in a session, or a row of pots that all walk along, each pot counted once.
    """
    mine = servings[servings["role"] != "repeat"]
    tray = asked.service == TRAY
    mine = mine if tray else mine.drop_duplicates(["session", "code"])
    keys = ["session", "taster"] if tray else ["session"]
    block = mine.groupby(keys, sort=False).ngroup().to_numpy()
    counts = np.zeros((len(asked.names), int(block.max(initial=-1)) + 1), np.int64)
    np.add.at(counts, (_numbered(asked, mine), block), 1)
    return counts


def looked_at(asked: Request, servings: pd.DataFrame) -> Request:
    """The request by which lots are compared: pot by pot where all take the whole row, else cup by cup, as on trays.

    What somebody is never served is no gap: the pot is there for the others.
    """
    if asked.service == TRAY:
        return asked
    barred = sum(len(servings.loc[servings["lot"].isin(names), ["session", "code"]].drop_duplicates())
                 for names in asked.left_out.values())  # fmt: skip
    whole = len(servings[["session", "code"]].drop_duplicates()) * len(asked.tasters)
    return asked if len(servings) >= whole - barred else replace(asked, service=TRAY)


def how_joined(asked: Request, served: np.ndarray) -> Efficiency:
    """How well servings tell their lots apart; lots that nobody is served are left out."""
    mine = np.arange(len(asked.names)) < len(asked.lots)
    some = served.sum(axis=1) > 0
    return efficiency_of(served[some], compared=mine[some])


def refuse_apart(asked: Request, served: np.ndarray, found: Efficiency) -> None:
    """Refuse a plan that serves a lot to nobody, or in which nothing joins some of them."""
    unserved = np.flatnonzero(served.sum(axis=1) == 0)
    if len(unserved):
        raise DesignError("nobody who may taste it was dealt a lot", where=f"lot {asked.names[unserved[0]]!r}",
                          do="give the lots to more tasters (tasters_per_lot), or take another seed")  # fmt: skip
    if found.parts > 1:
        raise DesignError(
            f"nothing joins the lots of different sheets: they fall into {found.parts} parts",
            where=f"limit={asked.limit}, {len(asked.lots)} lots, no controls",
            do="serve a control in every session (controls=[...]), better two, or plan more pots or tasters for lots",
        )


def efficiency_by_chance(asked: Request, served: np.ndarray) -> float:
    """Efficiency of lots dealt at random to sheets of the same sizes, each lot as often."""
    rng, lots = asked.rng(_CHANCE), len(asked.lots)
    sheet, lot = np.nonzero(served[:lots].T)
    drawn = np.concatenate([rng.permutation(lots) for _ in range(-(-len(sheet) // lots))])[: len(sheet)]
    dealt = served.copy()
    dealt[:lots] = 0
    np.add.at(dealt, (drawn, sheet), served[lot, sheet])
    some = dealt.sum(axis=1) > 0
    mine = np.arange(len(asked.names)) < lots
    return efficiency_of(dealt[some], compared=mine[some], worst=False).efficiency


def audits(asked: Request, servings: pd.DataFrame) -> tuple[Audit, Audit]:
    """The orders as served, and the same pots in orders drawn at random."""
    lot = _numbered(asked, servings)
    group = servings.groupby(["taster", "session", "flight"] if asked.pots > 1 else ["taster", "session"], sort=False)
    place = servings["position"].to_numpy()
    orders = [lot[at[np.argsort(place[at], kind="stable")]] for at in group.indices.values()]
    rng = asked.rng(_CHANCE, 1)
    return audit(orders, asked.names), audit([rng.permutation(order) for order in orders], asked.names)


def _numbered(asked: Request, servings: pd.DataFrame) -> np.ndarray:
    number = {name: at for at, name in enumerate(asked.names)}
    return servings["lot"].map(number).to_numpy(np.int64)


def balance(found: Audit, chance: Audit, joined: Efficiency, random: float) -> pd.DataFrame:
    """The figures of the plan beside those of one at random."""
    figures = {
        "position_gap": (found.position_gap, chance.position_gap),
        "neighbours_most": (found.neighbours_most, chance.neighbours_most),
        "neighbours_least": (found.neighbours_least, chance.neighbours_least),
        "beside_itself": (found.beside_itself, chance.beside_itself),
        "efficiency": (joined.efficiency, random),
    }
    rows = [(name, float(a), float(b)) for name, (a, b) in figures.items()]
    return pd.DataFrame(rows, columns=["figure", "plan", "random"])
