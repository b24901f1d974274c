"""Questions about people: whose scores may count, and who has moved over a season."""

from __future__ import annotations

from hashlib import sha256
from typing import TYPE_CHECKING, Any

from panelstats.arguments import checked
from panelstats.questions.asking import named, only_session, run
from panelstats.review import Review
from panelstats.scores.cells import SESSION, TASTER, Cells
from panelstats.speech import Phrase
from panelstats.words import count

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from panelstats.result import Result
    from panelstats.scores.table import Scores


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
    results = run({"Trainees": lambda: assess_trainees(cells, **asked)}, progress)
    names = [str(name) for name in results[0][1].tables()["summary"]["trainee"]]
    return Review(named(names, "trainee"), Phrase("May their scores count?"), results, scores)


@checked()
def review_tasters(
    scores: Scores,
    *,
    pots: str | Mapping[str, str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    level: float = 0.95,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Say who can be relied on, for what, over all sheets.

    Parameters
    ----------
    scores : Scores
        One session or several.

    Raises
    ------
    DesignError
        As `assess_tasters`.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.new_tasters()
    >>> [title for title, _ in pst.review_tasters(pst.read_scores(room.frame, room=room.registers)).results]
    ['Panel', 'Tasters']
    """
    from panelstats.panel.agreement.fit import panel_agreement
    from panelstats.panel.tasters.fit import assess_tasters

    steps: dict[str, Callable[[], Result]] = {
        "Panel": lambda: panel_agreement(scores, pots=pots, level=level),
        "Tasters": lambda: assess_tasters(scores, pots=pots, tolerance=tolerance, level=level),
    }
    title = named([str(name) for name in scores.tasters[TASTER]], "taster")
    return Review(title, Phrase("Who can be relied on, for what?"), run(steps, progress), scores, only_session(scores))


@checked()
def review_season(
    scores: Scores | Cells,
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
    scores : Scores or Cells
        The sessions of the season; cells, as `read_cells` gives them, where they are too many for memory.
    baseline, controls, false_alarm, until, seed
        As for `audit_season`.

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
    ours = scores if until is None else _up_to(scores, sessions)
    asked: Any = {"baseline": baseline, "controls": controls, "false_alarm": false_alarm, "seed": seed,
                  "progress": progress}  # fmt: skip
    results = (("Season", audit_season(ours, **asked)),)
    title = (
        Phrase("Season {sessions} to {sessions_2}").format(sessions=sessions[0], sessions_2=sessions[-1])
        if len(sessions) > 1
        else Phrase("Session {sessions}").format(sessions=sessions[0])
    )
    question = Phrase("Who has moved, and since when?")
    if isinstance(ours, Cells):
        digest = sha256(ours.digest.encode()).hexdigest()[:16]
        return Review(title, question, results, source=f"{digest} · {count(len(sessions), 'session')}", cells=ours)
    return Review(title, question, results, ours)


def _up_to(scores: Scores | Cells, sessions: list[str]) -> Scores | Cells:
    if isinstance(scores, Cells):
        return scores.where(scores.frame[SESSION].isin(sessions).to_numpy())
    return scores.select(session=set(sessions))
