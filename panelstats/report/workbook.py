"""The workbook: a sheet a table, numbers shown with the decimals of the page and kept with more."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.lots.compare.standing import standings
from panelstats.lots.plaintables import by_name
from panelstats.lots.worth import OVERALL
from panelstats.ourfiles import cell_text, new_workbook
from panelstats.output import write_whole
from panelstats.report.pages.head import provenance
from panelstats.report.tables import COUNT, NUMBER, SHARE, TEXT, Column, P, columns
from panelstats.report.titles import table_title
from panelstats.review import Review, as_review
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT
from panelstats.speech import Phrase, said

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from xlsxwriter import Workbook
    from xlsxwriter.format import Format
    from xlsxwriter.worksheet import Worksheet

    from panelstats.lots.compare.fit import LotComparison
    from panelstats.lots.shortlist.fit import Shortlist
    from panelstats.panel.training.fit import TraineeAssessment
    from panelstats.result import Result, Verdict

_ROWS = 1_048_575  # rows below the header that a sheet holds: ECMA-376 workbooks
_WIDEST, _LONGEST_NAME = 60, 31
# Tabs of the main tables, by the title of the result; any other has the title itself.
_TABS = {
    "Panel": Phrase("Whether the tasters agree"),
    "Tasters": Phrase("Who can be relied on"),
    "Trainees": Phrase("Whose scores may count"),
    "Season": Phrase("Who has moved"),
    "Faults": Phrase("Faults noticed"),
    "Pots": Phrase("Pots brewed wrong"),
    "Blends": Phrase("Beside the standard"),
    "Tests": Phrase("Difference tests"),
    "Packs": Phrase("Whether it fits the pack"),
    "Densities": Phrase("How dense the leaf is"),
}
_LOOKED_AT = 200  # rows that decide how wide a column is


@checked()
def write_workbook(review: Review | Result, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write every verdict and every table of a review into a workbook, a sheet each.

    Parameters
    ----------
    review : Review or Result
        From `review_session`, `review_blends`, `review_trainees`, `review_season`, `review_answers`, or the result of
        one analysis.
    path : str or Path
        Ending in .xlsx. Our own earlier workbook is replaced, another file only with `overwrite`.

    Returns
    -------
    Path
        The workbook. The same review gives the same bytes.

    Raises
    ------
    DesignError
        Neither a review nor a result was given.
    PanelError
        The file may not or cannot be written.
    """
    review = as_review(review)
    return write_whole(path, workbook_of(review), overwrite=overwrite, read=review.files)


def workbook_of(review: Review) -> bytes:
    """The workbook of a review as the bytes of its file."""
    book, stream = new_workbook()
    sheets = _Sheets(book)
    for name, table in _tables(review):
        sheets.add(str(name), table)
    book.close()
    return stream.getvalue()


def _tables(review: Review) -> Iterator[tuple[str, pd.DataFrame]]:
    """Tabs and tables in the order of the book."""
    for kind, (tab, overview) in _OVERVIEWS.items():
        found = next((result for _, result in review.results if type(result).__name__ == kind), None)
        if found is not None and len(table := overview(found, review)):
            yield tab, table
    yield Phrase("What it says"), _verdicts(review.verdicts)
    for title, result in review.results:
        for name, table in result.tables().items():
            if len(table):
                yield said(_TABS.get(title, title)) if name == "table" else f"{said(title)}: {table_title(name)}", table
    for name, table in review.records.items():
        if len(table) or name == "account":
            yield table_title(name), table
    yield Phrase("How it was worked out"), _notes(review)


def _lots(found: LotComparison, review: Review) -> pd.DataFrame:
    """Every lot with its mean on every descriptor, class by class, the best by what is wanted first."""
    scores = review.scores
    if scores is None or not len(found.means):
        return pd.DataFrame()
    means = found.means.astype({LOT: str, DESCRIPTOR: str})
    wide = means.pivot_table(index=LOT, columns=DESCRIPTOR, values="mean", sort=False)
    order = standings(found, scores.descriptors)
    gardens = scores.lots.assign(**{LOT: scores.lots[LOT].astype(str)}).get([LOT, "garden"])
    told = order if gardens is None else order.merge(gardens, on=LOT, how="left")
    return told.join(wide, on=LOT)


def _ranked(found: Shortlist, review: Review) -> pd.DataFrame:
    """Every lot of a day in the order of its list, with its mark on every word."""
    if not len(found.table):
        return found.table
    table = found.table.astype({LOT: str, DESCRIPTOR: str})
    wide = table.pivot_table(index=LOT, columns=DESCRIPTOR, values="score", sort=False)
    words = [name for name in wide.columns if name != OVERALL]
    overall = table.loc[table[DESCRIPTOR] == OVERALL, [CLASS, LOT, "listed", "chance_best", "merit", "call"]]
    told = overall if len(overall) else table.drop_duplicates(LOT)[[CLASS, LOT]]
    register = None if review.scores is None else review.scores.lots
    if register is not None and "garden" in register:
        told = told.assign(garden=told[LOT].map(by_name(register, LOT)["garden"]))
    return told.join(wide[words], on=LOT)


def _licences(found: TraineeAssessment, _: Review) -> pd.DataFrame:
    """Every trainee with the call on every descriptor."""
    if not len(found.table):
        return found.table
    table = found.table.astype({"trainee": str, DESCRIPTOR: str})
    wide = table.pivot_table(index="trainee", columns=DESCRIPTOR, values="call", aggfunc="first", sort=False)
    overall = found.summary.set_index(found.summary["trainee"].astype(str))["call"].rename("overall")
    return wide.join(overall)[["overall", *wide.columns]].reset_index()


# What comes first in the book, of the first result of each of these kinds; by name, as the analyses that a review did
# not run need not be loaded.
_OVERVIEWS: dict[str, tuple[Phrase, Callable[[Any, Review], pd.DataFrame]]] = {
    "LotComparison": (Phrase("Lots"), _lots),
    "Shortlist": (Phrase("Lots"), _ranked),
    "TraineeAssessment": (Phrase("Trainees"), _licences),
}


def _verdicts(verdicts: Iterable[Verdict]) -> pd.DataFrame:
    rows = [(v.act.word, v.question, v.subject, v.call, v.sentence, v.next_step) for v in verdicts]
    return pd.DataFrame(rows, columns=["act", "question", "subject", "call", "sentence", "next step"])


def _notes(review: Review) -> pd.DataFrame:
    kept = Phrase("Numbers are shown with the digits their uncertainty carries, and kept with five more.")
    methods = [(said(title), str(result.method)) for title, result in review.results]
    rows = [(str(Phrase("how to read")), str(kept)), *methods, (str(Phrase("made from")), provenance(review))]
    return pd.DataFrame(rows, columns=["about", "note"])


class _Sheets:
    """The sheets of one workbook, their names and formats."""

    def __init__(self, book: Workbook) -> None:
        self.book = book
        self.names: set[str] = set()
        self.formats: dict[str, Format] = {}
        self.header = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self.text = book.add_format({"text_wrap": True, "valign": "top"})

    def add(self, name: str, table: pd.DataFrame) -> None:
        """One table, on as many sheets as it needs."""
        for start in range(0, max(len(table), 1), _ROWS):
            self._add(name, columns(table.iloc[start : start + _ROWS]))

    def _add(self, name: str, shown: list[Column]) -> None:
        sheet = self.book.add_worksheet(self._name(name))
        for at, column in enumerate(shown):
            texts = (column if column.kind == TEXT else column.take(slice(_LOOKED_AT))).texts()
            longest = max(map(len, [column.heading, *texts[:_LOOKED_AT]]))
            sheet.set_column(at, at, min(max(longest + 2, 9), _WIDEST))
            sheet.write_string(0, at, cell_text(column.heading), self.header)
            if column.kind == TEXT:
                for row, text in enumerate(texts, start=1):
                    if text:
                        sheet.write_string(row, at, cell_text(text), self.text)
            else:
                self._write_numbers(sheet, at, column)
        texts_first = next((at for at, column in enumerate(shown) if not column.is_text), 1)
        sheet.freeze_panes(1, min(texts_first, 3))
        if shown and len(shown[0].values):
            sheet.autofilter(0, 0, len(shown[0].values), len(shown) - 1)

    def _write_numbers(self, sheet: Worksheet, at: int, column: Column) -> None:
        """One column of numbers; no limit is said in words, nothing stays empty."""
        formats = {places: self._format(column.kind, int(places)) for places in np.unique(column.places)}
        numbers = column.written()
        for row, (value, places) in enumerate(zip(numbers, column.places.tolist(), strict=True), start=1):
            if math.isfinite(value):
                sheet.write_number(row, at, value, formats[places])
        for row in np.flatnonzero(np.isinf(numbers)).tolist():
            sheet.write_string(row + 1, at, column.take(slice(row, row + 1)).texts()[0], self.text)

    def _format(self, kind: str, places: int) -> Format:
        code = {COUNT: "#,##0", SHARE: "0%", P: '[<0.001]"< 0.001";0.000'}.get(kind, "")
        if kind == NUMBER:
            code = "#,##0" + ("." + "0" * places if places else "")
        if code not in self.formats:
            self.formats[code] = self.book.add_format({"num_format": code, "valign": "top"})
        return self.formats[code]

    def _name(self, wanted: str) -> str:
        """A name a sheet may have: no forbidden signs, 31 characters, used once whatever the case."""
        about, _, words = wanted.rpartition(": ")
        base = _tab(words)
        if about and base.lower() in self.names:  # the same table of another result
            base = _tab(f"{about}, {words[:1].lower()}{words[1:]}")
        name, at = base, 2
        while name.lower() in self.names:
            ending = f" {at}"
            name, at = base[: _LONGEST_NAME - len(ending)] + ending, at + 1
        self.names.add(name.lower())
        return name


def _tab(words: str) -> str:
    return re.sub(r"[\[\]:*?/\\\x00-\x1f]+", " ", words).strip(" '")[:_LONGEST_NAME] or "Table"
