"""Marks found good -> Scores: tables put together, every cell given its place in the account."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import CLASS, DESCRIPTOR, LOOK, LOT, POSITION, POT, ROLE, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.declared import Declared
from panelstats.scores.spelling import plain
from panelstats.scores.table import REMARKS, Scores, no_weighings
from panelstats.sheets.checks.identity import labels_met, one_lots
from panelstats.sheets.content.roles import CODE, FAULT, LEFT_OUT, WORD
from panelstats.sheets.content.text import Kind
from panelstats.sheets.layouts.byname import samples
from panelstats.sheets.marks import kinds
from panelstats.sheets.marks.facts import asked_cells, faults_of, remarks_of, words_of
from panelstats.sheets.reading import account, infer
from panelstats.sheets.reading.saidfirst import said_first
from panelstats.sheets.room import registers
from panelstats.sheets.room.room import HEADED, REGISTERS, UNSAID

if TYPE_CHECKING:
    from panelstats.sheets.checks.log import Log
    from panelstats.sheets.files.grid import Factor
    from panelstats.sheets.marks.marks import Marks
    from panelstats.sheets.room.room import Room
    from panelstats.sheets.tables.table import Note, Table


@dataclass(frozen=True, eq=False)
class Reading:
    """All that was found, ready to be put together."""

    tables: list[Table]
    marks: Marks
    log: Log
    room: Room
    pot: np.ndarray
    look: np.ndarray
    position: np.ndarray
    lots: pd.DataFrame
    met: pd.DataFrame
    labels: pd.DataFrame
    usable: np.ndarray
    unread: list[account.Unread]


def leaves_scores(found: Reading) -> bool:
    """Whether anything is left once what is in doubt is set aside."""
    return bool(np.isin(statuses(found)[0], (account.SCORED, account.FAULTED)).any())


def assembled(found: Reading, problems: pd.DataFrame) -> Scores | None:
    """The scores, with everything that was read beside them and how it was counted; None where there are none."""
    marks, room, notes = found.marks, found.room, found.log.notes
    status, faulted, worded = statuses(found)
    tasters, told = registers.tasters_of(labels_met(marks.keys[TASTER], found.usable), room)
    notes += told
    sessions = registers.sessions_of(labels_met(marks.keys[SESSION], found.usable), room)
    if not np.isin(status, (account.SCORED, account.FAULTED)).any():
        return None
    frame = _frame(found, status == account.SCORED, sessions, tasters)
    groups = registers.scores_by(frame, found.lots)
    descriptors, told = registers.descriptors_of(groups, found.met, room)
    notes += told
    pots = _pots(frame, descriptors, found)
    notes += _undeclared_pots(pots, many=len(sessions) > 1)
    notes += _without_marks(found)
    remarks = remarks_of(found.tables, marks, found.labels, found.pot)
    faults = faults_of(marks, found.pot, faulted, remarks)
    weighed = room.get("densities")
    return Scores(
        frame, faults, words_of(marks, worded, faults, remarks), remarks[REMARKS],
        account_table(found, status), problems,
        pd.DataFrame(notes, columns=["what", "value", "why"]).drop_duplicates(ignore_index=True),
        sessions, found.lots, descriptors.drop(columns="why"), tasters,
        registers.scales_of(groups, descriptors, found.lots, room), pots,
        headings_table(found.tables)[["file", "sheet", "header", "word"]],
        said=said_first(frame, found.tables, notes),
        densities=no_weighings() if weighed is None else weighed,
        declared=declared_of(found, tasters, descriptors),
    )  # fmt: skip


def declared_of(found: Reading, tasters: pd.DataFrame, descriptors: pd.DataFrame) -> Declared:
    """What registers said of the labels met, and what they left to be guessed."""
    room, guessed = found.room, {what for what, _, _ in found.log.notes}
    written = dict(zip(found.lots[LOT], found.lots["written"], strict=True))
    one = one_lots(written.values(), room)
    names: dict[str, dict[str, tuple[str, ...]]] = {
        "lots": {lot: (lot, word) for lot, word in written.items()},
        "tasters": {name: (name,) for name in tasters[TASTER]},
        "descriptors": {d: (n,) for d, n in zip(found.met[DESCRIPTOR], found.met["name"], strict=True)},
    }
    sizes = {(d, size) for d in descriptors[DESCRIPTOR] for size in ("step", "tolerance")}
    roles = registers.declared_roles(room)
    said = {(d, size) for d, size in sizes if f"{size} of {d}" not in guessed}
    said |= {(name, ROLE) for name in tasters[TASTER] if plain(name) in roles}
    said |= {("", CLASS)} if registers.CLASSES not in guessed else set()
    return Declared(
        {name: registers.places_of(labels, room.get(name), name.removesuffix("s")) for name, labels in names.items()},
        frozenset(lot for lot, word in written.items() if word in one),
        frozenset(said),
        frozenset(found.lots.columns.difference([*REGISTERS["lots"], "written", *_columns(room.get("lots"))])),
    )


def _without_marks(found: Reading) -> list[Note]:
    """Labels that stand in a register though no cell of theirs is filled."""
    notes, full = [], found.usable & (found.marks.kind != Kind.BLANK)
    for role in (LOT, TASTER, DESCRIPTOR):
        marked = {*labels_met(found.marks.keys[role], full)}
        bare = [label for label in labels_met(found.marks.keys[role], found.usable) if label not in marked]
        if bare:
            notes.append(
                (f"{role}s without a mark", ", ".join(bare), "the sheets name them, all their cells are empty")
            )
    return notes


def _columns(register: pd.DataFrame | None) -> list[str]:
    return [] if register is None else list(register.columns)


def _undeclared_pots(pots: pd.DataFrame, *, many: bool) -> list[Note]:
    """What was taken for the pots of each session and stage of which nobody said it."""
    notes = []
    for row in pots[~pots["declared"].astype(bool)].to_dict("records"):
        session, stage = row[SESSION], row[STAGE]
        if stage:
            what = f"pots of session {session}, {stage}" if many else f"pots, {stage}"
        else:
            what = f"pots of session {session}" if many else "pots"
        notes.append((what, row["pots"], row["reason"]))
    return notes


def headings_table(tables: list[Table]) -> pd.DataFrame:
    """What each heading was taken for: file, sheet, header, word, column from 0, then as in the register `headings`."""
    rows = []
    for table in tables:
        for c, (header, role, name) in enumerate(zip(table.headers, table.roles, table.names, strict=True)):
            if not header or role == "":
                continue
            keys = {k: labels[c] for k, labels in table.across.items() if role in kinds.MARK_ROLES}
            own = role in kinds.MARK_ROLES and not table.is_down and DESCRIPTOR not in table.extra
            rows.append({
                "file": table.sheet.file, "sheet": table.sheet.name, "header": header,
                "word": "" if role == LEFT_OUT else name if own else role,
                "at": c + table.sheet.first_column,
                "heading": table.wholes[c] or header, "where": table.sheet.label, "seen": samples(table, c),
                "means": UNSAID if c in table.waiting else role,
                "descriptor": name if own and c not in table.waiting else "",
                **{k: keys.get(k, "") for k in HEADED},
            })  # fmt: skip
    columns = ["file", "sheet", "header", "word", "at", *REGISTERS["headings"][:-1]]
    return pd.DataFrame(rows, columns=columns)


def account_table(found: Reading, status: np.ndarray) -> pd.DataFrame:
    """The account of all tables, then of what was not read."""
    parts = [
        account.account_of(found.tables, found.marks.table, status, found.log.facts),
        account.unread_rows(found.unread),
    ]
    return pd.concat([part for part in parts if len(part)], ignore_index=True)


def statuses(found: Reading) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """What became of each mark cell, and the masks of fault cells and word cells that count."""
    faulted, worded = (asked_cells(found.marks, role, (found.pot, found.look), found.log.bad) for role in (FAULT, WORD))
    return _status(found.marks, found.log.bad, faulted, worded), faulted, worded


def _status(marks: Marks, bad: np.ndarray, faulted: np.ndarray, worded: np.ndarray) -> np.ndarray:
    """What became of each mark cell."""
    status = np.full(len(marks), account.SCORED)
    status[marks.of(*kinds.BESIDE)] = account.FACTUAL
    status[marks.kind == Kind.BLANK] = account.BLANK
    status[faulted], status[worded] = account.FAULTED, account.WORDED
    status[bad & (marks.kind != Kind.BLANK)] = account.ASIDE
    return status


def _frame(found: Reading, keep: np.ndarray, sessions: pd.DataFrame, tasters: pd.DataFrame) -> pd.DataFrame:
    rows = slice(None) if keep.all() else keep  # no copies where every mark is a score
    scored = found.met.loc[found.met["kind"] == SCORE, DESCRIPTOR]
    order = {SESSION: sessions[SESSION], LOT: found.lots[LOT], TASTER: tasters[TASTER], DESCRIPTOR: scored}
    keys = {role: _categorical(found.marks.keys[role].take(rows), list(labels)) for role, labels in order.items()}
    return pd.DataFrame({
        SESSION: keys[SESSION], LOT: keys[LOT], TASTER: keys[TASTER], POT: found.pot[rows],
        LOOK: found.look[rows], POSITION: found.position[rows], DESCRIPTOR: keys[DESCRIPTOR],
        SCORE: found.marks.number[rows],
    }, copy=False)  # fmt: skip


def _categorical(factor: Factor, labels: list[str]) -> pd.Categorical:
    index = {label: i for i, label in enumerate(labels)}
    codes = factor.rows(np.array([index.get(v, -1) for v in factor.values], np.int32))
    return pd.Categorical.from_codes(codes, pd.Index(labels, dtype="str"))


def _pots(frame: pd.DataFrame, descriptors: pd.DataFrame, found: Reading) -> pd.DataFrame:
    stages = dict(zip(descriptors[DESCRIPTOR], descriptors[STAGE], strict=True))
    by_codes, by_labels = (bool(found.marks.keys[role].met) for role in (CODE, POT))
    return infer.pots_table(frame, stages, found.room.get("sessions"), by_codes=by_codes, by_labels=by_labels)
