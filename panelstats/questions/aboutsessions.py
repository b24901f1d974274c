"""What a session shows: its lots compared, or a short list of them; its pots, its panel."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from panelstats.arguments import checked
from panelstats.questions.asking import run, scored, sessions_of, titled
from panelstats.review import Review
from panelstats.scores.cells import LOT, TASTER
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import pandas as pd

    from panelstats.result import Result
    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

# Panels relabelled behind the map on a room's page (ours); the command of maps takes more.
_QUICK = 199


@checked()
def review_session(
    scores: Scores,
    *,
    session: str | None = None,
    past: Scores | None = None,
    shortlist: bool | None = None,
    take: int | None = None,
    pots: str | Mapping[str, str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    level: float = 0.95,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Run the analyses that a session calls for: faults, pots, lots, panel, tasters; or a short list.

    Many lots, one look at one pot each: no comparison of pairs but a short list, what to taste again, and how far one
    look may be off, by the record of this and the earlier sessions.

    Parameters
    ----------
    scores : Scores
    past : Scores, optional
        Sessions that say how far one look may be off; by default those of `scores` up to this one.
    shortlist : bool, optional
        Whether to list the likely best instead of comparing lots; by default by the shape of the data: many lots, one
        look at one pot each.
    take : int, optional
        Places on the list, as for `shortlist_lots`.

    Raises
    ------
    DesignError
        There is no such session, or it has no score.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.bench()
    >>> review = pst.review_session(pst.read_scores(room.frame, room=room.registers))
    >>> [title for title, _ in review.results]
    ['Faults', 'Pots', 'Lots', 'Lots without pots in doubt', 'Map', 'Panel', 'Tasters']
    """
    from panelstats.lots.compare.fit import compare_lots
    from panelstats.lots.faults.fit import faults_noticed
    from panelstats.lots.packs.weighed import weigh_lots
    from panelstats.lots.pots.fit import check_pots
    from panelstats.lots.shortlist.shape import one_look
    from panelstats.panel.agreement.fit import panel_agreement
    from panelstats.panel.tasters.fit import assess_tasters

    name, ours = scored(scores, session)
    cells = ours.cells(pots=pots)
    steps: dict[str, Callable[[], Result]] = {"Faults": lambda: faults_noticed(ours, level=level)}
    if one_look(cells) if shortlist is None else shortlist:
        steps["Short list"] = lambda: short_list_of(scores, ours, name, past, take=take, pots=pots, level=level)
    else:
        steps["Pots"] = lambda: check_pots(cells, tolerance=tolerance, level=level)
        steps["Lots"] = lambda: compare_lots(ours, pots=pots, tolerance=tolerance, level=level)
        steps["Map"] = lambda: _map(cells, level)
    if len(ours.frame[TASTER].unique()) > 1 or "Lots" in steps:
        steps["Panel"] = lambda: panel_agreement(ours, pots=pots, level=level)
        steps["Tasters"] = lambda: assess_tasters(ours, pots=pots, tolerance=tolerance, level=level)
    if len(weighed := weighed_of(ours)):
        steps["Densities"] = lambda: weigh_lots(weighed, level=level)
    found = tuple(step for step in run(steps, progress) if step[0] != "Map" or _warranted(step[1]))
    review = Review(titled(ours, name), Phrase("What do the room's scores show?"), found, ours, name)
    return _with_pots_in_doubt(review, cells, tolerance)


def _map(cells: Cells, level: float) -> Result:
    from panelstats.lots.maps.fit import map_lots

    return map_lots(cells, level=level, besides=False, resamples=_QUICK)


def _warranted(found: Result) -> bool:
    """Whether a map says more than the comparison of the lots: an axis the tasters agree on, and enough of them."""
    tables = found.tables()
    return bool(tables["axes"]["trusted"].any()) and len(tables["regions"]) > 0


def weighed_of(scores: Scores) -> pd.DataFrame:
    """The weighings of the lots that were tasted; rows without mass or volume weigh nothing."""
    table = scores.densities
    tasted = set(map(str, scores.frame[LOT].unique()))
    return table[table[LOT].astype(str).isin(tasted) & table["mass"].notna() & table["volume"].notna()]


def _with_pots_in_doubt(review: Review, cells: Cells, tolerance: float | Mapping[str, float] | None) -> Review:
    """The review; where pots stand apart from their sister pots, the lots are compared without them too."""
    from panelstats.lots.compare.fit import LotComparison
    from panelstats.lots.compare.without import compare_without
    from panelstats.lots.pots.fit import PotCheck

    pots, lots = review.find(PotCheck), review.find(LotComparison)
    if pots is None or lots is None or not len(pots.named):
        return review
    rest = compare_without(cells, pots.named, pots.differences, lots, tolerance=tolerance)
    at = 1 + [result for _, result in review.results].index(lots)
    return replace(
        review, results=(*review.results[:at], (Phrase("Lots without pots in doubt"), rest), *review.results[at:])
    )


def short_list_of(
    scores: Scores, ours: Scores, session: str, past: Scores | None, *, take: int | None, **asked: Any
) -> Result:
    """The short list of a session, with the record of the room's past: what was given, else all sessions up to it."""
    from panelstats.lots.roomerror.fit import room_error
    from panelstats.lots.shortlist.fit import shortlist_lots

    names = sessions_of(scores)
    until = names[: names.index(session) + 1]
    if past is None and len(until) > 1:
        past = scores.select(session=until)
    return shortlist_lots(ours, take=take, error=None if past is None else room_error(past, **asked), **asked)
