"""The room's page: what was wrong, which lots differ, whether the panel can be trusted today."""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING

from panelstats.output import PAGE_MARK, check_writable, page_bytes, templates, write_whole
from panelstats.report.charts.picture import Panel, key, picture
from panelstats.report.pages.facts import SET_ASIDE, facts, lede, provenance
from panelstats.report.pages.ledger import Group, common_step, ledger
from panelstats.report.pages.names import Names, turns
from panelstats.report.tables import plain, shown
from panelstats.scores.cells import DESCRIPTOR, LOT, TASTER

if TYPE_CHECKING:
    from pathlib import Path

    from panelstats.result import Verdict
    from panelstats.review import Review


def write_report(review: Review, path: str | Path, *, overwrite: bool = False) -> Path:
    """Write the room's page of a reviewed session: one file, no script, nothing fetched.

    Parameters
    ----------
    review : Review
        A reviewed session.
    path : str or Path
        Ending in .html. Our own earlier page is replaced, another file only with `overwrite`.
    overwrite : bool
        Replace a file that is not ours.

    Returns
    -------
    Path
        The page. The same review gives the same bytes: the date printed is the session's.

    Raises
    ------
    PanelError
        The file may not or cannot be written.
    """
    read = review.scores.files
    check_writable(path, overwrite=overwrite, read=read)
    return write_whole(path, page_bytes(room_page(review)), overwrite=overwrite, read=read)


def room_page(review: Review) -> str:
    """The room's page as text."""
    names = Names(_names(review))
    environment = templates()
    environment.filters |= {"isolate": names.isolate, "told": names.told, "turns": turns}
    groups, panels = ledger(_all_but_faults(review)), picture(review)
    return environment.get_template("room.html.j2").render(
        page_mark=PAGE_MARK,
        session=review.session,
        lede=lede(review),
        facts=facts(review),
        faults=_faults(review),
        faults_step=common_step(review.faults.verdicts),
        noticed=bool(len(review.faults.table)),
        ledger=groups,
        incomplete=bool(review.scores.account[SET_ASIDE].sum()),
        panels=panels,
        beside=_beside(panels, review, groups),
        key=key(review),
        results=[(title, result, shown(result.tables(), title)) for title, result in review.results],
        inferred=[[plain(value) for value in row] for row in review.scores.inferred.itertuples(index=False)],
        records=shown({name: getattr(review.scores, name) for name in ("account", "problems")}, "read"),
        provenance=provenance(review),
    )


def _names(review: Review) -> set[str]:
    scores = review.scores
    tables = ((scores.lots, LOT), (scores.tasters, TASTER), (scores.descriptors, DESCRIPTOR))
    return {str(name) for table, column in tables for name in table[column]} | {review.session}


def _faults(review: Review) -> list[tuple[Verdict, str]]:
    """Every answer on faults, with what the sheets say of the lot where the answer does not quote it."""
    table = review.faults.table
    remarks: dict[str, str] = {}
    for lot, words in zip(table[LOT].astype(str), table["remarks"].map(plain), strict=True):
        remarks[lot] = "; ".join(filter(None, dict.fromkeys([remarks.get(lot, ""), words])))
    said = [(verdict, remarks.get(verdict.subject, "")) for verdict in review.faults.verdicts]
    return [(verdict, "" if words in verdict.sentence else words) for verdict, words in said]


def _all_but_faults(review: Review) -> list[Verdict]:
    shown_first = {id(verdict) for verdict in review.faults.verdicts}
    return [verdict for verdict in review.verdicts if id(verdict) not in shown_first]


def _beside(panels: list[Panel], review: Review, groups: list[Group]) -> int:
    """How many panels stand beside the verdicts: as many as are about as tall as the words (in pixels, roughly)."""
    room = (
        180 + 80 * len(review.faults.verdicts) + sum(60 + sum(map(_tall, e.first)) for g in groups for e in g.entries)
    )
    heights = accumulate(100 + (panel.drawing.height if panel.drawing else 30) * 1.1 for panel in panels)
    return max(1, sum(height <= room for height in heights))


def _tall(verdict: Verdict) -> int:
    return 12 + 26 * (1 + len(str(verdict)) // 60)
