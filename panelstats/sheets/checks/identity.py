"""Which lot and which descriptor a label names: the same word need not be the same thing."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOT, ROLE, SCORE, SESSION, STAGE
from panelstats.scores.spelling import plain
from panelstats.sheets.content.roles import FAULT, MONEY, STAGES, WORD, bare_name, stage_of
from panelstats.sheets.files.grid import Factor
from panelstats.sheets.marks.servings import distinct
from panelstats.sheets.room.registers import named_role

if TYPE_CHECKING:
    from collections.abc import Iterable

    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks
    from panelstats.sheets.room.room import Room


def lots_by_session(marks: Marks, room: Room, log: Log) -> tuple[Marks, dict[str, str]]:
    """A lot number met in two sessions is two lots, unless the register or its role says it is one.

    Returns
    -------
    marks, written : Marks, dict
        Final lots, and label -> lot as written.
    """
    lots, sessions = marks.keys[LOT], marks.keys[SESSION]
    if len(sessions.values) == 1:
        return marks, {lot: lot for lot in lots.met}
    first, back = distinct(marks.place(LOT, SESSION))
    pairs = pd.DataFrame({LOT: [lots.at(i) for i in first], SESSION: [sessions.at(i) for i in first]})
    told = (pairs[LOT] != "") & (pairs[SESSION] != "")
    often = told & pairs[LOT].where(told).duplicated(keep=False)
    one = one_lots(pairs.loc[often, LOT].unique(), room)
    split = often & ~pairs[LOT].isin(one)
    label = pairs[LOT].where(~split, pairs[LOT] + " (" + pairs[SESSION] + ")")
    if split.any():
        count = pairs.loc[split, LOT].nunique()
        why = "no register or role says they are one lot"
        log.notes.append((f"{count} lot numbers met in two or more sessions", "a lot of its own in each", why))
    new = Factor(back.astype(np.int32), list(label)).map(list(label))
    return marks.under({LOT: new}), dict(zip(label, pairs[LOT], strict=True))


def one_lots(lots: Iterable[str], room: Room) -> set[str]:
    """Lot numbers that name the same lot in every session: their name or the register says so."""
    known = room.listed.get(LOT, ())
    return {lot for lot in lots if named_role(lot) in ("control", "standard") or plain(lot) in known}


def roles_of_lots(written: dict[str, str], room: Room) -> dict[str, str]:
    """The role of each lot: as declared, else as its name tells."""
    register = room.get("lots")
    declared: dict[str, str] = {}
    if register is not None and ROLE in register:
        declared = dict(zip(register[LOT].map(plain), register[ROLE], strict=True))
    return {
        label: declared.get(plain(label)) or declared.get(plain(lot)) or named_role(lot)
        for label, lot in written.items()
    }


def governed(room: Room, labels: Factor) -> Room:
    """The room whose register `descriptors` speaks of descriptors as the sheets name them.

    A row without the stage ("body") governs the one descriptor met that is so named under a stage ("liquor body").
    """
    register = room.get("descriptors")
    if register is None:
        return room
    met: dict[str, list[str]] = {}
    for name in labels.met:
        met.setdefault(plain(bare_name(name)) if stage_of(name) else plain(name), []).append(name)
    new = [
        names[0] if len(names := met.get(plain(d), [])) == 1 and plain(names[0]) != plain(d) else d
        for d in register[DESCRIPTOR]
    ]
    return replace(room, registers={**room.registers, "descriptors": register.assign(**{DESCRIPTOR: new})})


def listed_by_stage(marks: Marks, room: Room) -> set[str]:
    """Descriptors that the register lists with their stage before them, as it does where two stages have the word."""
    names, stages, listed = marks.keys[DESCRIPTOR], marks.keys[STAGE], room.listed.get(DESCRIPTOR, ())
    pairs = ((str(names.at(i)), _stage(str(stages.at(i)))) for i in distinct(marks.place(DESCRIPTOR, STAGE))[0])
    return {name for name, stage in pairs if stage and plain(f"{stage} {name}") in listed}


def descriptors_by_stage(marks: Marks, room: Room) -> tuple[Marks, pd.DataFrame]:
    """A descriptor is known by stage and name: the same word under two stages is two descriptors.

    Returns
    -------
    marks, met : Marks, DataFrame
        Final descriptors, and descriptor, stage, kind, name of each, in order of meeting (or of the register).
    """
    names, stages = marks.keys[DESCRIPTOR], marks.keys[STAGE]
    first, back = distinct(marks.place(DESCRIPTOR, STAGE))
    register = room.get("descriptors")
    told = {} if register is None or STAGE not in register else _one_stage(register)
    met = pd.DataFrame({"name": [names.at(i) for i in first], "kind": [marks.role.at(i) for i in first]})
    met[STAGE] = [_stage(str(stages.at(i))) or told.get(plain(names.at(i)), "") for i in first]
    twice = met.drop_duplicates(["name", STAGE])["name"].value_counts()
    whole = met[STAGE] + " " + met["name"]
    plural = (met["name"].map(twice) > 1) | whole.map(plain).isin(room.listed.get(DESCRIPTOR, ()))
    met[DESCRIPTOR] = met["name"].where(~plural | (met[STAGE] == ""), whole)
    final = Factor(back.astype(np.int32), list(met[DESCRIPTOR])).map(list(met[DESCRIPTOR]))
    keys = {DESCRIPTOR: final, STAGE: Factor(back.astype(np.int32), list(met[STAGE]))}
    met = met.iloc[np.argsort(first, kind="stable")]
    met = met[(met["name"] != "") & met["kind"].isin([SCORE, FAULT, WORD, MONEY])].drop_duplicates(DESCRIPTOR)
    met["kind"] = met["kind"].replace(WORD, "words")
    if register is not None:
        order = {plain(d): i for i, d in reversed(list(enumerate(register[DESCRIPTOR])))}
        place = [order.get(plain(d), order.get(plain(n), len(order))) for d, n in met[[DESCRIPTOR, "name"]].to_numpy()]
        met = met.iloc[np.argsort(place, kind="stable")]
    return marks.under(keys), met.reset_index(drop=True)


def _stage(word: str) -> str:
    return STAGES.get(plain(word), word)


def _one_stage(register: pd.DataFrame) -> dict[str, str]:
    """Descriptors the register knows under one stage only."""
    pairs = register.assign(key=register[DESCRIPTOR].map(plain), told=register[STAGE].map(_stage))
    pairs = pairs.drop_duplicates(["key", "told"])
    alone = ~pairs["key"].duplicated(keep=False)
    return dict(zip(pairs.loc[alone, "key"], pairs.loc[alone, "told"], strict=True))


def labels_met(factor: Factor, usable: np.ndarray) -> list[str]:
    """Labels of usable marks, in the order in which the sheets name them."""
    if usable.all():
        return factor.met
    usably = {*factor.take(usable).met}
    return [label for label in factor.met if label in usably]
