"""Reviews: the analyses that the data of a session, or of blends beside their standard, call for; in reading order."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.difference.counts.planning import AnswersNeeded, answers_needed
from panelstats.difference.counts.words import SHARE_IF_NONE
from panelstats.errors import DesignError
from panelstats.lots.compare.fit import LotComparison, compare_lots
from panelstats.lots.faults.fit import FaultsNoticed, faults_noticed
from panelstats.lots.standard.fit import StandardMatch, match_standard
from panelstats.lots.track.fit import StandardTrack, track_standard
from panelstats.panel.agreement.fit import PanelAgreement, panel_agreement
from panelstats.panel.tasters.fit import TasterAssessment, assess_tasters
from panelstats.result import Result, Verdict, in_order
from panelstats.scores.cells import LOT, ROLE, SESSION, TASTER

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from panelstats.scores.table import Scores


@dataclass(frozen=True, eq=False, repr=False)
class Review:
    """One session reviewed.

    Attributes
    ----------
    session : str
        The session under review; where a source holds several, the latest.
    scores : Scores
        Its scores, with the account of all that was read.
    faults : FaultsNoticed
    lots : LotComparison
    agreement : PanelAgreement
    tasters : TasterAssessment
    """

    session: str
    scores: Scores
    faults: FaultsNoticed
    lots: LotComparison
    agreement: PanelAgreement
    tasters: TasterAssessment

    @property
    def results(self) -> tuple[tuple[str, Result], ...]:
        """The results in page order, each with its title."""
        return (
            ("Faults", self.faults),
            ("Lots", self.lots),
            ("Panel", self.agreement),
            ("Tasters", self.tasters),
        )

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """Every verdict, what to act on first."""
        return in_order([verdict for _, result in self.results for verdict in result.verdicts])

    def __repr__(self) -> str:
        return "\n".join(str(verdict) for verdict in self.verdicts)


def review_session(
    scores: Scores,
    *,
    session: str | None = None,
    pots: str | Mapping[str, str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    level: float = 0.95,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Run the analyses that a session calls for.

    Parameters
    ----------
    scores : Scores
    session : str, optional
        Which one, where there are several; by default the latest in their order.
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
    >>> review = pst.review_session(pst.read_scores(pst.example.bench().tables()))  # doctest: +SKIP
    """
    tell = progress or (lambda _: None)
    name = _chosen(scores, session)
    ours = scores.select(session=name)
    if not len(ours):
        raise DesignError("no score to review", where=f"session {name!r}", do="give a sheet with at least one score")
    cells = ours.cells(pots=pots)
    tell("faults")
    faults = faults_noticed(ours, level=level)
    tell("lots")
    lots = compare_lots(cells, tolerance=tolerance, level=level)
    tell("panel")
    agreement = panel_agreement(cells, level=level)
    tell("tasters")
    tasters = assess_tasters(cells, tolerance=tolerance, level=level)
    return Review(name, ours, faults, lots, agreement, tasters)


@dataclass(frozen=True, eq=False, repr=False)
class BlendReview:
    """Blends held against their standard.

    Attributes
    ----------
    session : str
        The session in which they were tasted beside it; where a source holds several, the latest.
    scores : Scores
        Its scores, with the account of all that was read.
    match : StandardMatch
    tracking : StandardTrack or None
        The weeks against the master, where the standard stood beside one trial blend in each of several sessions.
    faults : FaultsNoticed
        Of the blends and the standard.
    plan : AnswersNeeded or None
        What a triangle test with one answer from each taster could settle; None where answers were given.
    """

    session: str
    scores: Scores
    match: StandardMatch
    tracking: StandardTrack | None
    faults: FaultsNoticed
    plan: AnswersNeeded | None

    @property
    def results(self) -> tuple[tuple[str, Result], ...]:
        """The results in page order, each with its title."""
        weeks = () if self.tracking is None else (("Weeks", self.tracking),)
        plan = () if self.plan is None else (("Answers needed", self.plan),)
        return (("Blends", self.match), *weeks, ("Faults", self.faults), *plan)


def review_blends(
    scores: Scores,
    standard: str | None = None,
    *,
    session: str | None = None,
    pots: str | Mapping[str, str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    within_share: float | None = None,
    answered: bool = False,
    level: float = 0.95,
    progress: Callable[[str], None] | None = None,
) -> BlendReview:
    """Run the analyses that blends beside their standard call for.

    Parameters
    ----------
    scores : Scores
    standard : str, optional
        The lot to be matched; by default the one whose role is "standard".
    session : str, optional
        Which one; by default the latest in which the standard was tasted.
    pots : {"shared", "own", "same"} or mapping of stage to one of these, optional
    tolerance : float or mapping of descriptor to float, optional
        Largest difference that still is a match, in points; by default the register's.
    within_share : float in (0, 1], optional
        Share of tasters able to tell that a triangle test would have to settle; 0.3 if not given.
    answered : bool
        Answers of difference tests are at hand, so that none need be planned.
    level : float in (0, 1)
    progress : callable, optional
        Told the name of each analysis before it starts.

    Returns
    -------
    BlendReview

    Raises
    ------
    DesignError
        No such standard or session, no lot beside it, or a tolerance that is no size.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.blends()
    >>> found = review_blends(pst.read_scores(room.frame, room=room.registers))
    >>> dict(zip(found.match.summary["lot"], found.match.summary["call"]))
    {'B1': 'match', 'B2': 'differ'}
    """
    tell = progress or (lambda _: None)
    master = standard if standard is not None else _only_standard(scores)
    sessions = _met(scores, master)
    name = _among(sessions, session)
    ours = scores.select(session=name)
    tell("blends")
    match = match_standard(ours, master, tolerance=tolerance, pots=pots, level=level)
    tracking = None
    if _one_a_week(scores, sessions):
        tell("weeks")
        tracking = track_standard(scores, master, tolerance=tolerance, pots=pots, level=level)
    tell("faults")
    faults = faults_noticed(ours.select(lot=[master, *match.table[LOT].astype(str)]), level=level)
    share = SHARE_IF_NONE if within_share is None else within_share
    tasters = int(ours.frame[TASTER].astype(str).nunique())
    plan = None if answered else answers_needed("triangle", within_share=share, answers=tasters)
    return BlendReview(name, ours, match, tracking, faults, plan)


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


def _chosen(scores: Scores, session: str | None) -> str:
    return _among([str(name) for name in scores.sessions[SESSION]], session)


def _among(names: list[str], session: str | None) -> str:
    """The session asked for; the latest if none was."""
    if session is None:
        return names[-1]
    if session not in names:
        raise DesignError("no such session", where=f"session {session!r}", do=f"choose one of {', '.join(names)}")
    return session
