"""How the sheets of a room are read, as plain values for the pages: files, views, questions, account, facts."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

import panelstats as pst
from panelstats.desk.asks import ALONE, JOINED
from panelstats.desk.folder import key_of
from panelstats.desk.reading import in_notes, lists_among, lists_in, names_in, read, registered
from panelstats.desk.worker import in_words, tell
from panelstats.speech import Phrase, heard
from panelstats.words import count, stated

if TYPE_CHECKING:
    from collections.abc import Callable

    import pandas as pd

    from panelstats.desk.entries import Facts

# What cells of the account are, by its columns.
_CELLS = {"scores": "score", "blanks": "blank", "faults": "fault", "words": "word", "facts": "fact"}
_OPEN = Phrase("{n} open")
_READY, _QUESTIONS = Phrase("{what}: ready"), Phrase("{what}: {questions}")
_SETTLE = Phrase("{things} to settle: {what}")
_WRITTEN = {"": "not said", "given": "score", "?": "not understood yet"}
# What lists without scores are called here.
_LISTS = {
    "answers": Phrase("answers of difference tests"),
    "densities": Phrase("weighings of the leaf"),
    "stock": Phrase("the stock to mix"),
}
_OBEYED, _NONE, _LEFT = Phrase("what the room knows: obeyed"), Phrase("no scores in it"), Phrase("not read, {why}")

_BELOW = "their worths stand below"
_WORTHS = "their worths stand in sheet marks"
# What tells a question about one column from the same about another: what is quoted, what is guessed of it.
_ALIKE = re.compile(r"'[^']*'|\(guessed: [^)]*\)")


def look(folder: str, state: str, lang: str = "en") -> dict[str, Any]:
    """How the room's sheets are read, as plain values for the page: files, views, questions, account, facts."""
    with pst.language(lang):
        return _looked(folder, state)


def _looked(folder: str, state: str) -> dict[str, Any]:
    tell("reading the sheets")
    root = Path(folder)
    try:
        found = pst.examine_sheets(root)
    except pst.PanelError as error:
        return {**NOTHING, "stands": in_words(error)}
    problems = found.problems
    facts = _facts(root, state, found)
    asked = _questions(found)
    files = _files(found, asked)
    return {
        "files": files, "views": _view_values(found), "questions": asked, "marks": _marks(found),
        "problems": _problems(problems), "account": _account(found.account), "facts": facts,
        "open": len(problems), "since": _since(found.notes), "stands": "",
    }  # fmt: skip


_NAMES = (
    "sessions", "lots", "tasters", "trainees", "standards", "gardens", "money", "descriptors", "ways", "marks",
)  # fmt: skip
_NO_FACTS: Facts = {
    **dict.fromkeys(_NAMES, ()),
    **dict.fromkeys(("answers", "densities", "stock"), False),
    "scale": ("", ""),
}
NOTHING: dict[str, Any] = {
    "files": [], "views": {}, "questions": [], "marks": [], "problems": [], "account": "", "facts": _NO_FACTS,
    "open": 0, "since": "", "stands": "",
}  # fmt: skip


def _facts(root: Path, state: str, found: pst.Examination) -> Facts:
    """What the data hold, for the questions that need it."""
    facts = {**_NO_FACTS, "marks": registered(root, "marks")}
    listed = lists_among(root, state, found)
    if in_notes(found, "a register"):  # tables of a room's workbook, whatever they hold
        facts |= {"answers": _holds(pst.answers_in, root), "densities": _holds(pst.read_densities, root)}
    facts |= dict.fromkeys(listed, True)
    try:
        scores = read(str(root), state, set_aside=True)
    except pst.PanelError:
        return facts
    lots, tasters = scores.lots, scores.tasters
    roles = lots["role"].astype(str) if "role" in lots else lots["lot"].astype(str).map(lambda _: "")
    means = found.columns["means"]
    sessions = names_in(scores.sessions["session"], latest=True)
    return facts | {
        "sessions": sessions, "ways": [ALONE, JOINED] if len(sessions) > 1 else [],
        "scale": _scale(scores), "lots": names_in(lots["lot"]),
        "tasters": names_in(tasters["taster"]),
        "trainees": names_in(tasters.loc[tasters["role"] == "trainee", "taster"]),
        "standards": [*names_in(lots.loc[roles == "standard", "lot"]), *names_in(lots.loc[roles != "standard", "lot"])],
        "gardens": names_in(lots["garden"]) if "garden" in lots else [],
        "descriptors": names_in(scores.descriptors["descriptor"]),
        "money": names_in(found.columns.loc[means == "money", "heading"].map(str.casefold)),
    }  # fmt: skip


def _scale(scores: pst.Scores) -> tuple[str, str]:
    """The limits that the room declared, where all descriptors share them; else nothing."""
    ends = scores.descriptors[["low", "high"]].drop_duplicates()
    if len(ends) != 1 or ends.isna().any(axis=None):
        return "", ""
    return f"{ends['low'].iloc[0]:g}", f"{ends['high'].iloc[0]:g}"


def _holds(reader: Callable[[Path], pd.DataFrame | None], root: Path) -> bool:
    """Whether a reader finds something, be it with faults: these it tells when it is asked."""
    try:
        found = reader(root)
    except pst.SheetError:
        return False
    return found is not None and len(found) > 0


def _since(notes: pd.DataFrame) -> str:
    told = notes.loc[(notes["what"] == "headings") & notes["value"].str.startswith("read as"), "value"]
    return str(told.iloc[0]) if len(told) else ""


def _account(table: pd.DataFrame) -> str:
    """The account in one line that adds up."""
    if not len(table):
        return ""
    sums = {name: int(table[name].sum()) for name in (*_CELLS, "set_aside")}
    parts = [count(sums[name], each) for name, each in _CELLS.items() if sums[name]]
    if sums["set_aside"]:
        parts.append(_OPEN.format(n=stated(sums["set_aside"], ",")))
    return f"{count(int(table['seen'].sum()), 'cell')} = {' + '.join(parts) or count(0, 'score')}"


def _questions(found: pst.Examination) -> list[dict[str, Any]]:
    rows = []
    for asked, place in zip(found.questions.to_dict("records"), found.places.to_dict("records"), strict=True):
        allowed = list(dict.fromkeys([*([asked["guess"]] if asked["guess"] else []), *place["allowed"]]))
        rows.append({
            **{name: str(asked[name]) for name in ("what", "where", "seen", "guess", "answer")},
            "file": place["file"], "sheet": place["sheet"], "row": int(place["row"]), "column": int(place["column"]),
            "choices": allowed, "free": not place["allowed"], "key": key_of(f"{asked['what']}|{asked['where']}"),
            "worths": _WORTHS in asked["what"], "told": heard(asked["what"]).replace(heard(_WORTHS), heard(_BELOW)),
            "alike": _ALIKE.sub("", asked["what"]),
        })  # fmt: skip
    open_ = Counter(row["alike"] for row in rows if not row["answer"])
    return [{**row, "others": 0 if row["answer"] else open_[row["alike"]] - 1} for row in rows]


def _marks(found: pst.Examination) -> list[dict[str, Any]]:
    import pandas as pd

    return [
        {"mark": str(row["mark"]), "guess": "" if pd.isna(row["guess"]) else f"{row['guess']:g}",
         "descriptor": "" if pd.isna(row["descriptor"]) else str(row["descriptor"]),
         "times": 0 if pd.isna(row["times"]) else int(row["times"]),
         "key": key_of(f"{row['mark']}|{row['descriptor']}")}
        for row in found.marks.to_dict("records")
    ]  # fmt: skip


def _problems(table: pd.DataFrame) -> list[dict[str, Any]]:
    """What stands in the way and no question settles: equal ones together, with how many they are."""
    rows: dict[tuple[str, ...], dict[str, Any]] = {}
    for row in table.to_dict("records"):
        if "sheet questions (" in row["action"]:  # a question, asked above
            continue
        said = rows.setdefault(
            (row["file"], row["reason"], row["value"]),
            {**{name: str(row[name]) for name in ("file", "sheet", "column", "value", "reason", "action", "cell")},
             "times": 0},
        )  # fmt: skip
        said["times"] += 1
    return list(rows.values())


def _files(found: pst.Examination, asked: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Each file with the line that answers its dropping."""
    counts = found.files.set_index("file").to_dict("index")
    registers = in_notes(found, "a register")
    lists = in_notes(found, "a list")
    names = dict.fromkeys([*(view.file for view in found.views), *registers, *lists, *found.problems["file"]])
    rows = []
    for name in names:
        waiting = sum(q["file"] == name and not q["answer"] for q in asked)
        wrong = int((found.problems["file"] == name).sum())
        held = counts.get(name)
        told = ", ".join(count(int(n), str(what).removesuffix("s")) for what, n in (held or {}).items() if n)
        rows.append({"name": name, "key": key_of(name), **_line(found, name, told, (waiting, wrong))})
    return rows


def _line(found: pst.Examination, name: str, told: str, open_: tuple[int, int]) -> dict[str, str]:
    waiting, wrong = open_
    if waiting:
        asked = count(waiting, "question")
        return {"state": "questions", "line": _QUESTIONS.format(what=told, questions=asked) if told else asked}
    if wrong:
        first = found.problems.loc[found.problems["file"] == name].iloc[0]
        what, do = heard(first["reason"]), heard(first["action"])
        settled = _SETTLE.format(things=count(wrong, "thing"), what=what) if first["row"] else f"{what}: {do}"
        return {"state": "problems", "line": settled}
    if told:
        return {"state": "ready", "line": _READY.format(what=told)}
    lists, left = lists_in(found), in_notes(found, "not read")
    if name in lists:
        return {"state": "register", "line": _READY.format(what=_LISTS[lists[name]])}
    if name in in_notes(found, "a register"):
        return {"state": "register", "line": str(_OBEYED)}
    return {"state": "none", "line": _LEFT.format(why=heard(left[name])) if name in left else str(_NONE)}


def _view_values(found: pst.Examination) -> dict[str, list[dict[str, Any]]]:
    """The top of each sheet with what its columns are taken for, by the file's key."""
    views: dict[str, list[dict[str, Any]]] = {}
    for view in found.views:
        heads = found.columns[(found.columns["file"] == view.file) & (found.columns["sheet"] == view.sheet)]
        columns: dict[int, dict[str, str]] = {}
        for head in heads.drop_duplicates("column").to_dict("records"):
            means = str(head["means"])
            columns[int(head["column"])] = {
                "heading": str(head["heading"]), "where": str(head["where"]), "means": _WRITTEN.get(means, means),
                "why": str(head["why"]), "scores": str(head["descriptor"]), "key": key_of(str(head["heading"])),
            }  # fmt: skip
        width = max((len(cells) for _, _, cells in view.rows), default=0)
        views.setdefault(key_of(view.file), []).append({
            "file": view.file, "sheet": view.sheet, "rows": view.rows, "width": width, "columns": columns,
            "length": view.length,
        })  # fmt: skip
    return views
