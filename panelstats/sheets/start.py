"""The room's own workbook: registers filled with what was inferred, to be corrected; or blank, to begin with."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.errors import PanelError, SheetError
from panelstats.output import check_writable, new_workbook, write_whole
from panelstats.scores.cells import DESCRIPTOR, LOT, ROLE, SCORE, SESSION, STAGE, TASTER
from panelstats.scores.table import Scores
from panelstats.sheets import text
from panelstats.sheets.files import open_source
from panelstats.sheets.layouts import widest_row
from panelstats.sheets.read import files_read, read_scores
from panelstats.sheets.roles import role_of
from panelstats.sheets.room import REGISTERS, UNSAID, is_register

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from xlsxwriter import Workbook

    from panelstats.sheets.files import Source

# What each register is for, and how to fill what is not obvious: shown as a comment on its first cell.
_HELP = {
    "columns": (
        "Their heading and what it means here: lot, taster, pot, session, code, position, look, descriptor, score, "
        "stage, remark, fact, or the name of a descriptor. An empty word leaves the column out."
    ),
    "sessions": (
        "pots: shared (one brew for all), own (a brew for each taster), same (one pot tasted again). Left empty, "
        "shared is taken and the page says so. order: randomised or as listed. blind: yes, partly, no."
    ),
    "lots": (
        "Comparisons are made within a class. role: control, standard, trial, repeat, or empty. A lot listed here "
        "once is one lot, however many sessions it was tasted in."
    ),
    "descriptors": (
        "kind: score, fault (noticed or not), words (a word to mark), money. low, high, step: the scale; filled "
        "in, every score is held to it. tolerance: the smallest difference that matters, in points. wanted: more, "
        "less, either."
    ),
    "tasters": ("role: senior or trainee."),
    "codes": ("Which lot (and pot) each blind code stands for. Needed only where sheets carry codes."),
    "marks": ('What a mark such as "+" or "7/8" is worth here. A worth left empty makes the mark a blank.'),
}
_ORDER = ("columns", "sessions", "lots", "descriptors", "tasters", "codes", "marks")
_MARKS_SHOWN = 200


def write_room(
    source: Source | Scores,
    out: str | Path | None = None,
    *,
    overwrite: bool = False,
    columns: Mapping[str, str | None] | Iterable[tuple[str, str | None]] | None = None,
    leave_out: Collection[str] = (),
) -> Path:
    """Write room.xlsx: the registers filled with what was inferred, to be corrected; read again, it is obeyed.

    Parameters
    ----------
    source : str, Path, list, DataFrame or Scores
        What to read, or what was read.
    out : str or Path, optional
        The workbook to write; room.xlsx beside the file, or in the folder, where not given.
    overwrite : bool
        Replace a file that is there; never one that was read, room.xlsx neither.
    columns, leave_out
        As for `read_scores`.

    Returns
    -------
    Path
        Where the workbook is.

    Raises
    ------
    PanelError
        A file stands in the way, or nothing says where to write.
    """
    path = _where(source) if out is None else Path(out)
    read = source.files if isinstance(source, Scores) else files_read(source)
    check_writable(path, overwrite=overwrite, read=read)
    tables = _tables(source, dict(columns) if columns else None, leave_out)
    book, stream = new_workbook(ours=False)
    for name in _ORDER:
        _write(book, name, tables[name])
    book.close()
    return write_whole(path, stream.getvalue(), overwrite=overwrite, read=read)


@checked()
def write_starter(out: str | Path, *, overwrite: bool = False) -> Path:
    """Write a blank score sheet with its registers, for someone who has no sheet at all.

    Parameters
    ----------
    out : str or Path
        The workbook to write.
    overwrite : bool
        Replace a file that is there.
    """
    book, stream = new_workbook(ours=False)
    page = book.add_worksheet("scores")
    head = ["session", "lot", "taster", "pot", "colour", "brightness", "strength", "briskness", "smoky", "remarks"]
    bold = book.add_format({"bold": True, "bottom": 1})
    page.write_row(0, 0, head, bold)
    page.write_comment(
        0, 0, "A row for each pot a taster tastes. Replace the descriptors by your own; leave empty what was not "
        "scored. Under a fault write yes, or how strongly.",
    )  # fmt: skip
    page.freeze_panes(1, 0)
    page.set_column(0, len(head) - 1, 12)
    for name in ("sessions", "lots", "descriptors", "tasters", "codes", "marks"):
        _write(book, name, pd.DataFrame(columns=list(REGISTERS[name])))
    book.close()
    return write_whole(out, stream.getvalue(), overwrite=overwrite)


def _where(source: object) -> Path:
    if not isinstance(source, str | Path):
        raise PanelError("nothing says where to write", where="out=None", do="name the workbook, such as room.xlsx")
    path = Path(source)
    return (path if path.is_dir() else path.parent) / "room.xlsx"


def registers_as_read(scores: Scores) -> dict[str, pd.DataFrame]:
    """The registers as tables of text and numbers, filled with what was read and inferred.

    Parameters
    ----------
    scores : Scores
        What was read.
    """
    return {
        "columns": scores.headers[["header", "word"]].drop_duplicates("header"),
        "sessions": _sessions(scores),
        "lots": _lots(scores),
        "descriptors": _descriptors(scores),
        "tasters": scores.tasters[[TASTER, ROLE, "joined", "left"]],
        "codes": pd.DataFrame(columns=["session", "code", "lot", "pot", "look", "taster"]),
        "marks": _marks(scores),
    }


def _tables(
    source: Source | Scores, columns: Mapping[str, str | None] | None, leave_out: Collection[str]
) -> dict[str, pd.DataFrame]:
    """The registers as read; where nothing can be read before somebody says what the headings mean, these alone."""
    if isinstance(source, Scores):
        return registers_as_read(source)
    try:
        return registers_as_read(read_scores(source, columns=columns, leave_out=leave_out, set_aside=True))
    except SheetError:
        return _headings_alone(source, leave_out)


def _headings_alone(source: Source, leave_out: Collection[str]) -> dict[str, pd.DataFrame]:
    """Blank registers, and what each heading seems to mean; a question mark where only a person can say."""
    words: dict[str, str] = {}
    for sheet in open_source(source).sheets:
        if {sheet.name, sheet.file} & set(leave_out) or is_register(sheet, Path(sheet.file).stem):
            continue
        labels = list(sheet.headers or widest_row(sheet))
        for column, label in zip(sheet.columns, labels, strict=True):
            if label:
                words.setdefault(label, role_of(label) or (label if _mostly_numbers(column.values) else UNSAID))
    if not words:
        raise SheetError("no headings were found", where=str(source), do="give the sheet a row of headings")
    if not {LOT, "code"} & set(words.values()):
        words[next(iter(words))] = UNSAID  # something must be the lot, and the first column is the likeliest
    blank = {name: pd.DataFrame(columns=list(REGISTERS[name])) for name in _ORDER}
    return {**blank, "columns": pd.DataFrame({"header": list(words), "word": list(words.values())})}


def _mostly_numbers(values: list) -> bool:
    parsed = text.parse(values, decimal=text.decimal_style(values))
    return int((parsed.kind == text.Kind.NUMBER).sum()) * 2 > int((parsed.kind != text.Kind.BLANK).sum()) - 1


def _sessions(scores: Scores) -> pd.DataFrame:
    """A row per session, per stage where what the pots were was declared by stage."""
    declared = scores.pots[scores.pots["declared"]]
    if declared.groupby(SESSION)["pots"].nunique().max() > 1:
        table = scores.sessions.merge(declared[[SESSION, STAGE, "pots"]], on=SESSION, how="left")
    else:
        one = declared.drop_duplicates(SESSION).set_index(SESSION)["pots"]
        table = scores.sessions.assign(pots=scores.sessions[SESSION].map(one))
    known = [c for c in REGISTERS["sessions"] if c != STAGE or STAGE in table]
    return table.reindex(columns=[*known, *[c for c in table if c not in known]])


def _lots(scores: Scores) -> pd.DataFrame:
    table = scores.lots.drop(columns="written", errors="ignore")
    known = [c for c in REGISTERS["lots"] if c != SESSION]
    return table.reindex(columns=[*known, *[c for c in table if c not in known]])


def _descriptors(scores: Scores) -> pd.DataFrame:
    """The register with the scores seen beside the scale, which is left for the room to declare."""
    inferred = {str(w).removeprefix("step of ") for w in scores.inferred["what"] if str(w).startswith("step of ")}
    seen = scores.frame.groupby(DESCRIPTOR, observed=True)[SCORE].agg(["min", "max"])
    table = scores.descriptors.copy()
    declared = ~scores.descriptors[DESCRIPTOR].isin(inferred)
    table["seen"] = [
        f"{seen.loc[d, 'min']:g} to {seen.loc[d, 'max']:g}" + (f" by {step:g}" if step > 0 else "")
        if d in seen.index
        else ""
        for d, step in zip(table[DESCRIPTOR], table["step"], strict=True)
    ]
    table["step"] = table["step"].where(declared)  # what was only seen must not become a rule
    return table


def _marks(scores: Scores) -> pd.DataFrame:
    """Marks nobody declared, each once, their worth still to be told."""
    marks = scores.problems[scores.problems["reason"].isin([text.NOT_A_NUMBER, text.A_RANGE])]["value"]
    marks = marks[marks.str.len() <= 12].drop_duplicates().head(_MARKS_SHOWN)
    return pd.DataFrame({"mark": marks, "worth": UNSAID, TASTER: "", DESCRIPTOR: ""}).reset_index(drop=True)


def _write(book: Workbook, name: str, table: pd.DataFrame) -> None:
    page = book.add_worksheet(name)
    bold = book.add_format({"bold": True, "bottom": 1})
    page.write_row(0, 0, list(table.columns), bold)
    page.write_comment(0, 0, _HELP[name], {"x_scale": 3})
    for r, row in enumerate(table.itertuples(index=False), 1):
        for c, value in enumerate(row):
            if isinstance(value, float | np.floating):
                if np.isfinite(value):
                    page.write_number(r, c, value)
            elif value is not None and value is not pd.NA and str(value) != "":
                page.write_string(r, c, str(value))
    page.freeze_panes(1, 0)
    page.set_column(0, max(len(table.columns) - 1, 0), 14)
