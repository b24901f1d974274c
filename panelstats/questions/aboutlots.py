"""Questions about lots: what a session shows, whether blends match their standard, what a garden's making did."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from panelstats.arguments import checked, scores_whole, table
from panelstats.errors import DesignError
from panelstats.questions.asking import among, named, run, titled
from panelstats.review import Review
from panelstats.scores.cells import LOT, ROLE, SESSION, TASTER

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

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
    session : str, optional
        Which one, where there are several; by default the latest in their order.
    past : Scores, optional
        Sessions that say how far one look may be off; by default those of `scores` up to this one.
    shortlist : bool, optional
        Whether to list the likely best instead of comparing lots; by default by the shape of the data: many lots, one
        look at one pot each.
    take : int, optional
        Places on the list, as for `shortlist_lots`.
    pots : {"shared", "own", "same"} or mapping of stage to one of these, optional
    tolerance : float or mapping of descriptor to float, optional
        Smallest difference that matters, in points; by default the register's.
    level : float in (0, 1)
    progress : callable, optional
        Told the name of each analysis before it starts.

    Returns
    -------
    Review

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

    name = among([str(name) for name in scores.sessions[SESSION]], session)
    ours = scores.select(session=name)
    if not len(ours):
        raise DesignError("no score to review", where=f"session {name!r}", do="give a sheet with at least one score")
    cells = ours.cells(pots=pots)
    steps: dict[str, Callable[[], Result]] = {"Faults": lambda: faults_noticed(ours, level=level)}
    if one_look(cells) if shortlist is None else shortlist:
        steps["Short list"] = lambda: short_list_of(scores, ours, name, past, take=take, pots=pots, level=level)
    else:
        steps["Pots"] = lambda: check_pots(cells, tolerance=tolerance, level=level)
        steps["Lots"] = lambda: compare_lots(cells, tolerance=tolerance, level=level)
        steps["Map"] = lambda: _map(cells, level)
    if len(ours.frame[TASTER].unique()) > 1 or "Lots" in steps:
        steps["Panel"] = lambda: panel_agreement(cells, level=level)
        steps["Tasters"] = lambda: assess_tasters(cells, tolerance=tolerance, level=level)
    if len(weighed := weighed_of(ours)):
        steps["Densities"] = lambda: weigh_lots(weighed, level=level)
    found = tuple(step for step in run(steps, progress) if step[0] != "Map" or _warranted(step[1]))
    review = Review(titled(ours, name), "What do the room's scores show?", found, ours, name)
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
    tasted = set(scores.frame[LOT].astype(str))
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
    return replace(review, results=(*review.results[:at], ("Lots without pots in doubt", rest), *review.results[at:]))


def short_list_of(
    scores: Scores, ours: Scores, session: str, past: Scores | None, *, take: int | None, **asked: Any
) -> Result:
    """The short list of a session, with the record of the room's past: what was given, else all sessions up to it."""
    from panelstats.lots.roomerror.fit import room_error
    from panelstats.lots.shortlist.fit import shortlist_lots

    names = [str(name) for name in scores.sessions[SESSION]]
    until = names[: names.index(session) + 1]
    if past is None and len(until) > 1:
        past = scores.select(session=until)
    return shortlist_lots(ours, take=take, error=None if past is None else room_error(past, **asked), **asked)


@checked(answers=table)
def review_blends(
    scores: Scores,
    standard: str | None = None,
    *,
    answers: pd.DataFrame | None = None,
    session: str | None = None,
    pots: str | Mapping[str, str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    within_share: float | None = None,
    level: float = 0.95,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Run the analyses that blends beside their standard call for: blends, weeks, faults, difference tests.

    Parameters
    ----------
    scores : Scores
    standard : str, optional
        The lot to be matched; by default the one whose role is "standard".
    answers : DataFrame, optional
        Answers of difference tests of the same blends, as `read_answers` gives them. Without them the review says what
        a triangle test with one answer from each taster could settle.
    session : str, optional
        Which one; by default the latest in which the standard was tasted. Where the standard stood beside one trial
        blend in each of several sessions, the weeks are followed too.
    pots : {"shared", "own", "same"} or mapping of stage to one of these, optional
    tolerance : float or mapping of descriptor to float, optional
        Largest difference that still is a match, in points; by default the register's.
    within_share : float in (0, 1], optional
        Largest share of tasters able to tell that still is a match in a difference test; for the plan 0.3 if not given.
    level : float in (0, 1)
    progress : callable, optional
        Told the name of each analysis before it starts.

    Returns
    -------
    Review

    Raises
    ------
    DesignError
        No such standard or session, no lot beside it, or a tolerance that is no size.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.blends()
    >>> found = review_blends(pst.read_scores(room.frame, room=room.registers)).find(pst.StandardMatch)
    >>> dict(zip(found.summary["lot"], found.summary["call"]))
    {'B1': 'match', 'B2': 'differ'}
    """
    from panelstats.difference.answers.fit import judge_answers
    from panelstats.difference.counts.countcalls import SHARE_IF_NONE
    from panelstats.difference.planning.fit import answers_needed
    from panelstats.lots.faults.fit import faults_noticed
    from panelstats.lots.standard.fit import match_standard
    from panelstats.lots.track.fit import track_standard

    master = standard if standard is not None else only_standard(scores)
    sessions = _met(scores, master)
    name = among(sessions, session)
    ours = scores.select(session=name)
    asked: Any = {"tolerance": tolerance, "pots": pots, "level": level}
    found: dict[str, Callable[[], Result]] = {"Blends": lambda: match_standard(ours, master, **asked)}
    if _one_a_week(scores, sessions):
        found["Weeks"] = lambda: track_standard(scores, master, **asked)
    results = run(found, progress)
    beside = list(dict.fromkeys(results[0][1].tables()["table"][LOT].astype(str)))
    rest: dict[str, Callable[[], Result]] = {
        "Faults": lambda: faults_noticed(ours.select(lot=[master, *beside]), level=level)
    }
    if answers is not None:
        rest["Tests"] = lambda: judge_answers(answers, within_share=within_share)
    else:
        share = SHARE_IF_NONE if within_share is None else within_share
        tasters = int(ours.frame[TASTER].astype(str).nunique())
        rest["Answers needed"] = lambda: answers_needed("triangle", within_share=share, answers=tasters)
    title = f"{named(beside, 'lot')} against {master}"
    return Review(title, "Do they match the standard?", (*results, *run(rest, progress)), ours, name)


def _met(scores: Scores, lot: str) -> list[str]:
    """Sessions in which a lot was tasted, in order."""
    here = set(scores.frame.loc[scores.frame[LOT].astype(str) == lot, SESSION].astype(str))
    names = [str(name) for name in scores.sessions[SESSION] if str(name) in here]
    if not names:
        tasted = [str(each) for each in scores.lots[LOT][:6]]
        raise DesignError("no such lot was tasted", where=f"standard {lot!r}", do=f"name a lot of {', '.join(tasted)}")
    return names


def only_standard(scores: Scores) -> str:
    """The one lot whose role is standard."""
    names = list(scores.lots.loc[scores.lots[ROLE] == "standard", LOT].astype(str)) if ROLE in scores.lots else []
    if len(names) != 1:
        found = f"lots with the role standard: {', '.join(names) or 'none'}"
        raise DesignError("which lot is the standard?", where=found, do="name it (--standard LOT)")
    return names[0]


def _one_a_week(scores: Scores, sessions: list[str]) -> bool:
    """Whether one trial blend stood beside the standard in each of several sessions."""
    trials = set(scores.lots.loc[scores.lots[ROLE] == "trial", LOT].astype(str)) if ROLE in scores.lots else set()
    met = scores.frame[[SESSION, LOT]].astype(str).drop_duplicates()
    counted = met[met[LOT].isin(trials) & met[SESSION].isin(sessions)][SESSION].value_counts()
    return len(counted) > 1 and bool((counted == 1).all())


@checked(scores=scores_whole)
def review_garden(
    scores: Scores,
    garden: str,
    *,
    by: Sequence[str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    level: float = 0.95,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """A letter to a garden: its lots beside their class, what went with their making, faults.

    Parameters
    ----------
    scores : Scores
        The garden's lots among those of others, in one session or several.
    garden : str
        As in the column garden of the lots register.
    by : sequence of str, optional
        Columns of the lots register that tell how lots were made; by default those named for a step of making.
    tolerance : float or mapping of descriptor to float, optional
    level : float in (0, 1)
    progress : callable, optional
        Told the name of each analysis before it starts.

    Returns
    -------
    Review

    Raises
    ------
    DesignError
        No such garden, or no such column.

    Notes
    -----
    A make that was changed on a day is a declared question (Holm over descriptors); makes dealt out lot by lot are
    searched, and the search is one of as many as there are gardens.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> lots = [str(n) for n in range(12)]
    >>> sheet = pd.DataFrame({"lot": lots, "taster": "elm", "brisk": [7, 7.5, 7, 8, 4, 4.5, 5, 4, 5, 4.5, 4, 5]})
    >>> register = pd.DataFrame({"lot": lots, "garden": ["Hill"] * 4 + ["Flats"] * 8})
    >>> pst.review_garden(pst.read_scores(sheet, room={"lots": register}), "Hill").verdicts[0].sentence
    'Look at the making first: brisk +2.9 (+2.2 to +3.5) from its class.'
    """
    from panelstats.lots.faults.fit import faults_noticed
    from panelstats.lots.garden.fit import garden_letter
    from panelstats.lots.garden.ownlots import GARDEN, gardens_of, makes_changed
    from panelstats.lots.makes.fit import MakeEffects, compare_makes

    mine = scores.lots[scores.lots[GARDEN].astype(str) == garden]
    ours = scores.select(lot=set(mine[LOT]))
    asked: Any = {"tolerance": tolerance, "level": level}
    changed, dealt = makes_changed(ours, mine, by)
    steps: dict[str, Callable[[], Result]] = {"Faults": lambda: faults_noticed(ours, level=level)}
    if changed:
        steps["Change of make"] = lambda: compare_makes(ours, changed, across="holm", **asked)
    if dealt:
        steps["Other makes"] = lambda: compare_makes(
            ours, dealt, across="bh", searches=len(gardens_of(scores)), **asked
        )
    found = run(steps, progress)
    makes = [result for _, result in found if isinstance(result, MakeEffects)]
    letter = run({"Garden": lambda: garden_letter(scores, garden, makes=makes, by=by, **asked)}, progress)
    paid = _what_they_fetched(scores, set(mine[LOT].astype(str)), level, progress)
    sessions = set(ours.frame[SESSION].astype(str))
    session = sessions.pop() if len(sessions) == 1 else ""
    return Review(garden, "What did its lots show?", (*found[:1], *letter, *found[1:], *paid), ours, session)


def _what_they_fetched(
    scores: Scores, lots: set[str], level: float, progress: Callable[[str], None] | None
) -> tuple[tuple[str, Result], ...]:
    """What is known of the prices of some lots, held against all lots; nothing where too few have one."""
    from panelstats.lots.value.fit import LEAST, explain_value
    from panelstats.sheets.money import money_columns

    priced = [
        column for column in money_columns(scores.lots.columns)
        if (scores.lots[column].fillna("").astype(str) != "").sum() >= LEAST
    ]  # fmt: skip

    def own(column: str) -> Callable[[], Result]:
        return lambda: explain_value(scores, column, level=level).of_lots(lots)

    return run({column.capitalize(): own(column) for column in priced}, progress)
