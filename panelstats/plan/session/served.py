"""Orders on every sheet, hidden repeats in them, codes over them: the servings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.plan.codes.draw import drawn_codes
from panelstats.plan.orders.audit import Positions
from panelstats.plan.orders.seats import seated
from panelstats.plan.orders.squares import dealt_rows, starting_places
from panelstats.plan.session.apart import beside_controls, parted
from panelstats.plan.session.layout import class_order
from panelstats.plan.session.request import BY_CLASS, TRAY

if TYPE_CHECKING:
    from panelstats.plan.session.layout import Sheet
    from panelstats.plan.session.request import Request

ORDER, CODES, REPEATS, WALK, SEAT, APART = 2, 3, 4, 5, 7, 10  # streams of draws
REDRAWN = 50  # rows drawn again at most to keep controls from the places they had the session before


@dataclass(frozen=True, eq=False)
class Row:
    """Pots of a sheet in their order: what each holds, in which round, and whether it is a hidden repeat."""

    sheet: Sheet
    item: np.ndarray
    round: np.ndarray
    repeat: np.ndarray


def rows_of(asked: Request, sheets: list[Sheet]) -> list[Row]:
    """The pots of every sheet in order."""
    if asked.service == TRAY:
        orders = _whole_orders(asked, sheets) if _complete(asked, sheets) else _block_orders(asked, sheets)
    elif asked.order == BY_CLASS:
        return [_class_row(asked, sheet) for sheet in sheets]
    else:
        orders = _row_orders(asked, sheets)
    ring = asked.service != TRAY
    rows = [_with_repeats(asked, sheet, rounds, ring=ring) for sheet, rounds in zip(sheets, orders, strict=True)]
    return [_parted(asked, row) for row in rows] if ring and asked.strong else rows


def _parted(asked: Request, row: Row) -> Row:
    """A row whose strong lots stand apart from its controls, as far as that goes."""
    which = np.array(asked.numbers(asked.strong)), len(asked.lots) + np.arange(len(asked.controls))
    order = parted(row.item, row.round, *which, asked.rng(APART, row.sheet.session))
    return Row(row.sheet, row.item[order], row.round, row.repeat[order])


def strong_beside(asked: Request, rows: list[Row]) -> int:
    """Pots of strong lots that stand beside a control all the same."""
    which = np.array(asked.numbers(asked.strong)), len(asked.lots) + np.arange(len(asked.controls))
    return sum(beside_controls(row.item, row.round, *which) for row in rows)


def _complete(asked: Request, sheets: list[Sheet]) -> bool:
    return len(sheets) == len(asked.tasters) and all(len(sheet.lots) == len(asked.lots) for sheet in sheets)


def _items(asked: Request, sheet: Sheet, round_: int) -> np.ndarray:
    """Lots, controls, and in the last round places for repeats: numbers past those of all names."""
    names = len(asked.names)
    last = round_ == sheet.rounds - 1
    slots = names + np.arange(asked.repeats if last else 0)
    return np.concatenate([sheet.lots, np.arange(len(asked.lots), names), slots])


def _whole_orders(asked: Request, sheets: list[Sheet]) -> list[list[np.ndarray]]:
    """A new square for each round, its rows to tasters by what each of them draws."""
    rounds = []
    for round_ in range(asked.pots):
        items = _items(asked, sheets[0], round_)
        seats = _seats(asked, len(items), 0, round_)
        rounds.append(items[dealt_rows(len(items), seats, asked.rng(ORDER, 0, round_))])
    return [[each[at] for each in rounds] for at in range(len(sheets))]


def _seats(asked: Request, seats: int, *stream: int) -> list[int]:
    """A seat for every taster, drawn from the taster's own source."""
    own = [asked.rng(SEAT, *stream, taster) for taster in asked.tasters]
    first = len(own) - asked.joined
    return seated(own[:first], own[first:], seats)


def _block_orders(asked: Request, sheets: list[Sheet]) -> list[list[np.ndarray]]:
    """Each lot where it stood least often before, sheet after sheet."""
    longest = max(len(sheet.lots) for sheet in sheets) + len(asked.controls) + asked.repeats
    positions = Positions(len(asked.names) + asked.repeats, longest)

    def order(sheet: Sheet, round_: int) -> np.ndarray:
        rng = asked.rng(ORDER, sheet.session, asked.tasters[sheet.taster], round_)
        return positions.order(_items(asked, sheet, round_), rng)

    return [[order(sheet, round_) for round_ in range(sheet.rounds)] for sheet in sheets]


def _row_orders(asked: Request, sheets: list[Sheet]) -> list[list[np.ndarray]]:
    """A new random row for each round; no control in the place it had the session before."""
    orders, before = [], np.zeros(0, np.int64)
    for sheet in sheets:
        rng = asked.rng(ORDER, sheet.session)
        drawn = [rng.permutation(_items(asked, sheet, round_)) for round_ in range(sheet.rounds)]
        for _ in range(REDRAWN):
            if not _again_in_place(drawn[0], before, asked):
                break
            drawn[0] = rng.permutation(drawn[0])
        orders.append(drawn)
        before = drawn[0]
    return orders


def _again_in_place(row: np.ndarray, before: np.ndarray, asked: Request) -> bool:
    shared = min(len(row), len(before))
    is_control = (row >= len(asked.lots)) & (row < len(asked.names))
    return bool((is_control[:shared] & (row[:shared] == before[:shared])).any())


def _with_repeats(asked: Request, sheet: Sheet, rounds: list[np.ndarray], *, ring: bool) -> Row:
    """The rounds behind one another, places for repeats filled with lots that stand far away."""
    item, round_ = np.concatenate(rounds), np.repeat(np.arange(len(rounds)), [len(each) for each in rounds])
    slot = item >= len(asked.names)
    who = "all" if sheet.taster < 0 else asked.tasters[sheet.taster]
    return Row(sheet, _filled(item, slot, len(asked.lots), asked.rng(REPEATS, sheet.session, who), ring), round_, slot)


def _filled(item: np.ndarray, slot: np.ndarray, lots: int, rng: np.random.Generator, ring: bool) -> np.ndarray:
    """A lot for every slot: a third of the row away from its other pots where that can be, else as far as it goes."""
    item = item.copy()
    used: set[int] = set()
    for at in np.flatnonzero(slot):
        mine = np.flatnonzero((item < lots) & ~slot)
        mine = mine[[int(lot) not in used for lot in item[mine]]] if len(used) < len(set(item[mine].tolist())) else mine
        away = np.abs(mine - at)
        away = np.minimum(away, len(item) - away) if ring else away
        names, back = np.unique(item[mine], return_inverse=True)
        nearest = np.full(len(names), len(item))
        np.minimum.at(nearest, back, away)
        far = names[nearest >= max(2, len(item) // 3)]
        item[at] = rng.choice(far) if len(far) else names[np.argmax(nearest)]
        used.add(int(item[at]))
    return item


def _class_row(asked: Request, sheet: Sheet) -> Row:
    """Lots in class order, repeats far from their first pots, a control first and at every so many places."""
    rng = asked.rng(REPEATS, sheet.session, "all")
    item = np.tile(class_order(asked, sheet.lots), sheet.rounds)
    slots = np.sort(rng.choice(len(item) + asked.repeats, asked.repeats, replace=False))
    whole = np.full(len(item) + asked.repeats, len(asked.names), np.int64)
    slot = np.isin(np.arange(len(whole)), slots)
    whole[~slot] = item
    whole = _filled(whole, slot, len(asked.lots), rng, False)
    if asked.controls:
        at = np.arange(0, len(whole), asked.every - 1)
        controls = len(asked.lots) + np.arange(len(at)) % len(asked.controls)
        whole, slot = np.insert(whole, at, controls), np.insert(slot, at, False)
    return Row(sheet, whole, np.zeros(len(whole), np.int64), slot)


def walks(asked: Request, row: Row) -> list[np.ndarray]:
    """Places of a row in the order each taster takes them, round after round.

    Every taster sets out somewhere else, every other one the other way; in class order all begin with the standard.
    """
    if asked.order == BY_CLASS:
        return [np.arange(len(row.item))] * len(asked.tasters)
    out: list[list[np.ndarray]] = [[] for _ in asked.tasters]
    for round_ in range(row.sheet.rounds):
        places = np.flatnonzero(row.round == round_)
        start = starting_places(len(places))
        turn = int(asked.rng(WALK, row.sheet.session, round_).integers(len(places)))
        # As many seats as the next power of two: half of them at most stay empty, and all lie evenly along the row.
        first = len(asked.tasters) - asked.joined
        seats = _seats(asked, min(1 << (first - 1).bit_length(), len(start)), row.sheet.session)
        for seat, path in zip(seats, out, strict=True):
            # Two go from one place, one each way: together they meet every lot at the same mean position.
            begin = int(start[seat // 2 % len(start)]) + turn - seat % 2
            step = 1 if seat % 2 == 0 else -1
            path.append(places[(begin + step * np.arange(len(places))) % len(places)])
    return [np.concatenate(path) for path in out]


def servings_of(asked: Request, rows: list[Row]) -> tuple[pd.DataFrame, pd.DataFrame, bool]:
    """Every serving with its code, the register of codes, and whether all codes are safe from slips."""
    names = np.array(asked.names, dtype=object)
    told: dict[str, set[tuple[str, str]]] = {}
    frames, registers, safe = [], [], True
    for each in rows:
        row = _allowed(asked, each)
        who = asked.tasters[row.sheet.taster] if row.sheet.taster >= 0 else ""
        mine = told.setdefault(who, set(asked.had))
        lots = names[row.item].tolist()
        rng = asked.rng(CODES, row.sheet.session, who)
        codes, sound = drawn_codes(lots, rng, had=mine, stop=asked.stop, zeros=asked.zeros)
        mine |= set(zip(lots, codes, strict=True))
        safe &= sound
        pots = _frame(asked, row, lots, codes)
        registers.append(pots.assign(taster=who))
        paths = [np.arange(len(lots))] if who else walks(asked, row)
        for taster, path in zip([who] if who else asked.tasters, paths, strict=True):
            path = path[~np.isin(row.item[path], asked.barred(taster))]  # noqa: PLW2901 - what the taster may take
            numbers = {"position": np.arange(1, len(path) + 1), "flight": _flights(asked, row, path)}
            frames.append(pots.iloc[path].assign(taster=taster, **numbers))
    columns = ["session", "taster", "flight", "position", "place", "code", "lot", "pot", "look", "role"]
    servings = pd.concat(frames, ignore_index=True)[columns].assign(tasted=False)
    register = pd.concat(registers, ignore_index=True)[["code", "session", "lot", "pot", "look", "taster"]]
    return servings, register, safe


def _allowed(asked: Request, row: Row) -> Row:
    """A tray without what its taster is never served; a row that all share stays whole."""
    if row.sheet.taster < 0:
        return row
    keep = ~np.isin(row.item, asked.barred(asked.tasters[row.sheet.taster]))
    return Row(row.sheet, row.item[keep], row.round[keep], row.repeat[keep])


def _frame(asked: Request, row: Row, lots: list[str], codes: list[str]) -> pd.DataFrame:
    role = np.where(row.repeat, "repeat", np.where(row.item >= len(asked.lots), "control", "lot"))
    pot = pd.Series(lots).groupby(lots).cumcount().to_numpy() + 1
    return pd.DataFrame({
        "session": asked.session(row.sheet.session), "place": np.arange(1, len(lots) + 1), "code": codes, "lot": lots,
        "pot": pot, "look": 1, "role": role,
    })  # fmt: skip


def _flights(asked: Request, row: Row, path: np.ndarray) -> np.ndarray:
    """Number of the flight: a round is one or several, none longer than was asked for."""
    flight = np.zeros(len(path), np.int64)
    for round_ in range(row.sheet.rounds):
        within = row.round[path] == round_
        flight[within] = flight.max(initial=0) + 1 + np.arange(within.sum()) // asked.flight
    return flight
