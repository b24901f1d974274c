"""Facts of the lots, remarks and words: what stands beside the scores."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOT, POT, SCORE, SESSION, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.faultwords import mentions
from panelstats.sheets.content.roles import FACT, MONEY, REMARK, WORDS, role_of
from panelstats.sheets.content.text import Kind
from panelstats.sheets.marks.servings import combined

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.marks.marks import Marks
    from panelstats.sheets.tables.table import Table

SAID = [SESSION, LOT, "fact", "value", "table", "row", "column"]
_WORDS = [SESSION, LOT, "word", "said", "asked"]
# What a form notes of whoever filled in a row (common practice): no fact of the lot.
OF_THE_ROW = ("timestamp", "time", "start time", "completion time", "email", "email address")
_TOLD = (FACT, MONEY, REMARK, WORDS)


def row_labels(tables: list[Table], marks: Marks, pot: np.ndarray) -> pd.DataFrame:
    """Final session, lot, taster and pot of every row that holds mark cells: index (table, row)."""
    beside = np.array([any(r in _TOLD for r in t.roles) for t in tables])
    return _by_row(marks, beside[marks.table], pot)  # sheets that hold nothing but marks need no labels here


def _by_row(marks: Marks, some: np.ndarray, pot: np.ndarray) -> pd.DataFrame:
    """Session, lot, taster and pot of the first of some marks in every row: index (table, row)."""
    some = np.flatnonzero(some)
    place = marks.table[some].astype(np.int64) << 32 | marks.row[some].astype(np.int64)
    first = some[~pd.Series(place).duplicated().to_numpy()]
    data = {key: marks.keys[key].take(first).texts for key in (SESSION, LOT, TASTER)}
    index = pd.MultiIndex.from_arrays([marks.table[first], marks.row[first]])
    return pd.DataFrame({**data, POT: pot[first]}, index=index)


def facts_said(tables: list[Table], marks: Marks, labels: pd.DataFrame, written: Mapping[str, str]) -> pd.DataFrame:
    """Everything written about a lot, beside its marks or in a list: session, lot, fact, value; table, row, column."""
    parts = [_of_a_list(number, table, marks, written) for number, table in enumerate(tables) if table.is_list]
    for number, table in enumerate(tables):
        for c, role in enumerate(table.roles):
            if role in (FACT, MONEY) and table.headers[c]:
                values = table.cells(c).texts
                rows = table.rows[values != ""]
                here = labels.reindex(pd.MultiIndex.from_product([[number], rows]))[[SESSION, LOT]]
                told = {"fact": plain(table.names[c]), "value": values[values != ""]}
                parts.append(here.reset_index(drop=True).assign(**told, table=number, row=rows, column=c))
    parts += [_over_lots(number, table, marks) for number, table in enumerate(tables) if table.told]
    parts.append(_down(marks, tables, (FACT, MONEY)).rename(columns={DESCRIPTOR: "fact"})[SAID])
    parts = [part for part in parts if len(part)]
    if not parts:
        return pd.DataFrame(columns=SAID)
    return pd.concat(parts, ignore_index=True).dropna(subset=[LOT])


def _of_a_list(number: int, table: Table, marks: Marks, written: Mapping[str, str]) -> pd.DataFrame:
    """What a list without marks says of lots that were tasted, as `facts_said` gives it; its remarks are facts."""
    known: dict[str, list[str]] = {}
    for label, lot in written.items():
        known.setdefault(plain(lot), []).append(label)
    lots, sessions = marks.keys[LOT], marks.keys[SESSION]
    first, back = np.unique(lots.codes, return_index=True)
    session = {lots.values[code]: sessions.at(int(at)) for code, at in zip(first, back, strict=True)}
    own = [table.cells(c).texts for c in table.where(SESSION)]
    lot_of_row = table.cells(table.where(LOT)[0]).texts
    said = [
        (session.get(label, ""), label, plain(table.names[c]), value, number, table.rows[at], c)
        for c, role in enumerate(table.roles) if role in _TOLD and table.headers[c]
        for at, (lot, value) in enumerate(zip(lot_of_row, table.cells(c).texts, strict=True))
        for label in known.get(plain(lot), ())
        if value and all(not each[at] or each[at] == session.get(label, "") for each in own)
    ]  # fmt: skip
    return pd.DataFrame(said, columns=SAID, dtype=object)


def facts_of(said: pd.DataFrame) -> pd.DataFrame:
    """Facts written beside the marks, one row per lot: the first thing written about it in each column."""
    said = said[~said["fact"].isin(OF_THE_ROW)]
    if said.empty:
        return pd.DataFrame({LOT: []})
    first = said.drop_duplicates([LOT, "fact"])
    wide = first.set_index([LOT, "fact"])["value"].unstack(fill_value="")  # noqa: PD010 - text, nothing to aggregate
    return wide.reset_index().rename_axis(columns=None)


def _over_lots(number: int, table: Table, marks: Marks) -> pd.DataFrame:
    """Facts in rows over or under lots that run across, as `facts_said` gives them."""
    mine = np.flatnonzero(marks.table == number)
    columns, first = np.unique(marks.column[mine], return_index=True)
    sessions, lots = (marks.keys[key].take(mine[first]).texts for key in (SESSION, LOT))
    said = [
        (session, lot, plain(told.name), told.said[c], number, told.row, c)
        for told in table.told if told.role in (FACT, MONEY)
        for c, session, lot in zip(columns, sessions, lots, strict=True) if told.said[c]
    ]  # fmt: skip
    return pd.DataFrame(said, columns=SAID, dtype=object)


def _down(marks: Marks, tables: list[Table], roles: tuple[str, ...]) -> pd.DataFrame:
    """Facts that stand in rows of their own, where descriptors stand in a column: keys and value."""
    keep = np.flatnonzero(marks.of(*roles) & (marks.kind != Kind.BLANK))
    places = zip(marks.table[keep], marks.row[keep], marks.column[keep], strict=True)
    values = [tidy(tables[t].sheet.columns[c].at(r)) for t, r, c in places]
    at = {"table": marks.table[keep], "row": marks.row[keep], "column": marks.column[keep]}
    table = _labelled(marks, keep).assign(value=pd.Series(values, dtype=object), **at)
    table[DESCRIPTOR] = table[DESCRIPTOR].map(plain)
    return table


def remarks_of(tables: list[Table], marks: Marks, labels: pd.DataFrame, pot: np.ndarray) -> pd.DataFrame:
    """All written as remarks, words (`listed`) or comments on scores: session, lot, taster, pot, remark, listed.

    Returns
    -------
    DataFrame
        `listed` tells a column of words.
    """
    parts = []
    for number, table in enumerate(tables):
        for c in (*table.where(REMARK), *table.where(WORDS)):
            values = table.cells(c).texts
            keep = values != ""
            under = _under_the_same(table, c)
            mine = (marks.table == number) & np.isin(marks.column, under)
            known = _by_row(marks, mine, pot) if under else labels
            here = known.reindex(pd.MultiIndex.from_product([[number], table.rows[keep]])).reset_index(drop=True)
            parts.append(here.assign(remark=values[keep], listed=table.roles[c] == WORDS))
    columns = [SESSION, LOT, TASTER, POT, "remark", "listed"]
    down = _down(marks, tables, (REMARK, WORDS))
    if len(down):
        listed = down[DESCRIPTOR].map(lambda d: role_of(d) == WORDS)
        parts.append(down.rename(columns={"value": "remark"}).assign(pot=1, listed=listed))
    parts += [_commented(number, table, marks, pot) for number, table in enumerate(tables) if table.sheet.comments]
    if not parts:
        return pd.DataFrame({c: pd.Series(dtype=object) for c in columns})
    return pd.concat(parts, ignore_index=True).dropna(subset=[LOT])[columns].drop_duplicates(ignore_index=True)


def _under_the_same(table: Table, column: int) -> list[int]:
    """The columns that stand under the same taster or lot as a column of remarks; none where it is under no one's."""
    told = [labels for labels in table.across.values() if labels[column]]
    columns = [c for c in range(len(table.headers)) if c != column]
    return [c for c in columns if all(labels[c] == labels[column] for labels in told)] if told else []


def _commented(number: int, table: Table, marks: Marks, pot: np.ndarray) -> pd.DataFrame:
    """Comments on cells that hold a mark, as remarks of its lot and taster."""
    comments = table.sheet.comments
    mine = np.flatnonzero((marks.table == number) & np.isin(marks.row, [r for r, _ in comments]))
    said = [(i, comments[at]) for i in mine if (at := (int(marks.row[i]), int(marks.column[i]))) in comments]
    keep = np.array([i for i, _ in said], int)
    return _labelled(marks, keep).assign(pot=pot[keep], remark=[tidy(text) for _, text in said], listed=False)


def faults_of(marks: Marks, pot: np.ndarray, asked: np.ndarray, remarks: pd.DataFrame) -> pd.DataFrame:
    """Faults asked about (the cells of `asked` that count) and noticed or not, then faults named in remarks."""
    keep = np.flatnonzero(asked)
    table = _labelled(marks, keep).assign(
        pot=pot[keep], noticed=np.nan_to_num(marks.number[keep]) > 0, said="", remark=""
    )
    table = table.rename(columns={DESCRIPTOR: "fault"})
    named = [
        (r.session, r.lot, r.taster, r.pot, word, True, said, r.remark)
        for r in remarks.itertuples() for word, said in mentions(str(r.remark))
    ]  # fmt: skip
    columns = [SESSION, LOT, TASTER, POT, "fault", "noticed", "said", "remark"]
    parts = [table[columns], *([pd.DataFrame(named, columns=columns)] if named else [])]
    return pd.concat(parts, ignore_index=True).astype({"noticed": bool, POT: int})


def _labelled(marks: Marks, keep: np.ndarray) -> pd.DataFrame:
    keys = (SESSION, LOT, TASTER, DESCRIPTOR)
    return pd.DataFrame({key: marks.keys[key].take(keep).texts for key in keys}, columns=list(keys))


def words_of(marks: Marks, asked: np.ndarray, faults: pd.DataFrame, remarks: pd.DataFrame) -> pd.DataFrame:
    """Tasters who said each word of each lot; `asked` is missing where the word was free to come or not."""
    if not asked.any() and faults.empty and remarks.empty:
        return pd.DataFrame(columns=_WORDS).astype({"said": int, "asked": "Int64"})
    keep = np.flatnonzero(asked)
    ticked = _labelled(marks, keep).assign(said=np.nan_to_num(marks.number[keep]) > 0)
    ticked = ticked.rename(columns={DESCRIPTOR: "word"})
    asked_of = faults[faults["remark"] == ""].rename(columns={"fault": "word"}).assign(said=lambda t: t["noticed"])
    by_taster = pd.concat([ticked, asked_of]).groupby([SESSION, LOT, "word", TASTER], sort=False)["said"].any()
    counted = by_taster.groupby([SESSION, LOT, "word"], sort=False).agg(["sum", "count"]).reset_index()
    counted.columns = _WORDS
    free = [
        (r.session, r.lot, w, r.taster)
        for r in remarks[remarks["listed"].astype(bool)].itertuples()
        for w in _split(str(r.remark))
    ]
    free += list(faults.loc[faults["remark"] != "", [SESSION, LOT, "fault", TASTER]].itertuples(index=False, name=None))
    said = pd.DataFrame(free, columns=[SESSION, LOT, "word", TASTER]).drop_duplicates()
    said = said.groupby([SESSION, LOT, "word"], sort=False).size().rename("said").reset_index().assign(asked=np.nan)
    both = pd.concat([part for part in (counted, said) if len(part)] or [counted], ignore_index=True)
    return both.astype({"said": int, "asked": "Float64"}).astype({"asked": "Int64"})


def _split(text: str) -> list[str]:
    return [word for word in (plain(part) for part in re.split(r"[,;/&]|\band\b", text)) if word]


def asked_cells(marks: Marks, role: str, serving: tuple[np.ndarray, np.ndarray], bad: np.ndarray) -> np.ndarray:
    """Cells of a role that say noticed or not: filled, or blank in a serving (pot and look) that has any score."""
    mine = marks.of(role) & ~bad
    if not mine.any():
        return mine
    number = marks.kind == Kind.NUMBER
    of = combined(marks.place(SESSION, LOT, TASTER), *serving)
    scored = np.isin(of, of[marks.of(SCORE) & number & ~bad])
    return mine & (number | ((marks.kind == Kind.BLANK) & scored))
