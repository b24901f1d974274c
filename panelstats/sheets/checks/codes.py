"""Blind codes -> lots and pots: an exact join on the codes register, or codes that name the lots themselves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import LOOK, LOT, POT, SESSION, TASTER
from panelstats.sheets.content.roles import CODE, PLAN
from panelstats.sheets.files.grid import Factor
from panelstats.sheets.marks.marks import stack
from panelstats.sheets.marks.servings import distinct

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks
    from panelstats.sheets.room.room import Room


_NAMED = 3  # tasters that are named whose code it is


def decode(marks: Marks, room: Room, log: Log) -> Marks:
    """Give every mark the lot, pot and look its code stands for; unknown codes and other lots beside them are told."""
    labels = marks.keys[CODE]
    register = room.get("codes")
    if not labels.met and register is not None and _are_codes(marks.keys[LOT], register):
        log.notes.append(("what heads the lots", "codes", "the register codes lists them"))
        marks = marks.under({CODE: marks.keys[LOT], LOT: Factor.constant("", len(marks))})
        return _joined(marks, register, log)
    if not labels.met:
        return marks
    if register is None:
        return _codes_as_lots(marks, log)
    return _joined(marks, register, log)


def _are_codes(lots: Factor, register: pd.DataFrame) -> bool:
    """Whether what stands under the lots are codes: the register lists half of them or more as such, none as a lot."""
    met = {*lots.met}
    return bool(met) and 2 * len(met & {*register[CODE]}) >= len(met) and not met & {*register[LOT]}


def _codes_as_lots(marks: Marks, log: Log) -> Marks:
    """Without a register: where no lot is written, the code is the lot."""
    lots, codes = marks.keys[LOT], marks.keys[CODE]
    if lots.met:
        return marks
    log.notes.append(("lots", "the codes", "no register tells which lot a code stands for"))
    return marks.under({LOT: codes, CODE: Factor.constant("", len(marks))})


def _joined(marks: Marks, register: pd.DataFrame, log: Log) -> Marks:
    _tell_other_plans(marks, register, log)
    listed = register.to_dict("records")
    told = [k for k in (PLAN, SESSION, TASTER) if any(r.get(k, "") for r in listed)]
    tables = _by_plan(listed)
    eaten = {plan: _without_zeros(table) for plan, table in tables.items()}
    first, back = distinct(marks.place(CODE, *told))
    rows = []
    for i in first:
        code, session, taster, plan = (str(marks.keys[k].at(i)) for k in (CODE, SESSION, TASTER, PLAN))
        plan = plan if plan in tables else ""
        rows.append(_row(tables[plan], eaten[plan], (session, taster, code), log))
    unknown = np.array([r is None for r in rows], bool)[back]
    _tell_unknown(marks, unknown & ~marks.named(CODE, "") & ~log.bad, register, log)
    return _with_lots(marks, [r or {} for r in rows], back, log)


def _by_plan(listed: list[dict]) -> dict[str, dict[tuple[str, str, str], dict]]:
    """The register's rows by session, taster and code, under each plan's id; under "" those no two plans differ in."""
    tables: dict[str, dict[tuple[str, str, str], dict]] = {"": {}}
    twice = set()
    for row in listed:
        key, plan = (row.get(SESSION, ""), row.get(TASTER, ""), row[CODE]), row.get(PLAN, "")
        before = tables[""].get(key, row)
        if any(before.get(name, "") != row.get(name, "") for name in (LOT, POT, LOOK)) and before.get(PLAN, "") != plan:
            twice.add(key)
        tables[""][key] = row
        if plan:
            tables.setdefault(plan, {})[key] = row
    for key in twice:
        del tables[""][key]
    return tables


def _tell_other_plans(marks: Marks, register: pd.DataFrame, log: Log) -> None:
    """Rows of a plan whose codes the register does not have: its numbers would stand for other lots."""
    plans = marks.keys[PLAN]
    if PLAN not in register or not plans.met:
        return
    known = {*register[PLAN], ""}
    strange = plans.mask(lambda plan: plan not in known)
    told = ("a sheet of another plan", "add the codes of that plan to the register codes, or take the sheet out")
    log.rows(marks, strange, PLAN, told)


def _row(table: dict, eaten: dict, key: tuple[str, str, str], log: Log) -> dict | None:
    """The register's row for a code: of the taster and session, else of the session, else of all."""
    session, taster, code = key
    for s, t in ((session, taster), (session, ""), ("", taster), ("", "")):
        if (s, t, code) in table:
            return table[s, t, code]
        whole = eaten.get((s, t, code))
        if whole is not None:
            log.notes.append((f"code {code}", whole, "its leading zero was lost; the register has it"))
            return table[s, t, whole]
    return None


def _without_zeros(table: dict) -> dict[tuple[str, str, str], str]:
    """Codes as they look once a spreadsheet ate their leading zeros, where that names one code only."""
    found: dict[tuple[str, str, str], str | None] = {}
    for s, t, code in table:
        short = code.lstrip("0")
        if code.isdigit() and short != code and short:
            found[s, t, short] = None if (s, t, short) in found else code
    return {k: v for k, v in found.items() if v is not None and k not in table}


def _tell_unknown(marks: Marks, mask: np.ndarray, register: pd.DataFrame, log: Log) -> None:
    known = sorted(set(register[CODE]))
    owners = register.groupby(CODE)[TASTER].unique().to_dict() if TASTER in register else {}
    codes = marks.keys[CODE]
    for i in np.unique(codes.codes[mask]):
        code = codes.values[i]
        near = [k for k in known if _one_slip(code, k)][:5]
        hint = f"; one slip away: {', '.join(near)}" if near else ""
        told = ("a code the register codes does not list", f"correct it, or add it to the register codes{hint}")
        others = sorted(str(who) for who in owners.get(code, ()) if who)
        if others:
            told = (f"a code of the sheet of {', '.join(others[:_NAMED])}", f"write the code of the bowl in hand{hint}")
        log.rows(marks, mask & (codes.codes == i), CODE, told)


def _one_slip(a: str, b: str) -> bool:
    """Whether one wrong digit or one swap of two digits turns one code into the other."""
    if len(a) != len(b):
        return False
    differ = [i for i in range(len(a)) if a[i] != b[i]]
    return len(differ) == 1 or (len(differ) == 2 and a[differ[0]] == b[differ[1]] and a[differ[1]] == b[differ[0]])


def _with_lots(marks: Marks, rows: list[dict], back: np.ndarray, log: Log) -> Marks:
    """Fill lot, pot and look from the register; a lot written on the sheet must agree."""
    keys = dict(marks.keys)
    written = keys[LOT]
    for role in (LOT, POT, LOOK, TASTER):
        told = Factor(back.astype(np.int32), [_text(r.get(role, "")) for r in rows])
        if told.met:
            keys[role] = _prefer(told, keys[role]) if role != TASTER else _prefer(keys[role], told)
    both = stack([keys[LOT], written]).codes
    contradicts = (both[: len(marks)] != both[len(marks) :]) & ~marks.named(LOT, "")
    told_lot = ("the lot written is not the lot of its code", "correct the lot, the code, or the register codes")
    log.rows(marks, contradicts, LOT, told_lot)
    return marks.under(keys)


def _text(value: object) -> str:
    if isinstance(value, float):
        return "" if np.isnan(value) else str(int(value))
    return str(value)


def _prefer(first: Factor, second: Factor) -> Factor:
    """The first where it says anything, else the second."""
    values = [*first.values, *second.values]
    empty = first.mask(lambda label: label == "")
    return Factor(np.where(empty, second.codes + len(first.values), first.codes).astype(np.int32), values).map(values)
