"""The sheet the head taster hands over: one taster, a row per descriptor, what is well and what to train."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from panelstats.arguments import checked
from panelstats.arguments.wording import text
from panelstats.errors import DesignError
from panelstats.filenames import file_names
from panelstats.output import write_whole
from panelstats.panel.tasters.aspectcharts import NOT_TESTED
from panelstats.panel.tasters.fit import TasterAssessment
from panelstats.panel.tasters.naming import APART, CANNOT
from panelstats.panel.training.fit import TraineeAssessment
from panelstats.questions.asking import titled
from panelstats.report.charts.scale import scale_of
from panelstats.report.charts.shapes import key, mark
from panelstats.report.charts.strips import strip, strip_axis
from panelstats.report.charts.weeks import progress_drawing
from panelstats.report.pages.head import SET_ASIDE, from_first_to_last, provenance
from panelstats.report.pages.people import people
from panelstats.report.pages.render import render
from panelstats.report.pages.sheet import (
    NOT_YET,
    READY,
    TRAINEE,
    Line,
    Sheet,
    cell_words,
    some_of,
    taster_sheet,
    trainee_sheet,
)
from panelstats.report.pages.trainees import phrase
from panelstats.review import Review
from panelstats.scores.cells import DESCRIPTOR, SESSION, TASTER
from panelstats.speech import Phrase, said
from panelstats.words import capital, count, listing, number, stated

if TYPE_CHECKING:
    from collections.abc import Hashable
    from pathlib import Path
    from typing import Any

    from markupsafe import Markup

    from panelstats.scores.table import Scores


@checked(taster=text)
def write_taster_page(
    assessment: TasterAssessment | TraineeAssessment, taster: str, path: str | Path, *, scores: Scores | None = None,
    overwrite: bool = False,
) -> Path:  # fmt: skip
    """Write the sheet of one taster or trainee: a page that prints on one leaf.

    Parameters
    ----------
    assessment : TasterAssessment or TraineeAssessment
        From `assess_tasters` or `assess_trainees`.
    taster : str
        Whose sheet.
    path : str or Path
        Ending in .html. Our own earlier page is replaced, another file only with `overwrite`.
    scores : Scores, optional
        What was assessed: its sessions and its digest are then printed.

    Returns
    -------
    Path
        The page.

    Raises
    ------
    DesignError
        Nobody of that name was assessed.
    PanelError
        The file may not or cannot be written.
    """
    read = () if scores is None else scores.files
    return write_whole(path, taster_page(assessment, taster, scores=scores), overwrite=overwrite, read=read)


def taster_page(
    assessment: TasterAssessment | TraineeAssessment, taster: str, *, scores: Scores | None = None
) -> bytes:
    """The sheet of one taster or trainee as the bytes of its file."""
    who = TRAINEE if isinstance(assessment, TraineeAssessment) else TASTER
    known = [str(name) for name in assessment.summary[who]]
    if taster not in known:
        raise DesignError(f"no such {who} was assessed", where=f"taster={taster!r}", do=f"choose {listing(known)}")
    verdict = next(verdict for verdict in assessment.verdicts if verdict.subject == taster)
    review = Review(taster, Phrase("the sheet of a {who}").format(who=said(who)), ((taster, assessment),), scores)
    if isinstance(assessment, TraineeAssessment):
        sheet, advice, sentence = trainee_sheet(assessment, taster), _trainee_advice, phrase(assessment, taster)
        learning = progress_drawing(assessment, taster, key="c")
    else:
        sheet, advice, learning = taster_sheet(assessment, taster), _taster_advice, None
        sentence = _as_sentence(next(person.phrase for person in people(review) if person.name == taster), verdict.call)
    values = {
        "title": review.title,
        "heading": f"{review.title}: {review.question}",
        "tasted": _tasted(scores),
        "verdict": verdict,
        "said_of": sentence,
        "mark": mark(verdict),
        "columns": sheet.chart.columns,
        "lines": _lines(sheet),
        "axes": [strip_axis(scale_of([column], most=3), column.zero) for column in sheet.chart.columns],
        "key": key([sheet.chart]),
        "advice": advice(sheet),
        "bowls": [_bowl(line) for line in sheet.bowls.to_dict("records")],
        "curve": learning,
        "method": assessment.method,
        "aside": _aside(scores),
        "provenance": provenance(review),
    }
    return render("taster.html.j2", review, values)


def _tasted(scores: Scores | None) -> str:
    """The sitting a sheet is about, or how many there were, and their days."""
    if scores is None:
        return ""
    names = [str(name) for name in scores.sessions[SESSION]]
    return titled(scores, names[0]) if len(names) == 1 else from_first_to_last(names)


def _aside(scores: Scores | None) -> str:
    """That cells were set aside, where some were."""
    cells = 0 if scores is None else int(scores.account[SET_ASIDE].sum())
    told = Phrase("{cells} of the score sheets set aside; no figure here rests on them.")
    return told.format(cells=count(cells, "cell")) if cells else ""


def sheets_of(review: Review) -> dict[str, bytes]:
    """The sheet of everybody who was assessed in a review, by a name that a file may have."""
    found = review.find(TraineeAssessment) or review.find(TasterAssessment)
    if found is None:
        return {}
    names = [str(name) for name in found.summary[TRAINEE if isinstance(found, TraineeAssessment) else TASTER]]
    return {file: taster_page(found, name, scores=review.scores) for name, file in file_names(names).items()}


NONE_WELL = Phrase("No word on every count yet.")
NONE_APART = Phrase("Nothing was shown to stand apart.")
EVERY = Phrase("Every word.")
NONE_OPEN = Phrase("Nothing is left open.")


class Advice(NamedTuple):
    """What is said under the sheet: a heading, and descriptors or words."""

    heading: str
    words: str


def _lines(sheet: Sheet) -> list[tuple[Line, list[Markup | None]]]:
    """Every row with its drawings; the cells of a column share one scale."""
    scales = [scale_of([column], most=3) for column in sheet.chart.columns]
    return [
        (line, [strip(cell, scale, cell_words(cell)) for cell, scale in zip(line.cells, scales, strict=True)])
        for line in sheet.lines
    ]


def _as_sentence(said: str, call: str) -> str:
    """A phrase as a sentence; "" where it says no more than the call."""
    return "" if said == call else f"{capital(said)}{'' if said.endswith('?') else '.'}"


def _taster_advice(sheet: Sheet) -> list[Advice]:
    rows = [row for row in sheet.lines if not row.whole]
    well = [row.name for row in rows if row.word not in (APART, CANNOT, NOT_TESTED)]
    shown = Phrase("Shown on every count: {well}.").format(well=some_of(well, len(rows))) if well else NONE_WELL
    return [
        Advice(Phrase("What is well"), shown),
        Advice(Phrase("What to train"), _named(rows, APART, NONE_APART)),
        Advice(Phrase("What cannot be told yet"), _named(rows, CANNOT, NONE_OPEN)),
    ]


def _trainee_advice(sheet: Sheet) -> list[Advice]:
    rows, ready = list(sheet.lines), [row.name for row in sheet.lines if row.word == READY]
    return [
        Advice(Phrase("Counts from today"), f"{listing(ready)}." if ready else Phrase("No descriptor yet.")),
        Advice(Phrase("What to train"), _named(rows, NOT_YET, NONE_APART)),
        Advice(Phrase("What cannot be told yet"), _named(rows, CANNOT, NONE_OPEN)),
    ]


def _named(rows: list[Line], word: str, otherwise: str) -> str:
    found = [row.name for row in rows if row.word == word]
    if len(found) == len(rows) > 1:
        return str(EVERY)
    return f"{some_of(found, len(rows))}." if found else otherwise


def _bowl(line: dict[Hashable, Any]) -> str:
    """One lot to taste again, in words."""
    difference = number(float(line["difference"]), 1, sign=True)
    own, others = stated(line["own"]), number(float(line["others"]), 1)
    return Phrase("Lot {lot}, for {descriptor}: own mark {own}, the others {others} ({difference}).").format(
        lot=line["lot"], descriptor=line[DESCRIPTOR], own=own, others=others, difference=difference
    )
