"""Servings that two files or sheets score, each otherwise: which of the two holds is asked."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.marks.marks import Marks

_LATER = re.compile(r"corr|final|new|neu|rev|mend|fixed|v[2-9]|\(\d\)|2$", re.IGNORECASE)


def one_sheet_holds(marks: Marks, clash: np.ndarray, key: np.ndarray, log: Log) -> np.ndarray:
    """The clashes that are left once somebody said which of two sheets holds; those of the other become blanks.

    `key` tells the serving and descriptor of each mark.
    """
    left, at = clash.copy(), np.flatnonzero(clash)
    for places in ([t.sheet.file for t in log.tables], [t.sheet.label for t in log.tables]):
        names = sorted(set(places))
        unit = np.array([names.index(place) for place in places])[marks.table[at]]
        pairs = pd.DataFrame({"key": key[at], "unit": unit, "at": at})
        each = pairs.groupby("key", sort=False)["unit"]
        pairs = pairs.assign(low=each.transform("min"), high=each.transform("max"))
        if (each.size() == 2).all() and (pairs["low"] < pairs["high"]).all():
            for (low, high), rows in pairs.groupby(["low", "high"], sort=False):
                which = rows.assign(unit=np.array(names, object)[rows["unit"]])
                _asked(marks, (names[int(str(low))], names[int(str(high))]), which, left, log)
            break
    return left


def _asked(marks: Marks, names: tuple[str, ...], rows: pd.DataFrame, left: np.ndarray, log: Log) -> None:
    """Ask which of two sheets holds; marks that are answered or wait for it clash no longer."""
    marked = [name for name in names if _LATER.search(name.rsplit(".", 1)[0])]
    guess = marked[0] if len(marked) == 1 else names[-1]
    other = next(name for name in names if name != guess)
    answer = log.inquiry.ask(
        f"{names[0]} and {names[1]} score the same servings: which holds?",
        log.cell(marks, rows.loc[rows["unit"] == other, "at"].iloc[0]),
        seen=f"{len(rows) // 2} servings scored in both", guess=guess, allowed=names,
        reason=f"{len(rows) // 2} servings scored in {names[0]} and in {names[1]}",
    )  # fmt: skip
    left[rows["at"]] = False
    if not answer:
        log.bad[rows["at"]] = True
        return
    gone = rows.loc[rows["unit"] != answer, "at"].to_numpy()
    marks.blank(gone)
    dropped = next(name for name in names if name != answer)
    log.notes.append(
        (f"{len(gone)} scores of {dropped}", "left out", f"{answer} holds for these servings, as answered")
    )
