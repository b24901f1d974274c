"""Registers of several parts put together: what they say of one thing must agree."""

from __future__ import annotations

from typing import NoReturn

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.scores.columns import POTS, SESSION, STAGE


def agreed(one: pd.DataFrame, other: pd.DataFrame, key: str, beside: frozenset[str]) -> pd.DataFrame:
    """Two registers as one: what only one says holds, what both say must be the same.

    Parameters
    ----------
    one, other : DataFrame
        A row a label.
    key : str
        Column of labels.
    beside : frozenset of str
        Columns of which the first that is written holds.
    """
    mine, theirs = one[key].astype(str).to_numpy(), other[key].astype(str).to_numpy()
    twice = np.isin(theirs, mine)
    table = pd.concat([one, other[~twice]], ignore_index=True)
    if not twice.any():
        return table
    at = pd.Index(mine).get_indexer(pd.Index(theirs[twice]))
    for column in other.columns.drop(key):
        new = other[column].to_numpy(object)[twice]
        told = np.array([_is_told(value) for value in new])
        if not told.any():
            continue
        old = table[column].to_numpy(object)[at]
        silent = np.array([not _is_told(value) for value in old])
        wrong = np.array([a != b for a, b in zip(old, new, strict=True)]) & told & ~silent
        if wrong.any() and column not in beside:
            row = int(wrong.argmax())
            _refuse(f"{column} of {key} {theirs[twice][row]!r}", old[row], new[row])
        if (told & silent).any():
            values = table[column].to_numpy(object, copy=True)
            values[at[told & silent]] = new[told & silent]
            table[column] = pd.Series(values, index=table.index).infer_objects()
    return table


def _is_told(value: object) -> bool:
    return not (value is None or value != value or value == "")  # noqa: PLR0124 - NaN says nothing


def _refuse(what: str, one: object, other: object) -> NoReturn:
    raise DesignError(
        "registers contradict each other", where=f"{what}: {_shown(one)} and {_shown(other)}",
        do="correct one of the registers, or read all sessions with one",
    )  # fmt: skip


def _shown(value: object) -> str:
    return f"{value:g}" if isinstance(value, float | np.floating) else repr(value)


def agreed_pots(one: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """What a brew is, by session and stage: the cells of one session must mean one thing by it."""
    both = one.merge(other, on=[SESSION, STAGE], suffixes=("", "_other"))
    wrong = both[both[POTS] != both[f"{POTS}_other"]]
    if len(wrong):
        row = wrong.iloc[0]
        stage = f", {row[STAGE]}" if row[STAGE] else ""
        _refuse(f"pots of session {row[SESSION]!r}{stage}", row[POTS], row[f"{POTS}_other"])
    table = pd.concat([one, other], ignore_index=True)
    if "declared" in table:  # of two that agree, the register's word stands
        table = table.sort_values("declared", key=lambda said: ~said.astype(bool), kind="stable")
    return table.drop_duplicates([SESSION, STAGE]).sort_index().reset_index(drop=True)
