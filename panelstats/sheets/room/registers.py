"""The registers of a reading: what was declared, completed by what the sheets told and the data show."""

from __future__ import annotations

from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, ROLE, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.dates import session_order
from panelstats.scores.spelling import natural, plain
from panelstats.scores.usual import STEPS, Tally, classes, step_of, tolerance_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.room.room import Room

# A lot that is named for its part (common practice); the lots register overrides.
_NAMED_ROLES = {
    "control": "control", "hidden control": "control", "ctrl": "control", "ctl": "control",
    "standard": "standard", "std": "standard", "master": "standard", "sealed master": "standard",
}  # fmt: skip
DESCRIPTOR_COLUMNS = [DESCRIPTOR, STAGE, "kind", "low", "high", "step", "tolerance", "wanted", "weight", "tells"]
CLASSES = "classes of lots"  # what is noted where no register tells them
Notes = list[tuple[str, str, str]]
Groups = dict[tuple[str, str], np.ndarray]  # (descriptor, class) -> scores


def named_role(lot: str) -> str:
    """The role a lot's own name tells, "" where it tells none.

    Examples
    --------
    >>> named_role("Control"), named_role("417")
    ('control', '')
    """
    return _NAMED_ROLES.get(plain(lot), "")


def lots_of(labels: list[str], named: Mapping[str, str], room: Room, facts: pd.DataFrame) -> tuple[pd.DataFrame, Notes]:
    """The lots register: lot, class, role, then facts; lots of the room's register first, in its order.

    `labels` are the lots met, `named` tells how each is written on the sheets.
    """
    declared = room.get("lots")
    table = pd.DataFrame({LOT: labels})
    table = table.merge(facts, on=LOT, how="left") if len(facts) else table
    table["written"] = [named.get(lot, lot) for lot in labels]
    if declared is not None:
        table = _declared_first(table, declared)
    table = table.fillna("")
    notes: Notes = []
    role = table[ROLE] if ROLE in table else pd.Series("", index=table.index)
    guessed = table["written"].map(named_role)
    for lot in table.loc[(role == "") & (guessed != ""), LOT]:
        notes.append((f"role of lot {lot!r}", str(guessed[table[LOT] == lot].iloc[0]), "the lot is named so"))
    role = role.map(plain).where(role != "", guessed)
    group, why = classes(table.loc[:, table.columns != ROLE])
    if CLASS not in table or (table[CLASS] == "").all():
        notes.append((CLASSES, ", ".join(sorted(set(group) - {""})) or "one class", why))
    rest = table.drop(columns=[c for c in (LOT, CLASS, ROLE) if c in table])
    return pd.concat([table[[LOT]].assign(**{CLASS: group, ROLE: role}), rest], axis=1), notes


def _declared_first(table: pd.DataFrame, declared: pd.DataFrame) -> pd.DataFrame:
    """Join the room's register on the lot; what it says overrides what the sheets say."""
    key = table[LOT].map(plain)
    where = {plain(lot): i for i, lot in enumerate(declared[LOT])}
    written = table["written"].map(plain)
    at = [where.get(k, where.get(w, -1)) for k, w in zip(key, written, strict=True)]
    for column in declared.columns.drop(LOT):
        values = declared[column].tolist()
        said = pd.Series([values[i] if i >= 0 else "" for i in at], index=table.index)
        own = table[column].fillna("") if column in table else ""
        table[column] = said.where(said != "", own)
    order = sorted(range(len(table)), key=lambda i: (at[i] < 0, at[i]))
    return table.iloc[order].reset_index(drop=True)


def tasters_of(labels: list[str], room: Room) -> tuple[pd.DataFrame, Notes]:
    """The tasters register: taster, role (senior where not declared), joined, left."""
    table = pd.DataFrame({TASTER: labels})
    declared = room.get("tasters")
    where = {} if declared is None else {plain(t): i for i, t in enumerate(declared[TASTER])}
    for column in (ROLE, "joined", "left"):
        said = declared[column].tolist() if declared is not None and column in declared else [""] * len(where)
        table[column] = [said[where[plain(t)]] if plain(t) in where else "" for t in labels]
    undeclared = table[ROLE] == ""
    table[ROLE] = table[ROLE].where(~undeclared, "senior")
    notes = [("tasters", "all senior", "no register says otherwise")] if undeclared.all() and len(table) else []
    order = sorted(range(len(labels)), key=lambda i: (where.get(plain(labels[i]), len(where)), natural(labels[i])))
    return table.iloc[order].reset_index(drop=True), notes


def declared_roles(room: Room) -> set[str]:
    """Tasters, as `plain` text, whose role the register tells."""
    table = room.get("tasters")
    if table is None or ROLE not in table:
        return set()
    return set(table.loc[table[ROLE] != "", TASTER].map(plain))


def places_of(labels: Mapping[str, tuple[str, ...]], register: pd.DataFrame | None, key: str) -> dict[str, float]:
    """Where labels stand in a register, by any of the names each has; those it does not name are left out."""
    where: dict[str, float] = {}
    for row, name in enumerate(() if register is None else register[key]):
        where.setdefault(plain(name), float(row))
    rows = {label: [where[plain(name)] for name in names if plain(name) in where] for label, names in labels.items()}
    return {label: found[0] for label, found in rows.items() if found}


def sessions_of(labels: list[str], room: Room) -> pd.DataFrame:
    """The sessions register in order: by the room's dates, else by the dates in the labels, else natural order."""
    declared = room.get("sessions")
    if declared is None:
        return pd.DataFrame({SESSION: session_order(labels), "date": ""}).astype(str)
    one = declared.drop_duplicates(SESSION).set_index(SESSION)
    dates = {label: one["date"].get(label, "") for label in labels} if "date" in one else {}
    dated = bool(dates) and all(dates.values())
    order = sorted(labels, key=lambda s: natural(dates[s])) if dated else session_order(labels)
    table = one.reindex(order).drop(columns=["pots", STAGE], errors="ignore").reset_index()
    texts = [c for c in table if table[c].dtype == object or isinstance(table[c].dtype, pd.StringDtype)]
    return table.fillna(dict.fromkeys(texts, ""))


def descriptors_of(groups: Groups, kinds: pd.DataFrame, room: Room) -> tuple[pd.DataFrame, Notes]:
    """The descriptors register: what was declared, with step and tolerance filled in, and why the tolerance is so."""
    declared = _general(room.get("descriptors"))
    table = kinds[[DESCRIPTOR, STAGE, "kind"]].copy()
    met = [*zip(kinds[DESCRIPTOR], kinds["name"], kinds[STAGE], strict=True)]
    for column in ("low", "high", "step", "tolerance", "weight"):
        table[column] = [float(_said(declared, each, column, np.nan)) for each in met]
    for column in ("wanted", "tells"):
        table[column] = [str(_said(declared, each, column, "")) for each in met]
    notes: Notes = []
    rows = table.to_dict("records")
    for row, name in zip(rows, kinds["name"], strict=True):
        if np.isnan([row["low"], row["high"]]).all():
            row["low"], row["high"] = room.limits.get(plain(name), (np.nan, np.nan))
        if row["kind"] != SCORE:
            continue
        mine = [scores for (descriptor, _), scores in groups.items() if descriptor == row[DESCRIPTOR]]
        scores = Tally.of(np.concatenate([np.zeros(0), *mine]))
        if not len(scores):  # all of it was set aside
            notes.append((f"marks of {row[DESCRIPTOR]}", "no score is left", "all its cells were set aside"))
            continue
        if np.isnan(row["step"]):
            row["step"] = step_of(scores.scores)
            notes.append((f"step of {row[DESCRIPTOR]}", *_step_told(row["step"])))
        if np.isnan(row["tolerance"]):
            row["tolerance"], row["why"] = tolerance_of(scores, row["step"], row["low"], row["high"])
            notes.append((f"tolerance of {row[DESCRIPTOR]}", f"{row['tolerance']:.3g}", row["why"]))
    return pd.DataFrame(rows, columns=[*DESCRIPTOR_COLUMNS, "why"]), notes


def _step_told(step: float) -> tuple[str, str]:
    if np.isnan(step):
        return "none", f"no usual step, {STEPS[-1]:g} the smallest, divides all scores"
    return f"{step:g}", "the largest usual step that divides all scores"


def scores_by(frame: pd.DataFrame, lots: pd.DataFrame) -> Groups:
    """The scores of each descriptor and class."""
    known = dict(zip(lots[LOT].tolist(), lots[CLASS].tolist(), strict=True))
    lot_class = [known[lot] for lot in frame[LOT].cat.categories.tolist()]
    names = list(frame[DESCRIPTOR].cat.categories)
    codes, labels = pd.factorize(np.array(lot_class, object))
    few = len(names) * len(labels) < np.iinfo(np.int16).max  # short integers are sorted ten times faster
    key = frame[DESCRIPTOR].cat.codes.to_numpy().astype(np.int16 if few else np.int64) * max(len(labels), 1)
    key = key + codes[frame[LOT].cat.codes.to_numpy()].astype(key.dtype)
    order = np.argsort(key, kind="stable")
    ends = np.searchsorted(key[order], np.arange(len(names) * len(labels) + 1))
    score = frame[SCORE].to_numpy()[order]
    return {(n, c): score[ends[i] : ends[i + 1]] for i, (n, c) in enumerate(product(names, labels))}


def _general(register: pd.DataFrame | None) -> dict[tuple[str, str], dict]:
    """Rows of the register that speak of all classes, by descriptor and stage."""
    if register is None:
        return {}
    rows = register[register[CLASS] == ""] if CLASS in register else register
    return {(plain(r[DESCRIPTOR]), plain(r.get(STAGE, ""))): r for r in rows.to_dict("records")}


def _said(declared: dict, what: tuple[str, str, str], column: str, nothing: Any) -> Any:
    """What the register says of a descriptor: label, name without its stage, and stage; else `nothing`."""
    label, name, stage = what
    for key in ((plain(name), plain(stage)), (plain(label), plain(stage)), (plain(name), ""), (plain(label), "")):
        if key in declared:
            value = declared[key].get(column, nothing)
            return nothing if value == "" else value
    return nothing


def scales_of(groups: Groups, descriptors: pd.DataFrame, lots: pd.DataFrame, room: Room) -> pd.DataFrame:
    """Scale, tolerance and wish by descriptor and class: the register's row for the class, else the general one."""
    register = room.get("descriptors")
    own = {}
    if register is not None and CLASS in register:
        own = {(plain(r[DESCRIPTOR]), r[CLASS]): r for r in register.to_dict("records") if r[CLASS]}
    declared = _declared_tolerances(register)
    rows, classes = [], list(dict.fromkeys(lots[CLASS]))
    for row in descriptors[descriptors["kind"] == SCORE].to_dict("records"):
        for lot_class in classes:
            said = {k: v for k, v in own.get((plain(row[DESCRIPTOR]), lot_class), {}).items() if v == v and v != ""}  # noqa: PLR0124
            merged = {**row, **said}
            if "tolerance" in said or plain(row[DESCRIPTOR]) in declared:
                size, why = merged["tolerance"], "the register descriptors says so"
            elif len(classes) == 1 and not said:
                size, why = row["tolerance"], row["why"]
            else:
                scores = groups.get((row[DESCRIPTOR], lot_class), np.zeros(0))
                size, why = tolerance_of(scores, merged["step"], merged["low"], merged["high"])
            rows.append(
                (row[DESCRIPTOR], lot_class, merged["low"], merged["high"], merged["step"], size, merged["wanted"], why)
            )
    return pd.DataFrame(rows, columns=[DESCRIPTOR, CLASS, "low", "high", "step", "tolerance", "wanted", "why"])


def _declared_tolerances(register: pd.DataFrame | None) -> set[str]:
    """Descriptors to which the register gives a tolerance."""
    if register is None or "tolerance" not in register:
        return set()
    return set(register.loc[register["tolerance"].notna(), DESCRIPTOR].map(plain))
