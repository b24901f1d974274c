"""What the page of a season shows of its own: who moved and since when, a picture each, everybody, the row."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.panel.season.fit import SeasonAudit
from panelstats.panel.season.rowwords import QUESTION as ROW_QUESTION
from panelstats.panel.season.seasoncharts import AXES, now_rows
from panelstats.panel.season.tables import AGREEMENT, CALL, CHART, LEVEL_CHART, MOVES, NOISE
from panelstats.panel.season.words import CAUTION_QUESTION, DRIFT_QUESTION, HALVES_QUESTION
from panelstats.report.charts.shapes import key, mark
from panelstats.report.charts.twin import in_words
from panelstats.report.charts.weeks import weeks_drawing
from panelstats.report.pages.pictured import Answer, Picture
from panelstats.report.tables import about
from panelstats.result import Act, Chart
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.speech import Phrase
from panelstats.words import DASH, decimals, interval, number

if TYPE_CHECKING:
    from collections.abc import Iterator
    from typing import Any

    import pandas as pd

    from panelstats.report.charts.svg import Drawing
    from panelstats.review import Review

TITLES = {LEVEL_CHART: Phrase("Level"), NOISE: Phrase("Repeats"), AGREEMENT: Phrase("Order of the lots")}


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    audit = review.find(SeasonAudit)
    if audit is None:
        return {}
    found = [verdict for verdict in audit.verdicts if verdict.act == Act.DECIDE]
    movers = [Answer(about(v.subject), v.call, mark(v), v.sentence, v.next_step) for v in found]
    drawn = list(_pictures(audit))
    return {
        "movers": movers,
        "pictures": [Picture(title, drawing) for title, _, drawing in drawn],
        "key": key([chart for _, (chart, *_), _ in drawn]) if drawn else [],
        "row": [(v, mark(v)) for v in audit.verdicts if v.question == ROW_QUESTION],
        "halves": [(v, mark(v)) for v in audit.verdicts if v.question == HALVES_QUESTION],
        "drift": [(v, mark(v)) for v in audit.verdicts if v.question == DRIFT_QUESTION],
        "cautions": [v for v in audit.verdicts if v.question == CAUTION_QUESTION],
        "everyone": [row | {"wanders": _wanders(row)} for row in _records(audit.summary)],
        "in_words": [(title, in_words(now, "row")) for title, (_, now), _ in drawn],
    }


def _wanders(row: dict[Any, Any]) -> str:
    """By how many points a taster's level wanders from session to session, with its interval."""
    low, high = row["wander_low"], row["wander_high"]
    places = decimals((high - low) / 4)
    return (
        f"{number(row['wander'], places)} ({interval(low, high, places)})" if row["wander"] == row["wander"] else DASH
    )


def _pictures(audit: SeasonAudit) -> Iterator[tuple[str, tuple[Chart, Chart], Drawing]]:
    """For each kind of chart its movers, session by session, and where they stand at the end."""
    for kind, title in TITLES.items():
        rows = audit.table[(audit.table[CHART] == kind) & audit.table[CALL].isin(MOVES)]
        if rows.empty:
            continue
        charts = [audit.chart(row[DESCRIPTOR], taster=row[TASTER], kind=kind) for row in _records(rows)]
        labels = [": ".join(filter(None, (row[TASTER], row[DESCRIPTOR]))) for row in _records(rows)]
        now = Chart(title, AXES[kind], now_rows(rows, labels), charts[0].words, charts[0].zero)
        yield title, (charts[0], now), weeks_drawing(charts, now, key=kind)


def _records(rows: pd.DataFrame) -> list[dict[Any, Any]]:
    return rows.to_dict("records")
