"""A taster's own season: what moved or stayed, session by session, within what is tolerated; one page a taster."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.errors import DesignError
from panelstats.filenames import file_names
from panelstats.panel.season.fit import SeasonAudit
from panelstats.panel.season.seasoncharts import AXES, now_rows
from panelstats.panel.season.tables import AGREEMENT, AWAY, CALL, CHART, CONTROLS, LEVEL_CHART, NOISE
from panelstats.panel.season.words import APART
from panelstats.report.charts.shapes import key, mark
from panelstats.report.charts.twin import in_words
from panelstats.report.charts.weeks import weeks_drawing
from panelstats.report.pages.head import provenance
from panelstats.report.pages.render import render
from panelstats.result import Chart
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.speech import Phrase, said
from panelstats.words import interval, listing, number

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.report.charts.svg import Drawing
    from panelstats.result import Mark, Verdict
    from panelstats.review import Review

# What each chart of a season is about, in the order of the page, and how its numbers read.
TITLES = {
    NOISE: (Phrase("Repeats"), Phrase("1 is as close as at first")),
    AGREEMENT: (Phrase("Order of the lots"), Phrase("0 is as near to the others' order as at first")),
    LEVEL_CHART: (Phrase("Level against the others"), Phrase("0 is as at first, in points")),
    CONTROLS: (Phrase("Level on hidden controls"), Phrase("0 is as at first, in points")),
}
PLACES = {NOISE: 1, AGREEMENT: 2, LEVEL_CHART: 1, CONTROLS: 1}


class Told(NamedTuple):
    """A verdict with its shape."""

    verdict: Verdict
    mark: Mark


class Picture(NamedTuple):
    """The sessions of all charts of one kind."""

    title: str
    about: str
    drawing: Drawing


class Line(NamedTuple):
    """A chart in words."""

    name: str
    call: str
    since: str
    change: str
    sessions: int
    away: bool


def season_sheets(review: Review) -> dict[str, bytes]:
    """The page of everybody who was followed over a season, by a name that a file may have."""
    audit = review.find(SeasonAudit)
    if audit is None:
        return {}
    names = [str(name) for name in audit.summary[TASTER]]
    return {file: season_taster_page(review, name) for name, file in file_names(names).items()}


def season_taster_page(review: Review, taster: str) -> bytes:
    """The page of one taster as the bytes of its file.

    Raises
    ------
    DesignError
        The review is of no season, or nobody of that name was followed.
    """
    audit = review.find(SeasonAudit)
    known = [] if audit is None else [str(name) for name in audit.summary[TASTER]]
    if audit is None or taster not in known:
        raise DesignError("no such taster was followed", where=f"taster={taster!r}", do=f"choose {listing(known)}")
    rows = audit.table[audit.table[TASTER] == taster]
    told = [Told(verdict, mark(verdict)) for verdict in _verdicts(audit, rows, taster)]
    drawn = list(_pictures(audit, rows, taster))
    values = {
        "title": taster,
        "heading": f"{taster}: {review.title}",
        "season": review.title,
        "told": told,
        "pictures": [Picture(*TITLES[kind], drawing) for kind, _, drawing in drawn],
        "key": key([chart for _, (chart, _), _ in drawn]) if drawn else [],
        "lines": [_line(row) for _, row in rows.iterrows()],
        "in_words": [(TITLES[kind][0], in_words(now, "row")) for kind, (_, now), _ in drawn],
        "method": audit.method,
        "provenance": provenance(review),
    }
    return render("season-taster.html.j2", review, values)


def _verdicts(audit: SeasonAudit, rows: pd.DataFrame, taster: str) -> list[Verdict]:
    """What was said of the taster; where he moved apart from others, what was said of them together."""
    apart = bool((rows[CALL] == APART).any())
    return [v for v in audit.verdicts if v.subject == taster or (apart and v.call == APART)]


def _pictures(audit: SeasonAudit, rows: pd.DataFrame, taster: str) -> list[tuple[str, tuple[Chart, Chart], Drawing]]:
    """For each kind of chart its sessions, one below the other, and where they stand at the end."""
    out = []
    charted = {
        tuple(found) for found in audit.series[[TASTER, DESCRIPTOR, CHART]].drop_duplicates().itertuples(index=False)
    }
    for kind in TITLES:
        there = np.array([(taster, word, kind) in charted for word in rows[DESCRIPTOR]])
        mine = rows[(rows[CHART] == kind) & there]
        if mine.empty:
            continue
        charts = [audit.chart(str(word), taster=taster, kind=kind) for word in mine[DESCRIPTOR]]
        labels = [str(word) or str(TITLES[kind][0]) for word in mine[DESCRIPTOR]]
        now = Chart(TITLES[kind][0], AXES[kind], now_rows(mine, labels), charts[0].words, charts[0].zero)
        out.append((kind, (charts[0], now), weeks_drawing(charts, now, key=kind)))
    return out


def _line(row: pd.Series) -> Line:
    kind, places = row[CHART], PLACES[row[CHART]]
    name = ": ".join(filter(None, (str(TITLES[kind][0]), str(row[DESCRIPTOR]))))
    since = str(row["since"])
    if since and row["since_low"] != row["since_high"]:
        since += Phrase(" ({since_low} to {since_high})").format(
            since_low=row["since_low"], since_high=row["since_high"]
        )
    change = number(float(row["change"]), places, sign=kind != NOISE)
    if row["change"] == row["change"]:
        change += f" ({interval(float(row['low']), float(row['high']), places, sign=kind != NOISE)})"
    why = f", {said(str(row['reason']))}" if row["reason"] else ""
    return Line(name, f"{said(str(row[CALL]))}{why}", since, change, int(row["attended"]), bool(row[AWAY]))
