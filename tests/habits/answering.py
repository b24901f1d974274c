"""The way of one who was there: filling room.xlsx from what it shows and what he knows, and nothing else.

He answers in the words the sheet allows, writes the worth of marks it lists, and says of headings what they mean.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from openpyxl import load_workbook
from openpyxl.cell import Cell as ExcelCell
from openpyxl.worksheet.worksheet import Worksheet

import panelstats as pst
from tests.habits.cells import Cell
from tests.habits.extras import DERIVED, FACT, REMARK
from tests.habits.files import text_of
from tests.habits.judge import ASKED, REFUSED, Finding, judged
from tests.habits.labels import plain
from tests.habits.room import Made
from tests.habits.second import label
from tests.habits.truth import AXES, DESCRIPTOR, LOT, POT, SESSION, STAGE, TASTER

LEFT_OUT = "left out"
KEYS = (SESSION, LOT, TASTER, POT, "look", DESCRIPTOR, "score")
ROUNDS = 3


@dataclass
class Known:
    """What one who was there knows.

    `shows`: {text of a cell or tab: {axis: true label}}; `columns`: {heading: its axis, or derived, fact, remark};
    `marks`: {mark: worth}; `names`: {axis: {spelling: true label}}; `holds`: files whose scores count.
    """

    shows: dict[str, dict[str, str]] = field(default_factory=dict)
    columns: dict[str, str] = field(default_factory=dict)
    marks: Mapping[str, float] = field(default_factory=dict)
    names: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    holds: set[str] = field(default_factory=set)


def known(made: Made) -> Known:
    """What the files of a room show, and what is true of it."""
    out = Known(marks={plain(m): w for m, w in made.truth.worth.items()}, names=made.truth.spelt)
    for name, book in made.books.items():
        for grid in book.values():
            if grid.scores():
                out.holds.add(plain(name))
            for _, _, cell in grid.cells():
                if cell.means and cell.value is not None:
                    out.columns.setdefault(plain(cell.value), cell.means)
            for axis, key in _keys(grid.scores()):
                text = text_of(key.value)
                out.shows.setdefault(plain(text), {})[axis] = label(axis, text, made.truth)
    return out


def after(source: Path, made: Made, folder: Path) -> Finding:
    """Read once more with a room.xlsx that was started and filled; a second and third time where it asks anew."""
    path = folder / "room.xlsx"
    finding = Finding(REFUSED, "nothing to answer")
    for _ in range(ROUNDS):
        try:
            pst.write_room(source, path)
        except pst.PanelError as error:
            return finding if path.exists() else Finding(REFUSED, f"start: {error.args[0]}")
        if not answer(path, made):
            return finding if finding.outcome == ASKED else Finding(REFUSED, "nothing to answer")
        finding = judged(source, made.truth.but(must="read", say=()), path)
        if finding.outcome != ASKED:
            break
    return finding


def _keys(scores: list[Cell]) -> Iterator[tuple[str, Cell]]:
    """Each cell that shows a key, once."""
    seen: set[tuple[str, int]] = set()
    for score in scores:
        for axis, key in (score.keys or {}).items():
            if isinstance(key, Cell) and (axis, id(key)) not in seen:
                seen.add((axis, id(key)))
                yield axis, key


def answer(path: Path, made: Made) -> int:
    """Fill a room.xlsx as far as it asks; how many cells were filled."""
    book, who = load_workbook(path), known(made)
    filled = 0
    for name, fill in (("questions", _question), ("marks", _mark), ("headings", _heading)):
        if name in book.sheetnames:
            for row in _rows(book[name]):
                filled += fill(row, who)
    book.save(path)
    return filled


Row = dict[str, object]


def _rows(sheet: Worksheet) -> list[Row]:
    """The rows under the sheet's own headings: {heading: its cell}."""
    lines = [row for row in sheet.iter_rows() if any(cell.value is not None for cell in row)]
    head = next((n for n, row in enumerate(lines) if {plain(c.value) for c in row} & {"what", "mark", "heading"}), None)
    if head is None:
        return []
    names = [plain(cell.value) if cell.value is not None else "" for cell in lines[head]]
    return [dict(zip(names, row, strict=False)) for row in lines[head + 1 :]]


def _text(row: Row, name: str) -> str:
    value = getattr(row.get(name), "value", None)
    return "" if value is None else str(value)


def _put(row: Row, name: str, value: object) -> int:
    """Write into a cell of the row; whether it changed."""
    if name not in row or plain(_text(row, name)) == plain("" if value is None else value):
        return 0
    row[name].value = value
    return 1


def _question(row: Row, who: Known) -> int:
    """One question: the allowed word that is true."""
    if _text(row, "answer"):
        return 0
    said = _chosen(_text(row, "what"), _drop_down(row["answer"]), who) or ""
    return _put(row, "answer", said) if said else 0


def _drop_down(cell: ExcelCell) -> list[str]:
    """The words that a cell's list offers; other than yes, which only says the guess again."""
    lists = [d for d in cell.parent.data_validations.dataValidation if cell.coordinate in d.sqref and d.type == "list"]
    return [a.strip() for d in lists for a in str(d.formula1).strip('"').split(",") if a.strip().casefold() != "yes"]


def _chosen(what: str, allowed: list[str], who: Known) -> str | None:
    """The answer, judged by the words allowed and the names quoted in the question."""
    quoted = [a or b for a, b in re.findall(r"'([^']+)'|\"([^\"]+)\"", what)]
    words = {plain(a): a for a in allowed}
    for rule in (
        _copy,
        _taster_or_figure,
        _again,
        _blank_zeros,
        _struck,
        _beyond_scale,
        _which_holds,
        _which_heading,
        _several_rows,
        _kind_of_column,
        _name,
    ):
        said = rule(what, quoted, words, who)
        if said is not None:
            return said
    return None


def _copy(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    """The corpus holds no two tasters whose sheets are alike to the cell."""
    return words.get("a copy")


def _taster_or_figure(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    axis = next((a for a in (TASTER, DESCRIPTOR) if f"a {a}" in words), None)
    if axis is None or "a figure" not in words:
        return None
    return words[f"a {axis}" if any(plain(q) in who.names[axis] for q in quoted) else "a figure"]


def _again(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    if "served again" not in words:
        return None
    again = len(who.names[LOT]) > len(set(who.names[LOT].values()))
    return words["served again"] if again else next(w for k, w in words.items() if k != "served again")


def _blank_zeros(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    return words.get("blanks")  # no one in the corpus means a score by a zero among others' blanks


def _struck(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    return words.get("withdrawn")  # the corpus strikes out what is not to count


def _beyond_scale(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    return words.get("leave out")  # no one in the corpus knows what stands there for what


def _which_holds(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    """Of two files that score the same, the one whose scores count."""
    mine = [w for k, w in words.items() if k in who.holds]
    return mine[0] if len(mine) == 1 and what.endswith("which holds?") else None


def _which_heading(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    """Of several headings, the one that is the axis the question names."""
    axis = next((a for a in AXES if re.search(rf"\b{a}\b", what, re.IGNORECASE)), None)
    mine = [w for k, w in words.items() if who.columns.get(k) == axis]
    return mine[0] if len(mine) == 1 and "heading" in what else None


def _several_rows(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    """Words for axes, or axes over axes, told by the labels that the question shows."""
    of = {plain(word): axis for axis in AXES for word in (axis, f"{axis}s")}
    axes = {word: [of.get(part) for part in re.split(r"\W+over\W+|\W*,\W*", word)] for word in words}
    if not words or not all(all(parts) for parts in axes.values()):
        return None
    shown = re.split(r"[:,;?]|\bover\b|\band\b", what)
    met = [axis for text in shown for axis in _axes_of(plain(text.strip(" '\"")), who)]
    order = list(dict.fromkeys(met))
    return next((words[w] for w, parts in axes.items() if parts == order[: len(parts)]), None)


def _axes_of(text: str, who: Known) -> list[str]:
    """The axes that a text is a label of: as a cell shows it, or a part of one."""
    return list(who.shows.get(text, ())) or [a for a in AXES if a != SESSION and text in who.names[a]]


def _kind_of_column(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    """What stands under a heading: scores, facts, remarks, or what is to be left out."""
    if not quoted or not {"score", "scores"} & set(words):
        return None
    heading = plain(quoted[0])
    if DESCRIPTOR in who.shows.get(heading, ()) or who.columns.get(heading) == DESCRIPTOR:
        return words.get("scores", words.get("score"))
    kind = who.columns.get(heading, "")
    wanted = {DERIVED: (LEFT_OUT, DERIVED), FACT: (FACT, "facts"), REMARK: (REMARK, "remarks")}.get(kind, (LEFT_OUT,))
    return next((words[w] for w in wanted if w in words), None)


def _name(what: str, quoted: list[str], words: Mapping[str, str], who: Known) -> str | None:
    """A slip of the pen: the true label of the name that is quoted, where it is among the words."""
    for axis in AXES:
        true = {who.names[axis][plain(q)] for q in quoted if plain(q) in who.names[axis]}
        mine = [w for k, w in words.items() if k in {plain(t) for t in true}]
        if len(true) == 1 and len(mine) == 1:
            return mine[0]
    return None


def _mark(row: Row, who: Known) -> int:
    """A mark's worth, as the room means it; a mark that is no score is worth nothing, and stays empty."""
    mark = plain(_text(row, "mark"))
    return _put(row, "worth", who.marks.get(mark)) if mark else 0


def _heading(row: Row, who: Known) -> int:
    """What a heading means: a key, a descriptor (of a stage, a taster, a pot, a lot), or nothing to be read."""
    heading = plain(_text(row, "heading"))
    axis, parts = who.columns.get(heading, ""), who.shows.get(heading, {})
    means = plain(_text(row, "means"))
    if len(parts) == 1 and means in {plain(v) for v in (*parts, *parts.values(), "score")}:
        return 0
    if parts:
        return sum(_put(row, a, v) for a, v in parts.items() if a != STAGE)
    if axis in (DERIVED, FACT, REMARK):
        return _put(row, "means", LEFT_OUT if axis == DERIVED else axis)
    return _put(row, "means", axis) if axis in AXES else 0


def again(source: Path, folder: Path) -> str:
    """What changes where a room.xlsx started from the sheets, and left as it is, is read with them; "" for nothing."""
    path = folder / "room.xlsx"
    before = pst.read_scores(source)
    pst.write_room(source, path, overwrite=True)
    try:
        after = pst.read_scores(source, room=path)
    except pst.PanelError as error:
        return str(error)
    first, then = (s.frame[list(KEYS)].sort_values(list(KEYS)).reset_index(drop=True) for s in (before, after))
    facts = before.lots.astype(str).equals(after.lots[list(before.lots.columns)].astype(str))
    return "" if first.equals(then) and facts else "the lots' facts" if first.equals(then) else "the scores"
