"""What the worker does: note answers, answer a question with a page and a workbook."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import panelstats as pst
from panelstats.desk.asks import ASKS, Ask, Source
from panelstats.desk.entries import EACH
from panelstats.desk.folder import Folder
from panelstats.desk.reading import known, lists_among, names_in, read
from panelstats.desk.worker import tell
from panelstats.filenames import file_names, source_name

if TYPE_CHECKING:
    from panelstats.desk.entries import Given

# What a column of marks is not taken for.
_NO_SCORES = frozenset(
    ["lot", "taster", "session", "pot", "code", "position", "look", "descriptor", "stage", "fact", "money", "left out"]
)


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
        with (Path(made) / "bench.xlsx").open("rb") as book:
            Folder(Path(folder)).add("invented-room.xlsx", book)


def starter() -> bytes:
    """A blank score sheet."""
    with tempfile.TemporaryDirectory() as made:
        return pst.write_starter(Path(made) / "starter.xlsx").read_bytes()


def unfit(folder: str, words: list[str]) -> dict[str, str]:
    """Of words that are to be scored, those that a heading of a sheet would not mean so; and what it would mean."""
    import pandas as pd

    marks = {
        word: [(7 * row + 5 * row * place + 3 * place) % 11 for row in range(6)] for place, word in enumerate(words)
    }
    sheet = pd.DataFrame({"session": "1", "lot": [f"lot {row}" for row in range(6)], "taster": "one", **marks})
    room = Path(folder) / "room.xlsx"
    heads = pst.examine_sheets(sheet.astype(str), room=room if room.exists() else None).columns
    means = dict(zip(heads["heading"], heads["means"], strict=True))
    return {word: means[word] for word in words if means.get(word) in _NO_SCORES}


def ask(folder: str, state: str, which: str, given: Given, lang: str = "en") -> str:
    """Answer a question: its page and its workbook among the pages; the name of the page, the first where of each."""
    asked = ASKS[which]
    root, aside = Path(folder), bool(given.get("set_aside"))
    source = Source(
        root, lambda: read(folder, state, aside), lambda: known(folder, state), tell,
        lists_among(root, state) if state else frozenset(),
    )  # fmt: skip
    with pst.language(lang):
        pages = [_answered(asked, source, each) for each in _all_given(asked, source, given)]
    return pages[0]


def _all_given(asked: Ask, source: Source, given: Given) -> list[Given]:
    """What was chosen; where each of them was, each of them."""
    for entry in asked.entries:
        if entry.each and given.get(entry.name) == EACH:
            lots = source.read().lots
            names = names_in(lots[entry.name]) if entry.name in lots else []
            return [{**given, entry.name: name} for name in names] or [given]
    return [given]


def _answered(asked: Ask, source: Source, given: Given) -> str:
    """One page, its workbook, and what belongs to it in a folder of its name."""
    review = asked.review(source, given)
    tell("page and workbook")
    page = source.folder / "pages" / f"{source_name(source.folder)}-{_ending(asked, review, given)}.html"
    if asked.more is not None:
        asked.more(review, page.with_suffix(""), source, given)
    pst.write_workbook(review, page.with_suffix(".xlsx"))
    pst.write_report(review, page)
    return page.name


def _ending(asked: Ask, review: pst.Review, given: Given) -> str:
    """What the name of a page ends in: the question and what was chosen, or the id of a plan."""
    for _, result in review.results:
        if isinstance(result, pst.ServingPlan | pst.PlatePlan):
            return f"{asked.ending}-{result.plan_id}"
    chosen = [given[entry.name] for entry in asked.entries if entry.named and given.get(entry.name)]
    return "-".join([asked.ending, *(file_names([each])[each] for each in chosen)])
