"""Words, letters, stars and signs as scores: listed, their order guessed, and asked about; never lost among facts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from panelstats.scores.cells import DESCRIPTOR, LOT, SCORE, TASTER
from panelstats.scores.spelling import plain, tidy
from panelstats.sheets.content.roles import CODE, FACT, LEFT_OUT, REMARK, is_descriptor_word, role_of
from panelstats.sheets.content.text import Kind, mark_text
from panelstats.sheets.content.wordscales import NUMBER_FIRST, guessed_worth, out_of
from panelstats.sheets.marks.kinds import BESIDE, TEXT
from panelstats.sheets.tables.table import doubt

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.sheets.room.inquiry import Inquiry
    from panelstats.sheets.room.room import Room
    from panelstats.sheets.tables.table import Note, Table

_FEW = 12  # distinct words beyond which a column holds remarks (ours)
MEANINGS = ("scores", REMARK, FACT, TASTER, LEFT_OUT)


@dataclass
class _Column:
    """The columns of one heading in all tables: where they are, how often each content stands there, and numbers."""

    places: list[tuple[Table, int]]
    times: dict[str, int]
    blanks: dict[str, int]
    numbers: int = 0

    @property
    def filled(self) -> int:
        return sum(self.times.values())


def ask_about_words(
    tables: list[Table], room: Room, inquiry: Inquiry, notes: list[Note]
) -> dict[str, dict[str, float]]:
    """Find columns of words that may be scores; what the room says of them is obeyed, else it is asked.

    Returns
    -------
    dict
        Heading as `plain` text -> {mark: worth}, for headings whose words are scores.
    """
    by_content = {n[0] for n in notes if n[2] == TEXT}
    worths: dict[str, dict[str, float]] = {}
    for key, column in _columns(tables, by_content, room.worth).items():
        top, points = out_of([] if column.numbers else list(column.times))
        name = column.places[0][0].names[column.places[0][1]]
        if points:
            worths[key] = points
            notes.append((name, f"points out of {top}", "its cells say so"))
        meaning = SCORE if points else _meaning(key, column, room, inquiry, worths)
        if meaning and meaning != FACT:  # what its content alone made of it holds no longer
            notes[:] = [note for note in notes if (note[0], note[2]) != (key, TEXT)]
        if meaning == REMARK:
            notes.append((name, "remarks", "words of many kinds, written freely"))
        for table, c in column.places:
            if meaning in (REMARK, LEFT_OUT, FACT):
                table.roles[c] = meaning
            elif meaning == TASTER:
                table.roles[c] = TASTER
                table.extra.pop(TASTER, None)
            elif meaning in (SCORE, "asked"):
                table.roles[c] = SCORE
                if meaning == "asked":
                    table.flaws.append(doubt(column=c))
    return worths


def _columns(tables: list[Table], by_content: set[str], declared: Mapping[str, float]) -> dict[str, _Column]:
    """Headings under which words stand: taken for facts by what they hold, or for scores though few are numbers."""
    found: dict[str, _Column] = {}
    for table in tables:
        for c, role in enumerate(table.roles):
            key = plain(table.names[c])
            if not (role == SCORE or (role == FACT and key in by_content and not role_of(table.headers[c]))):
                continue
            one = found.setdefault(key, _Column([], {}, {}))
            one.places.append((table, c))
            cells = table.cells(c)
            kind = table.parsed(c, declared).kind
            count = np.bincount(cells.codes[_of_marks(table)], minlength=len(cells.values))
            one.numbers += int(count[kind == Kind.NUMBER].sum())
            for at in np.flatnonzero((kind != Kind.NUMBER) & (count > 0)).tolist():
                text = cells.tidied[at]
                if kind[at] == Kind.PROBLEM and isinstance(cells.values[at], str):
                    one.times[text] = one.times.get(text, 0) + int(count[at])
                elif kind[at] == Kind.BLANK and text:
                    one.blanks[text] = one.blanks.get(text, 0) + int(count[at])
    return {key: one for key, one in found.items() if one.times}


def _of_marks(table: Table) -> np.ndarray | slice:
    """Rows that may hold scores: where descriptors stand in a column, not those of facts and remarks."""
    columns = table.where(DESCRIPTOR)
    if len(columns) != 1:
        return slice(None)
    return table.cells(columns[0]).mask(lambda v: role_of(v) not in BESIDE)


def _meaning(key: str, column: _Column, room: Room, inquiry: Inquiry, worths: dict[str, dict[str, float]]) -> str:
    """What the words under a heading are: "score", "remark", "fact", "left out", "asked"; "" to leave things be."""
    table, c = column.places[0]
    scored = table.roles[c] == SCORE
    signs = any(tidy(m).strip("+=±") == "" for m in column.times)
    blanks = {m: n for m, n in column.blanks.items() if signs and tidy(m).strip("-\u2212\u2013") == ""}
    marks = column.times | blanks
    known = room.worth | {m: w for m, w, taster, descriptor in room.own_marks if descriptor == key and not taster}
    if all(mark_text(m) in known for m in marks):
        worths[key] = {mark_text(m): known[mark_text(m)] for m in marks}
        return SCORE
    guess = guessed_worth(list(marks))
    if scored and not (signs or (guess and column.filled >= 2)):
        _list(inquiry, marks, guess, column)
        return ""
    if not scored and not guess:
        kind = _by_variation(column)
        if kind != "asked":
            return kind
    return _asked(key, column, marks, guess, known, inquiry, worths)


def _by_variation(column: _Column) -> str:
    """Words without a known order: facts where one lot has one word, remarks where they are many, else asked."""
    table, c = column.places[0]
    words, filled = len(column.times), column.filled
    if not _varies(column.places):
        return FACT if not is_descriptor_word(table.headers[c]) or words > _FEW else "asked"
    if words > _FEW or filled < 3 * words or np.mean([len(w.split()) for w in column.times]) > 2:
        return REMARK
    return "asked"


def _varies(places: list[tuple[Table, int]]) -> bool:
    """Whether a lot has two rows with different words."""
    said: dict[str, set[str]] = {}
    for table, c in places:
        keys = table.where(LOT) or table.where(CODE)
        lots = table.cells(keys[0]) if keys else table.extra.get(LOT)
        if lots is None:
            continue
        words = table.cells(c)
        for lot, word in {(int(a), int(b)) for a, b in zip(lots.codes, words.codes, strict=True)}:
            if tidy(words.values[word]):
                said.setdefault(plain(lots.values[lot]), set()).add(plain(words.values[word]))
    return any(len(w) > 1 for w in said.values())


def _asked(
    key: str, column: _Column, marks: dict[str, int], guess: dict[str, float], known: Mapping[str, float],
    inquiry: Inquiry, worths: dict[str, dict[str, float]],
) -> str:  # fmt: skip
    table, c = column.places[0]
    here = np.flatnonzero(table.cells(c).mask(lambda v: tidy(v) in marks))
    row = int(table.rows[here[0] if len(here) else 0]) if len(table.rows) else None
    seen = ", ".join(f"{m} ({n} times)" for m, n in sorted(marks.items(), key=lambda x: -x[1])[:12])
    name, spelled = table.names[c], ", ".join(f"{m} = {w:g}" for m, w in guess.items())
    answer = inquiry.ask(
        f"What are the words under {name!r}? If scores, their worths stand in sheet marks (guessed: {spelled})."
        if spelled else f"What are the words under {name!r}? If scores, their worths stand in sheet marks.",
        (table.sheet, row, c, next(iter(marks)), table.headers[c]), seen=seen, guess="scores" if guess else REMARK,
        allowed=MEANINGS, reason=f"words where scores may stand: {', '.join(list(marks)[:6])}",
    )  # fmt: skip
    _list(inquiry, marks, guess, column)
    if answer == "scores":
        worth = {mark_text(m): known.get(mark_text(m), guess.get(m, np.nan)) for m in marks}
        if all(mark_text(m) in known or m in guess for m in marks):
            worths[key] = worth
            return SCORE
        return "asked"
    return answer or "asked"


def _list(inquiry: Inquiry, marks: dict[str, int], guess: dict[str, float], column: _Column) -> None:
    """Hold marks ready for the room to say what they are worth, in the order guessed."""
    table, c = column.places[0]
    own = "" if table.is_down or (TASTER in table.across and not table.names[c]) else table.names[c]
    for mark in sorted(marks, key=lambda m: (guess.get(m, np.inf), m)):
        alone = guess if mark in guess else guessed_worth([mark]) if NUMBER_FIRST.fullmatch(mark) else {}
        inquiry.marks.append((mark, alone.get(mark, np.nan), own, marks[mark], table.sheet.label))
