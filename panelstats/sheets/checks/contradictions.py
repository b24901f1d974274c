"""Sheets that say two things of one lot: what makes it the lot it is stops the run, the rest is told."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.scores.cells import CLASS, LOT, SESSION
from panelstats.scores.spelling import plain
from panelstats.sheets.marks.facts import OF_THE_ROW
from panelstats.words import count

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.room.room import Room

# What one lot has one of within a session. Money, weights and remarks may differ from row to row: each taster's own.
_ONE_OF = (CLASS, "kind", "grade", "elevation", "garden", "make", "made", "tea")
_EACH = 6  # lots up to which each is told; of more only the first, with their number (ours)


def check_facts(said: pd.DataFrame, written: Mapping[str, str], room: Room, log: Log) -> None:
    """Problems where a session says two things of one lot; a note where sheets differ in anything else.

    What the register of lots says of a lot, as labelled or as `written` on the sheets, is obeyed.
    """
    register = room.get("lots")
    listed = room.listed.get(LOT, ())
    for fact, rows in said.groupby("fact", sort=False):
        if register is not None and fact in register:
            known = rows[LOT].map(lambda lot: plain(lot) in listed or plain(written.get(lot, lot)) in listed)
            rows = rows[~known.astype(bool)]  # noqa: PLW2901 - the rows that count
        if fact in OF_THE_ROW:
            log.notes.append((str(fact), "not kept", "it tells of whoever filled in a row, not of the lot"))
            continue
        within = fact in _ONE_OF
        apart = _contradicting(rows, [SESSION, LOT] if within else [LOT])
        if within:
            _refuse(str(fact), apart, log)
            apart = _contradicting(rows.drop(index=apart.index), [LOT])
        if len(apart):
            many = count(apart[LOT].nunique(), "lot")
            log.notes.append((f"{fact} that differs from row to row, {many}", "the first of each lot", "sheets differ"))


def _contradicting(rows: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    """Rows that say another thing than the first of the same lot; with `first`, that, and `plain`, the thing."""
    said = rows.assign(plain=rows["value"].map(plain))
    first = said.groupby(keys, sort=False)[["value", "plain"]].transform("first")
    return said.assign(first=first["value"])[said["plain"] != first["plain"]]


def _refuse(fact: str, apart: pd.DataFrame, log: Log) -> None:
    log.facts.update(apart["table"].tolist())
    for number, rows in apart.drop_duplicates([SESSION, LOT, "plain"]).groupby("table", sort=False):
        table = log.tables[int(str(number))]
        lots = rows[LOT].nunique()
        many = f", {count(lots, 'lot')}" if len(rows) > _EACH else ""
        for row in rows.head(1 if many else _EACH).to_dict("records"):
            reason = f"another {fact} than lot {row[LOT]} has elsewhere: {str(row['first'])!r}{many}"
            action = f"write one {fact} for the lot, or say in the register lots which it is"
            at = (int(row["row"]), int(row["column"]))
            log.problems.add(table.sheet, at, row["value"], (table.headers[at[1]], reason, action))
