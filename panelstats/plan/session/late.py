"""Pots of late lots put among those still to come: codes of their sheet, places drawn, nothing else moved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.plan.codes.draw import more_codes
from panelstats.plan.session.request import BENCH
from panelstats.words import count

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from panelstats.plan.session.request import Request

    Key = tuple[str, ...]  # of a row of pots its session, of a tray its session and taster

_PLACES, _CODES = 12, 13  # streams of draws


@dataclass(frozen=True)
class Among:
    """What late lots are put among.

    Attributes
    ----------
    asked : Request
    servings : DataFrame
    codes : DataFrame
        The register of the plan: codes that are taken.
    sessions : list of str
        Those that are not over.
    away : collection of str
        Tasters who are served no more.
    """

    asked: Request
    servings: pd.DataFrame
    codes: pd.DataFrame
    sessions: Collection[str]
    away: Collection[str]

    def sheets(self) -> dict[Key, pd.DataFrame]:
        """Every row of pots, or every tray."""
        keys = ["session"] if self.asked.service == BENCH else ["session", "taster"]
        return {tuple(map(str, key)): rows for key, rows in self.servings.groupby(keys, sort=False)}

    def sizes(self) -> dict[Key, int]:
        """Pots that a taster takes from each sheet that can take more."""
        there = ~self.servings["taster"].isin(self.away) & self.servings["session"].isin(self.sessions)
        out: dict[Key, int] = {}
        for (session, taster), rows in self.servings[there].groupby(["session", "taster"], sort=False):
            key = (str(session),) if self.asked.service == BENCH else (str(session), str(taster))
            out[key] = max(out.get(key, 0), len(rows))
        return out


def with_late(among: Among, lots: list[str]) -> tuple[pd.DataFrame, bool]:
    """Servings with the late lots, and whether the codes of their sheets are safe from slips.

    Raises
    ------
    DesignError
        The limit holds no more pots; it names the one that does.
    """
    asked, size = among.asked, among.sizes()
    late: dict[Key, list[str]] = {key: [] for key in size}
    for lot in lots:
        for key in _chosen(among, size):
            late[key].append(lot)
            size[key] += 1
    if not size:
        raise DesignError("nobody is left to taste late lots", where=f"late={lots}", do="plan another day")
    if max(size.values()) > asked.limit:
        raise DesignError(
            "the limit holds no more pots", where=f"limit={asked.limit}, {count(len(lots), 'late lot', 'late lots')}",
            do=f"raise the limit to {max(size.values())} pots, or plan the late lots as a session of their own",
        )  # fmt: skip
    frames, safe = [], True
    for key, rows in among.sheets().items():
        if not late.get(key):
            frames.append(rows)
            continue
        pots, sound = _coded(among, key, late[key])
        rng = asked.rng(_PLACES, *key, *late[key])
        frames.append(_on_tray(rows, pots, rng) if len(key) > 1 else _in_row(rows, pots, among.away, rng))
        safe &= sound
    return pd.concat(frames, ignore_index=True), safe


def _chosen(among: Among, size: Mapping[Key, int]) -> list[Key]:
    """The sheets that the pots of one lot go to: the shortest, as many as other lots have."""
    own = among.servings[among.servings["role"] == "lot"]
    pots, shortest = among.asked.pots, sorted(size, key=lambda key: size[key])
    if among.asked.service == BENCH:
        # Where a lot has one pot a row, each of its pots goes to another row.
        rows = own.drop_duplicates(["session", "code"]).groupby("lot")["session"].nunique().max()
        return [shortest[at % min(int(rows), len(shortest))] for at in range(pots)] if shortest else []
    looks = round(float(own.groupby("lot")["taster"].nunique().median()))
    trays: dict[str, Key] = {}
    for key in shortest:
        trays.setdefault(key[1], key)
    return [key for key in list(trays.values())[:looks] for _ in range(pots)]


def _coded(among: Among, key: Key, late: list[str]) -> tuple[pd.DataFrame, bool]:
    """Late pots of a sheet with their codes, and whether these are safe."""
    asked, taken = among.asked, among.codes[among.codes["session"] == key[0]]
    taken = taken if len(key) == 1 else taken[taken["taster"] == key[1]]
    mine = among.servings[among.servings["session"] == key[0]]
    mine = mine if len(key) == 1 else mine[mine["taster"] == key[1]]
    codes, safe = more_codes(
        {*taken["code"], *mine["code"]}, late, asked.rng(_CODES, *key, *late), had=asked.had, stop=asked.stop,
        zeros=asked.zeros,
    )  # fmt: skip
    pot = pd.Series(late).groupby(late).cumcount().to_numpy() + 1
    told = {"session": key[0], "code": codes, "lot": late, "pot": pot, "look": 1, "role": "lot", "tasted": False}
    return pd.DataFrame(told), safe


def _on_tray(rows: pd.DataFrame, pots: pd.DataFrame, rng: np.random.Generator) -> pd.DataFrame:
    """A tray with late pots anywhere among those still to come."""
    path, done = _path(rows)
    for code in pots["code"]:
        path.insert(int(rng.integers(done, len(path) + 1)), code)
    return _renewed(rows, path, pots, path)


def _in_row(rows: pd.DataFrame, pots: pd.DataFrame, away: Collection[str], rng: np.random.Generator) -> pd.DataFrame:
    """A row with late pots between two that nobody has tasted yet, or at its end; everybody meets them on the way."""
    row = rows.drop_duplicates("code").sort_values("place")["code"].tolist()
    tasters = {str(taster): own for taster, own in rows.groupby("taster", sort=False)}
    paths = {taster: _path(own) for taster, own in tasters.items() if taster not in away}
    touched = set(rows.loc[rows["tasted"], "code"])
    lot_of = dict(zip(pots["code"], pots["lot"], strict=True))
    for code, lot in lot_of.items():
        kept = touched | {other for other, name in lot_of.items() if name == lot}  # nor beside its own other pot
        gaps = [at for at in range(1, len(row)) if not {row[at - 1], row[at]} & kept]
        at = int(rng.choice(gaps)) if gaps else len(row)
        for path, done in paths.values():
            path.insert(max(done, _on_the_way(path, row[at - 1 : at + 1])), code)
        row.insert(at, code)
    whole = [_renewed(own, paths[taster][0], pots, row) if taster in paths else _placed(own, row)
             for taster, own in tasters.items()]  # fmt: skip
    return pd.concat(whole, ignore_index=True)


def _on_the_way(path: list[str], beside: list[str]) -> int:
    """Where a path goes from one pot to its neighbour in the row; its end where it does not."""
    at = [path.index(code) for code in beside if code in path]
    return max(at) if len(at) == 2 and abs(at[0] - at[1]) == 1 else len(path)


def _path(rows: pd.DataFrame) -> tuple[list[str], int]:
    """Codes in a taster's order, and how many of them are done with."""
    mine = rows.sort_values("position")
    done = np.flatnonzero(mine["tasted"])
    return mine["code"].tolist(), int(done[-1]) + 1 if len(done) else 0


def _renewed(rows: pd.DataFrame, path: list[str], pots: pd.DataFrame, row: list[str]) -> pd.DataFrame:
    """A taster's rows in the order of a path; a late pot belongs to the flight of the one before it."""
    new = pots.assign(taster=rows["taster"].iloc[0], flight=np.nan)
    whole = pd.concat([rows, new], ignore_index=True).set_index("code").loc[path].reset_index()
    whole["position"], whole["flight"] = np.arange(1, len(whole) + 1), whole["flight"].ffill().bfill().astype(np.int64)
    return _placed(whole, row)[list(rows.columns)]


def _placed(rows: pd.DataFrame, row: list[str]) -> pd.DataFrame:
    place = {code: at for at, code in enumerate(row, 1)}
    return rows.assign(place=rows["code"].map(place).astype(np.int64))
