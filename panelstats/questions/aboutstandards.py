"""Whether blends match their standard, this week and over the weeks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from panelstats.arguments import checked
from panelstats.arguments.objects import table
from panelstats.errors import DesignError
from panelstats.questions.asking import among, named, run, sessions_of
from panelstats.review import Review
from panelstats.scores.cells import LOT, ROLE, SESSION, TASTER
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import pandas as pd

    from panelstats.result import Result
    from panelstats.scores.table import Scores


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
    tolerance : float or mapping of descriptor to float, optional
        Largest difference that still is a match, in points; by default the register's.
    within_share : float in (0, 1], optional
        Largest share of tasters able to tell that still is a match in a difference test; for the plan 0.3 if not given.

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
    title = Phrase("{beside} against {master}").format(beside=named(beside, "lot"), master=master)
    return Review(title, Phrase("Do they match the standard?"), (*results, *run(rest, progress)), ours, name)


def _met(scores: Scores, lot: str) -> list[str]:
    """Sessions in which a lot was tasted, in order."""
    here = set(scores.frame.loc[scores.frame[LOT].astype(str) == lot, SESSION].astype(str))
    names = [name for name in sessions_of(scores) if name in here]
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
