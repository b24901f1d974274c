"""What the worker does: look at the sheets, note answers, answer a question with a page and a workbook."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import panelstats as pst
from panelstats.desk.asks import ASKS, EACH, Ask, Facts, Given, Source
from panelstats.desk.folder import key_of
from panelstats.desk.worker import in_words, tell
from panelstats.filenames import file_names, source_name

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    import pandas as pd

_CHOICES = 2000  # names offered in a list
_CELLS = ("scores", "blanks", "faults", "words", "facts", "set_aside")
_WRITTEN = {"": "not said", "given": "score", "?": "not understood yet"}
# What lists without scores are called here.
_LISTS = {"answers": "answers of difference tests", "densities": "weighings of the leaf", "stock": "the stock to mix"}
_LAST: dict[tuple[str, str, bool], pst.Scores] = {}
_LISTED: dict[tuple[str, str], frozenset[str]] = {}


def read(folder: str, state: str, set_aside: bool) -> pst.Scores:
    """The scores of the room; what was read last is kept while nothing changes."""
    wanted = (folder, state, set_aside)
    if wanted not in _LAST:
        tell("reading")
        scores = pst.read_scores(Path(folder), set_aside=set_aside)
        _LAST.clear()
        _LAST[wanted] = scores
    return _LAST[wanted]


def look(folder: str, state: str) -> dict[str, Any]:
    """How the room's sheets are read, as plain values for the page: files, views, questions, account, facts."""
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


_NO_FACTS: Facts = {
    **dict.fromkeys(("sessions", "lots", "tasters", "trainees", "standards", "gardens", "money", "descriptors"), ()),
    "answers": False, "densities": False, "stock": False,
}  # fmt: skip
NOTHING: dict[str, Any] = {
    "files": [], "views": {}, "questions": [], "marks": [], "problems": [], "account": "", "facts": _NO_FACTS,
    "open": 0, "since": "", "stands": "",
}  # fmt: skip


def _facts(root: Path, state: str, found: pst.Examination) -> Facts:
    """What the data hold, for the questions that need it."""
    facts = dict(_NO_FACTS)
    listed = _lists(root, state, found)
    if _in_notes(found, "a register"):  # tables of a room's workbook, whatever they hold
        facts |= {"answers": _holds(pst.answers_in, root), "densities": _holds(pst.read_densities, root)}
    facts |= dict.fromkeys(listed, True)
    try:
        scores = read(str(root), state, set_aside=True)
    except pst.PanelError:
        return facts
    lots, tasters = scores.lots, scores.tasters
    roles = lots["role"].astype(str) if "role" in lots else lots["lot"].astype(str).map(lambda _: "")
    means = found.columns["means"]
    return facts | {
        "sessions": _names(scores.sessions["session"], latest=True), "lots": _names(lots["lot"]),
        "tasters": _names(tasters["taster"]),
        "trainees": _names(tasters.loc[tasters["role"] == "trainee", "taster"]),
        "standards": [*_names(lots.loc[roles == "standard", "lot"]), *_names(lots.loc[roles != "standard", "lot"])],
        "gardens": _names(lots["garden"]) if "garden" in lots else [],
        "descriptors": _names(scores.descriptors["descriptor"]),
        "money": _names(found.columns.loc[means == "money", "heading"].map(str.casefold)),
    }  # fmt: skip


def _lists(root: Path, state: str, found: pst.Examination | None = None) -> frozenset[str]:
    """Lists without scores among the sheets: answers, densities, stock."""
    wanted = (str(root), state)
    if wanted not in _LISTED:
        met = pst.examine_sheets(root) if found is None else found
        _LISTED.clear()
        _LISTED[wanted] = frozenset(_in_notes(met, "a list").values())
    return _LISTED[wanted]


def _holds(reader: Callable[[Path], pd.DataFrame | None], root: Path) -> bool:
    """Whether a reader finds something, be it with faults: these it tells when it is asked."""
    try:
        found = reader(root)
    except pst.SheetError:
        return False
    return found is not None and len(found) > 0


def _names(column: Iterable[object], *, latest: bool = False) -> list[str]:
    names = [name for name in dict.fromkeys(map(str, column)) if name and name != "nan"]
    return (names[::-1] if latest else names)[:_CHOICES]


def _in_notes(found: pst.Examination, what: str) -> dict[str, str]:
    """Files of which the notes say that they are a register, or a list; and why."""
    notes = found.notes[found.notes["value"] == what]
    return {label.split(", sheet ")[0]: why for label, why in zip(notes["what"], notes["why"], strict=True)}


def _since(notes: pd.DataFrame) -> str:
    told = notes.loc[(notes["what"] == "headings") & notes["value"].str.startswith("read as"), "value"]
    return str(told.iloc[0]) if len(told) else ""


def _account(table: pd.DataFrame) -> str:
    """The account in one line that adds up."""
    if not len(table):
        return ""
    sums = {name: int(table[name].sum()) for name in _CELLS}
    parts = [f"{number:,} {name.replace('_', ' ')}" for name, number in sums.items() if number]
    return f"{int(table['seen'].sum()):,} cells = {' + '.join(parts) or '0 scores'}"


def _questions(found: pst.Examination) -> list[dict[str, Any]]:
    rows = []
    for asked, place in zip(found.questions.to_dict("records"), found.places.to_dict("records"), strict=True):
        allowed = list(dict.fromkeys([*([asked["guess"]] if asked["guess"] else []), *place["allowed"]]))
        rows.append({
            **{name: str(asked[name]) for name in ("what", "where", "seen", "guess", "answer")},
            "file": place["file"], "sheet": place["sheet"], "row": int(place["row"]), "column": int(place["column"]),
            "choices": allowed, "free": not place["allowed"], "key": key_of(f"{asked['what']}|{asked['where']}"),
        })  # fmt: skip
    return rows


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
    registers = _in_notes(found, "a register")
    lists = _in_notes(found, "a list")
    names = dict.fromkeys([*(view.file for view in found.views), *registers, *lists, *found.problems["file"]])
    rows = []
    for name in names:
        waiting = sum(q["file"] == name and not q["answer"] for q in asked)
        wrong = int((found.problems["file"] == name).sum())
        held = counts.get(name)
        told = "" if held is None else ", ".join(_count(int(n), str(what)) for what, n in held.items() if n)
        rows.append({"name": name, "key": key_of(name), **_line(found, name, told, (waiting, wrong))})
    return rows


def _line(found: pst.Examination, name: str, told: str, open_: tuple[int, int]) -> dict[str, str]:
    waiting, wrong = open_
    if waiting:
        return {
            "state": "questions",
            "line": f"{told}: {_count(waiting, 'questions')}" if told else _count(waiting, "questions"),
        }
    if wrong:
        first = found.problems.loc[found.problems["file"] == name].iloc[0]
        return {"state": "problems", "line": f"{_count(wrong, 'things')} to settle: {first['reason']}"
                if first["row"] else f"{first['reason']}: {first['action']}"}  # fmt: skip
    if told:
        return {"state": "ready", "line": f"{told}: ready"}
    lists = _in_notes(found, "a list")
    if name in lists:
        return {"state": "register", "line": f"{_LISTS[lists[name]]}: ready"}
    if name in _in_notes(found, "a register"):
        return {"state": "register", "line": "what the room knows: obeyed"}
    return {"state": "none", "line": "no scores in it"}


def _count(number: int, what: str) -> str:
    return f"{number:,} {what if number != 1 else what.removesuffix('s')}"


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


# --- answers ----------------------------------------------------------------------------------------------------------


def note(folder: str, said: dict[str, list[dict[str, Any]]]) -> None:
    """Write what the room says into its room.xlsx."""
    import pandas as pd

    tell("writing room.xlsx")
    pst.write_answers(Path(folder), {name: pd.DataFrame(rows) for name, rows in said.items() if rows})


def invent(folder: str) -> None:
    """Put the invented room among the sheets."""
    tell("making the invented room")
    with tempfile.TemporaryDirectory() as made:
        pst.example.write_example(made)
        shutil.copyfile(Path(made) / "bench.xlsx", Path(folder) / "sheets" / "invented-room.xlsx")


def starter() -> bytes:
    """A blank score sheet."""
    with tempfile.TemporaryDirectory() as made:
        return pst.write_starter(Path(made) / "starter.xlsx").read_bytes()


def ask(folder: str, state: str, which: str, given: Given) -> str:
    """Answer a question: its page and its workbook among the pages; the name of the page, the first where of each."""
    asked = ASKS[which]
    root, aside = Path(folder), bool(given.get("set_aside"))
    source = Source(root, lambda: read(folder, state, aside), tell, _lists(root, state) if state else frozenset())
    for entry in asked.entries:
        if entry.each and given.get(entry.name) == EACH:
            names = _names(source.read().lots[entry.name])
            pages = [_answered(asked, source, {**given, entry.name: name}) for name in names]
            return pages[0]
    return _answered(asked, source, given)


def _answered(asked: Ask, source: Source, given: Given) -> str:
    """One page, its workbook, and what belongs to it in a folder of its name."""
    review = asked.review(source, given)
    tell("page and workbook")
    page = source.folder / "pages" / f"{source_name(source.folder)}-{_ending(asked, review, given)}.html"
    if asked.more is not None:
        asked.more(review, page.with_suffix(""), source)
    pst.write_workbook(review, page.with_suffix(".xlsx"))
    pst.write_report(review, page)
    return page.name


def _ending(asked: Ask, review: pst.Review, given: Given) -> str:
    """What the name of a page ends in: the question and what was chosen, or the id of a plan."""
    for _, result in review.results:
        if isinstance(result, pst.ServingPlan | pst.PlatePlan):
            return f"{asked.ending}-{result.plan_id}"
    chosen = [given[entry.name] for entry in asked.entries if entry.choices and given.get(entry.name)]
    return "-".join([asked.ending, *(file_names([each])[each] for each in chosen)])
