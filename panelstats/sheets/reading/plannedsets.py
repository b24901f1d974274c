"""Answers to planned sets: what was served, from the register `sets`, joined to what a taster wrote."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.scores.spelling import plain
from panelstats.sheets.room.readroom import is_register, read_room
from panelstats.sheets.room.room import REGISTERS

if TYPE_CHECKING:
    from collections.abc import Callable

    from panelstats.sheets.files.grid import Sheet

    Tell = Callable[[int, str, tuple[str, str]], None]  # row of the table, column, reason and action

_KEYS = ("plan", "taster", "trial")
_KEPT = ("session", "test", "kind", "order", "code")


def planned_sets(sheets: list[Sheet]) -> pd.DataFrame:
    """The register `sets` among some sheets; without a row where there is none."""
    found = [sheet for sheet in sheets if is_register(sheet, Path(sheet.file).stem) == "sets"]
    sets = read_room(None, found).get("sets")
    return pd.DataFrame(columns=list(REGISTERS["sets"])) if sets is None else sets


def with_sets(answers: pd.DataFrame, sets: pd.DataFrame, tell: Tell) -> pd.DataFrame:
    """Answers of a plan with session, test, kind, order and codes as served; all others stay as they are.

    Parameters
    ----------
    answers : DataFrame
        plan, session, test, kind, taster, trial, order, code, answer as tidy text.
    sets : DataFrame
        The register.
    tell : callable
        Told each row that no set explains: of another plan, of nobody in it, or with other codes than were served.
    """
    known = {_key(row): row for row in sets.to_dict("records")}
    plans = {key[0] for key in known}
    filled = {name: answers[name].to_numpy(object, copy=True) for name in _KEPT}
    for at, row in enumerate(answers.to_dict("records")):
        key = _key(row)
        if not key[0] or row["order"]:  # of no plan, or what was served stands beside the answer
            continue
        if key[0] not in plans:
            tell(at, "plan", ("an answer to another plan",
                              "add the sets of that plan to the register sets, or take the sheet out"))  # fmt: skip
        elif key not in known:
            tell(at, "trial", ("no such set in this plan", "write taster and trial as they were given"))
        elif row["code"] and row["code"].split() != str(known[key]["code"]).split():
            told = f"write {known[key]['code']}: these codes stood before {row['taster']} in trial {row['trial']}"
            tell(at, "code", ("these codes were not served in this set", told))
        else:
            for name in _KEPT:
                filled[name][at] = known[key][name]
    return answers.assign(**filled)


def _key(row: dict) -> tuple[str, ...]:
    return tuple(plain(row.get(name, "")) for name in _KEYS)
