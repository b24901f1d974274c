"""Reviews: the analyses that the data of a question call for, in reading order, ready for a page or a workbook."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass, replace
from html import escape
from typing import TYPE_CHECKING, Any, TypeVar

from panelstats.arguments import checked, scores_whole, table
from panelstats.errors import DesignError
from panelstats.result import Result, Verdict, in_order, sentences_html
from panelstats.scores.cells import LOT, ROLE, SESSION, TASTER
from panelstats.words import count, listing

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from pathlib import Path

    import pandas as pd

    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

_Kind = TypeVar("_Kind", bound=Result)
_UNNAMED = "1"  # what a source without a word on its session is read as
_NAMED = 4  # lots or tests named in a title; more are counted


@dataclass(frozen=True, eq=False, repr=False)
class Review:
    """A question put to some data, and what was found: all that a page, a workbook or a terminal needs.

    Attributes
    ----------
    title, question : str
        What it is about, and what was asked of it.
    results : tuple of (str, Result)
        The results in page order, each with its title.
    scores : Scores or None
        What they were made from, with the account of all that was read; None where no scores were needed.
    session : str
        The session under review; "" where there are several or none.
    source : str
        Where there are no scores: what the results were made from.
    read : tuple of Path
        Files that were read besides those of `scores`.
    """

    title: str
    question: str
    results: tuple[tuple[str, Result], ...]
    scores: Scores | None = None
    session: str = ""
    source: str = ""
    read: tuple[Path, ...] = ()

    @property
    def files(self) -> tuple[Path, ...]:
        """Every file that was read: no page or workbook is written over one of them."""
        return self.read if self.scores is None else self.scores.files + self.read

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """Every verdict, what to act on first; equal ones in page order."""
        return in_order([verdict for _, result in self.results for verdict in result.verdicts])

    def find(self, kind: type[_Kind]) -> _Kind | None:
        """The first result of a kind, None if there is none."""
        return next((result for _, result in self.results if isinstance(result, kind)), None)

    def __repr__(self) -> str:
        return "\n".join(map(str, (self.title, *self.verdicts)))

    def _repr_html_(self) -> str:
        return f"<h2>{escape(self.title)}</h2>{sentences_html(self.verdicts)}"


def as_review(given: Review | Result) -> Review:
    """A review as it is; a single result as a review of its own.

    Examples
    --------
    >>> import panelstats as pst
    >>> as_review(pst.difference_test("triangle", correct=19, answers=36)).title
    'Difference test'
    """
    if isinstance(given, Review):
        return given
    if not isinstance(given, Result):
        raise DesignError("neither a review nor a result", where=f"{type(given).__name__} given",
                          do="give what a review, such as review_session, or an analysis returned")  # fmt: skip
    title = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", type(given).__name__).capitalize()
    question = next((verdict.question for verdict in given.verdicts), title)
    return Review(title, question, ((title, given),))


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
    ['Faults', 'Pots', 'Lots', 'Lots without pots in doubt', 'Panel', 'Tasters']
    """
    from panelstats.lots.compare.fit import compare_lots
    from panelstats.lots.faults.fit import faults_noticed
    from panelstats.lots.pots.fit import check_pots
    from panelstats.lots.shortlist.shape import one_look
    from panelstats.panel.agreement.fit import panel_agreement
    from panelstats.panel.tasters.fit import assess_tasters

    name = _among([str(name) for name in scores.sessions[SESSION]], session)
    ours = scores.select(session=name)
    if not len(ours):
        raise DesignError("no score to review", where=f"session {name!r}", do="give a sheet with at least one score")
    cells = ours.cells(pots=pots)
    steps: dict[str, Callable[[], Result]] = {"Faults": lambda: faults_noticed(ours, level=level)}
    if one_look(cells) if shortlist is None else shortlist:
        steps["Short list"] = lambda: _short_list(scores, ours, name, past, take=take, pots=pots, level=level)
    else:
        steps["Pots"] = lambda: check_pots(cells, tolerance=tolerance, level=level)
        steps["Lots"] = lambda: compare_lots(cells, tolerance=tolerance, level=level)
    if len(ours.frame[TASTER].unique()) > 1 or "Lots" in steps:
        steps["Panel"] = lambda: panel_agreement(cells, level=level)
        steps["Tasters"] = lambda: assess_tasters(cells, tolerance=tolerance, level=level)
    review = Review(_titled(ours, name), "What do the room's scores show?", _run(steps, progress), ours, name)
    return _with_pots_in_doubt(review, cells, tolerance)


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


def _short_list(
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

    master = standard if standard is not None else _only_standard(scores)
    sessions = _met(scores, master)
    name = _among(sessions, session)
    ours = scores.select(session=name)
    asked: Any = {"tolerance": tolerance, "pots": pots, "level": level}
    found: dict[str, Callable[[], Result]] = {"Blends": lambda: match_standard(ours, master, **asked)}
    if _one_a_week(scores, sessions):
        found["Weeks"] = lambda: track_standard(scores, master, **asked)
    results = _run(found, progress)
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
    title = f"{_named(beside, 'lot')} against {master}"
    return Review(title, "Do they match the standard?", (*results, *_run(rest, progress)), ours, name)


@checked()
def review_trainees(
    scores: Scores,
    *,
    trainees: str | Sequence[str] | None = None,
    reference: str | Sequence[str] | None = None,
    pots: str | Mapping[str, str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    level: float = 0.95,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Say of all trainees on what their scores may count, and what is missing.

    Parameters
    ----------
    scores : Scores
        The sessions so far.
    trainees, reference : str or list of str, optional
        Who is judged, and against whom: as for `assess_trainees`.
    pots : {"shared", "own", "same"} or mapping of stage to one of these, optional
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
        As `assess_trainees`.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.new_tasters()
    >>> pst.review_trainees(pst.read_scores(room.frame, room=room.registers)).title
    'whitebeam and spindle'
    """
    from panelstats.panel.training.fit import assess_trainees

    cells = scores.cells(pots=pots)
    asked: Any = {"trainees": trainees, "reference": reference, "tolerance": tolerance, "level": level}
    results = _run({"Trainees": lambda: assess_trainees(cells, **asked)}, progress)
    names = [str(name) for name in results[0][1].tables()["summary"]["trainee"]]
    return Review(_named(names, "trainee"), "May their scores count?", results, scores)


@checked()
def review_season(
    scores: Scores,
    *,
    baseline: int = 8,
    controls: Sequence[str] | None = None,
    false_alarm: float = 0.05,
    until: str | None = None,
    seed: int = 0,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Say who moved over a season, since when and by how much, and what cannot be seen.

    Parameters
    ----------
    scores : Scores
        The sessions of the season.
    baseline, controls, false_alarm, until, seed
        As for `audit_season`.
    progress : callable, optional
        Told the name of each analysis before it starts.

    Returns
    -------
    Review

    Raises
    ------
    DesignError
        As `audit_season`.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"session": ["2031-01-06", "2031-01-13"] * 2, "lot": ["1", "2"] * 2,
    ...                       "taster": ["elm", "elm", "yew", "yew"], "brisk": [5, 6, 5, 7]})
    >>> pst.review_season(pst.read_scores(sheet)).title
    'Season 2031-01-06 to 2031-01-13'
    """
    from panelstats.panel.season.fit import audit_season
    from panelstats.panel.season.until import sessions_until

    sessions = sessions_until(scores.sessions, until)
    ours = scores if until is None else scores.select(session=set(sessions))
    asked: Any = {"baseline": baseline, "controls": controls, "false_alarm": false_alarm, "seed": seed}
    results = _run({"Season": lambda: audit_season(ours, **asked)}, progress)
    title = f"Season {sessions[0]} to {sessions[-1]}" if len(sessions) > 1 else f"Session {sessions[0]}"
    return Review(title, "Who has moved, and since when?", results, ours)


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
    found = _run(steps, progress)
    makes = [result for _, result in found if isinstance(result, MakeEffects)]
    letter = _run({"Garden": lambda: garden_letter(scores, garden, makes=makes, by=by, **asked)}, progress)
    sessions = set(ours.frame[SESSION].astype(str))
    session = sessions.pop() if len(sessions) == 1 else ""
    return Review(garden, "What did its lots show?", (*found[:1], *letter, *found[1:]), ours, session)


@checked(answers=table)
def review_answers(
    answers: pd.DataFrame,
    *,
    within_share: float | None = None,
    within_d: float | None = None,
    error: float = 0.05,
    match_error: float = 0.05,
) -> Review:
    """Judge the answers of difference tests.

    Parameters
    ----------
    answers : DataFrame
        As `read_answers` gives them, or any table that `judge_answers` takes.
    within_share, within_d, error, match_error : float
        As for `judge_answers`.

    Returns
    -------
    Review

    Raises
    ------
    SheetError, DesignError
        As `judge_answers`.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"test": "B1 with S", "kind": "triangle", "taster": list("abc"), "answer": "right"})
    >>> pst.review_answers(sheet).title
    'B1 with S'
    """
    from panelstats.difference.answers.fit import judge_answers

    judged = judge_answers(answers, within_share=within_share, within_d=within_d, error=error, match_error=match_error)
    digest = hashlib.sha256(answers.to_csv(index=False).encode()).hexdigest()[:16]
    files = f" ({', '.join(dict.fromkeys(answers['file']))})" if "file" in answers else ""
    sessions = [name for name in dict.fromkeys(judged.table[SESSION].astype(str)) if name]
    when = f", {'session' if len(sessions) == 1 else 'sessions'} {listing(sessions)}" if sessions else ""
    title = _named(dict.fromkeys(judged.table["test"].astype(str)), "difference test")
    return Review(title, "Do they differ, do they match?", (("Tests", judged),), source=digest + files + when)


def _titled(scores: Scores, session: str) -> str:
    """The name of a session; where nobody gave it one, the file or files it was read from, and its date if known."""
    files = list(dict.fromkeys(scores.account["file"].astype(str)))
    if len(scores.sessions) > 1 or session != _UNNAMED or not files or (scores.headers["word"] == SESSION).any():
        return session
    named = files[0] if len(files) == 1 else f"{files[0]} and {count(len(files) - 1, 'other file')}"
    if "date" not in scores.sessions:
        return named
    dates = scores.sessions["date"].dropna().astype(str).str.removesuffix(" 00:00:00")
    return ", ".join([named, *dates[dates != ""]])


def _run(
    steps: Mapping[str, Callable[[], Result]], progress: Callable[[str], None] | None
) -> tuple[tuple[str, Result], ...]:
    """The results with their titles; `progress` is told of each before it starts."""
    tell = progress or (lambda _: None)
    done = []
    for title, step in steps.items():
        tell(title.lower())
        done.append((title, step()))
    return tuple(done)


def _named(names: Iterable[str], what: str) -> str:
    """A few names listed, more of them counted."""
    some = list(names)
    return listing(some) if 0 < len(some) <= _NAMED else count(len(some), what)


def _met(scores: Scores, lot: str) -> list[str]:
    """Sessions in which a lot was tasted, in order."""
    here = set(scores.frame.loc[scores.frame[LOT].astype(str) == lot, SESSION].astype(str))
    names = [str(name) for name in scores.sessions[SESSION] if str(name) in here]
    if not names:
        tasted = [str(each) for each in scores.lots[LOT][:6]]
        raise DesignError("no such lot was tasted", where=f"standard {lot!r}", do=f"name a lot of {', '.join(tasted)}")
    return names


def _only_standard(scores: Scores) -> str:
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


def _among(names: list[str], session: str | None) -> str:
    """The session asked for; the latest if none was."""
    if session is None:
        return names[-1]
    if session not in names:
        raise DesignError("no such session", where=f"session {session!r}", do=f"choose one of {', '.join(names)}")
    return session
