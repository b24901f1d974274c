"""Pages: one base for all of them, and what each kind of review shows of its own."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, NamedTuple

from panelstats.arguments import checked
from panelstats.output import write_whole
from panelstats.report.pages.head import SET_ASIDE, facts, lede, provenance
from panelstats.report.pages.ledger import ledger
from panelstats.report.pages.render import render
from panelstats.report.pages.steps import stepless, steps
from panelstats.report.tables import plain, shown
from panelstats.result import Act
from panelstats.review import as_review
from panelstats.sheets.reading.account import taken
from panelstats.speech import said

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import pandas as pd

    from panelstats.result import Result
    from panelstats.review import Review
    from panelstats.scores.table import Scores


class Kind(NamedTuple):
    """What a page shows beyond the base: a template, and the module beside this one whose `blocks` give its values.

    One that lists lots takes what is known of them from the scores; of a result alone it has no more than any other.
    """

    template: str
    module: str
    lists_lots: bool = False


# The page of a review goes by the first of these results that it holds; any other review shows its answers beside
# what its results draw.
PLAIN = Kind("pictured.html.j2", "pictured")
KINDS = {
    "LotProfiles": Kind("summary.html.j2", "summary", lists_lots=True),
    "GardenLetter": Kind("garden.html.j2", "garden"),
    "Shortlist": Kind("day.html.j2", "daypage", lists_lots=True),
    "LotComparison": Kind("room.html.j2", "roompage", lists_lots=True),
    "LotMap": Kind("map.html.j2", "mappage"),
    "StandardMatch": Kind("blend.html.j2", "blend"),
    "SeasonAudit": Kind("season.html.j2", "seasonpage"),
    "TraineeAssessment": Kind("trainees.html.j2", "trainees"),
    "TasterAssessment": Kind("tasters.html.j2", "tasterspage"),
    "JudgedAnswers": Kind("differ.html.j2", "differ"),
    "DifferenceTest": Kind("differ.html.j2", "differ"),
}


@checked()
def write_report(review: Review | Result, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write the page of a review: one file, no script, nothing fetched.

    Parameters
    ----------
    review : Review or Result
        From `review_session`, `review_garden`, `review_blends`, `review_trainees`, `review_season`, `review_answers`,
        or the result of one analysis.
    path : str or Path
        Ending in .html. Our own earlier page is replaced, another file only with `overwrite`.

    Returns
    -------
    Path
        The page. The same review gives the same bytes: the date printed is the session's.

    Raises
    ------
    DesignError
        Neither a review nor a result was given.
    PanelError
        The file may not or cannot be written.
    """
    review = as_review(review)
    return write_whole(path, page_of(review), overwrite=overwrite, read=review.files)


@checked()
def write_summary(
    scores: Scores, path: str | Path, *, lots: Sequence[str] | None = None, session: str | None = None,
    densities: pd.DataFrame | None = None, grams: float | None = None, millilitres: float | None = None,
    level: float = 0.95, overwrite: bool = False,
) -> Path:  # fmt: skip
    """Write the page for a buyer: the page of `review_summary`.

    Parameters
    ----------
    scores : Scores
    path : str or Path
        Ending in .html.
    lots, session, densities, grams, millilitres, level
        As for `review_summary`.

    Raises
    ------
    DesignError
        No such lot or session.
    PanelError
        The file may not or cannot be written.
    """
    from panelstats.questions.aboutsales import review_summary  # noqa: PLC0415 - this page alone asks a question itself

    review = review_summary(scores, lots=lots, session=session, densities=densities, grams=grams,
                            millilitres=millilitres, level=level)  # fmt: skip
    return write_report(review, path, overwrite=overwrite)


def page_of(review: Review) -> bytes:
    """The page of a review as the bytes of its file."""
    held = {type(result).__name__ for _, result in review.results}
    fitting = (kind for name, kind in KINDS.items() if name in held and not (kind.lists_lots and review.scores is None))
    kind = next(fitting, PLAIN)
    blocks = import_module(f"{__package__}.{kind.module}").blocks  # the analyses of one page alone are loaded
    return render(kind.template, review, _base(review) | blocks(review))


def _base(review: Review) -> dict[str, object]:
    """What every page tells."""
    scores = review.scores
    now = [verdict for verdict in review.verdicts if verdict.act == Act.NOW]
    rest = [verdict for verdict in review.verdicts if verdict.act != Act.NOW]
    records = {name: table for name, table in review.records.items() if name in ("account", "problems")}
    inferred = [] if scores is None else scores.inferred.itertuples(index=False)
    return {
        "title": said(review.title),
        "heading": f"{said(review.title)}: {said(review.question)}",
        "lede": lede(review),
        "first": now,
        "facts": () if scores is None else facts(scores, review.session),
        "incomplete": bool(records) and bool(records["account"][SET_ASIDE].sum()),
        "said": review.said,
        "ledger": ledger(stepless(rest)),
        "steps": steps(rest),
        "results": [(title, result, shown(result.tables(), title)) for title, result in review.results],
        "inferred": [taken(*map(plain, row)) for row in inferred],
        "records": shown(records, "read"),
        "provenance": provenance(review),
    }
