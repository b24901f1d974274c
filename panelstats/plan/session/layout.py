"""Who gets which lots in which session: all of them where the limit allows, else blocks that stay connected."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil
from typing import TYPE_CHECKING

import numpy as np

from panelstats.errors import DesignError
from panelstats.plan.orders.incomplete import replicates_of, sheets_of
from panelstats.plan.session import words
from panelstats.plan.session.request import BY_CLASS, TRAY
from panelstats.words import count

if TYPE_CHECKING:
    from panelstats.plan.session.request import Request

DEAL = 1  # stream of the draws that deal lots to sheets


@dataclass(frozen=True, eq=False)
class Sheet:
    """Lots of one row of pots, or of one taster's trays in one session.

    Attributes
    ----------
    session : int
    taster : int
        Number of the taster; -1 for a row that all walk along.
    lots : ndarray of int
        Without controls and repeats.
    rounds : int
        How often each lot and control is served.
    """

    session: int
    taster: int
    lots: np.ndarray
    rounds: int


def laid_out(asked: Request) -> tuple[list[Sheet], str]:
    """Every sheet of the plan, taster by taster, and how lots were dealt to them.

    Raises
    ------
    DesignError
        The limit or the sessions cannot hold what was asked for; it names the smallest change that would do.
    """
    return _trays(asked) if asked.service == TRAY else _rows(asked)


def room_for(asked: Request, rounds: int) -> int:
    """Most lots of one sheet: what the limit leaves beside controls and repeats, in so many rounds."""
    if asked.order == BY_CLASS:
        lots = asked.limit
        while lots and row_length(asked, lots, rounds) > asked.limit:
            lots -= 1
        return lots
    return (asked.limit - asked.repeats) // rounds - len(asked.controls)


def row_length(asked: Request, lots: int, rounds: int) -> int:
    """Pots of a sheet of so many lots."""
    if asked.order == BY_CLASS:
        pots = lots * rounds + asked.repeats
        return pots + (ceil(pots / (asked.every - 1)) if asked.controls else 0)
    return (lots + len(asked.controls)) * rounds + asked.repeats


def _room(asked: Request, rounds: int, least: int = 1) -> int:
    """Room for lots; refused where a sheet holds too few."""
    room = room_for(asked, rounds)
    if room < least:
        need = row_length(asked, least, rounds)
        raise DesignError(
            "the limit leaves too little room for lots",
            where=f"limit={asked.limit}: {count(rounds, 'pot')} a lot, {count(len(asked.controls), 'control')}, "
            f"{count(asked.repeats, 'repeat')}",
            do=f"raise the limit to {need} pots, or ask for fewer controls, repeats or pots",
        )
    return room


def _rows(asked: Request) -> tuple[list[Sheet], str]:
    """Rows that all walk along: one session, or as many as the limit makes."""
    lots, pots = len(asked.lots), asked.pots
    if lots <= room_for(asked, pots) and (asked.sessions is None or len(asked.sessions) == 1):
        return [Sheet(0, -1, np.arange(lots), pots)], words.COMPLETE
    room = _room(asked, 1)
    blocks = max(ceil(lots / room), len(asked.sessions or []) // pots)
    if asked.sessions is not None and len(asked.sessions) < blocks * pots:
        raise _too_few(asked, blocks * pots, row_length(asked, ceil(lots * pots / len(asked.sessions)), 1))
    if pots == 1 and asked.order == BY_CLASS:
        return [Sheet(at, -1, part, 1) for at, part in enumerate(_by_class(asked, blocks))], words.SPLIT
    dealt = [block for each in replicates_of(lots, blocks, pots, asked.rng(DEAL)) for block in each]
    return [Sheet(at, -1, block, 1) for at, block in enumerate(dealt)], words.SPLIT if pots == 1 else words.REPLICATES


def _by_class(asked: Request, blocks: int) -> list[np.ndarray]:
    """Lots of a class in one session as far as they go."""
    return np.array_split(class_order(asked, np.arange(len(asked.lots))), blocks)


def class_order(asked: Request, lots: np.ndarray) -> np.ndarray:
    """Lots by class, within it by name."""
    of = asked.register.set_index("lot")["class"].to_dict()
    return np.array(sorted(lots, key=lambda lot: (str(of.get(asked.lots[lot], "")), lot)), np.int64)


def _trays(asked: Request) -> tuple[list[Sheet], str]:
    """Trays of each taster: every lot to all of them, or to as many as was asked for or the sessions hold."""
    lots, tasters = len(asked.lots), len(asked.tasters)
    room = _room(asked, asked.pots)
    sessions, looks = _numbers(asked, room)
    if looks == tasters:
        blocks = replicates_of(lots, min(sessions, lots), tasters, asked.rng(DEAL))
        way = words.COMPLETE if sessions == 1 else words.REPLICATES
    else:
        blocks, way = sheets_of(lots, tasters, sessions, looks, asked.rng(DEAL))
    return [Sheet(session, taster, block, asked.pots) for taster, own in enumerate(blocks)
            for session, block in enumerate(own) if len(block)], way  # fmt: skip


def _numbers(asked: Request, room: int) -> tuple[int, int]:
    """Sessions, and tasters who get each lot."""
    lots, tasters = len(asked.lots), len(asked.tasters)
    if asked.per_lot is not None and asked.per_lot > tasters:
        raise DesignError("more tasters for a lot than there are", where=f"tasters_per_lot={asked.per_lot}",
                          do=f"give {tasters} at most, or more pots for each")  # fmt: skip
    if asked.sessions is None:
        looks = asked.per_lot or tasters
        return ceil(ceil(lots * looks / tasters) / room), looks
    sessions = len(asked.sessions)
    looks = asked.per_lot or min(tasters, tasters * sessions * room // lots)
    if looks < 1 or ceil(ceil(lots * looks / tasters) / sessions) > room:
        each = ceil(ceil(lots * max(looks, 1) / tasters) / sessions)
        need = ceil(ceil(lots * max(looks, 1) / tasters) / room)
        raise _too_few(asked, need, row_length(asked, each, asked.pots))
    return sessions, looks


def _too_few(asked: Request, sessions: int, limit: int) -> DesignError:
    return DesignError(
        "the sessions do not hold all lots",
        where=f"sessions={len(asked.sessions or [])}, limit={asked.limit}",
        do=f"plan {count(sessions, 'session')}, or raise the limit to {limit} pots",
    )
