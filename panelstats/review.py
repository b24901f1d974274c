"""The review of a session: the analyses that its data call for, in the order in which a reader needs them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.errors import DesignError
from panelstats.lots.comparison import LotComparison, compare_lots
from panelstats.lots.faults import FaultsNoticed, faults_noticed
from panelstats.panel.agreement import PanelAgreement, panel_agreement
from panelstats.panel.tasters import TasterAssessment, assess_tasters
from panelstats.result import Result, Verdict, in_order
from panelstats.scores.cells import SESSION

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


def _chosen(scores: Scores, session: str | None) -> str:
    names = [str(name) for name in scores.sessions[SESSION]]
    if session is None:
        return names[-1]
    if session not in names:
        raise DesignError("no such session", where=f"session {session!r}", do=f"choose one of {', '.join(names)}")
    return session
