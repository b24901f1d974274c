"""What is asked of where the lots lie: one map for each class."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from panelstats.arguments import checked
from panelstats.arguments.wording import known, switch
from panelstats.questions.asking import named, run, scored, sessions_of, titled
from panelstats.review import Review
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from panelstats.scores.table import Scores


@checked(joined=switch, fill_in=switch, lots=known("lots", "lot"))
def review_map(
    scores: Scores,
    *,
    session: str | None = None,
    joined: bool = False,
    within: str = "class",
    scale: str = "points",
    standard: str | None = None,
    lots: Sequence[str] = (),
    facts: Sequence[str] | None = None,
    fill_in: bool = False,
    pots: str | Mapping[str, str] | None = None,
    level: float = 0.95,
    seed: int = 0,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Draw the map of each class, with what is read off it and laid on it.

    Parameters
    ----------
    scores : Scores
    joined : bool
        All sessions in one map, as far as lots met again link them.
    within, scale, standard, lots, facts, fill_in, pots, level, seed
        As for `map_lots`.

    Raises
    ------
    DesignError
        No such session, lot or column.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.blends()
    >>> pst.review_map(pst.read_scores(room.frame, room=room.registers)).verdicts[0].call
    'one axis'
    """
    from panelstats.lots.maps.fit import map_lots

    names = sessions_of(scores)
    name, ours = ("", scores) if joined else scored(scores, session)
    asked: Any = {"within": within, "scale": scale, "standard": standard, "facts": facts, "pots": pots,
                  "fill_in": fill_in}  # fmt: skip
    steps = {
        "Map": lambda: map_lots(ours, session=names if joined else name, lots=lots, level=level, seed=seed, **asked)
    }
    title = named(names, "session") if joined else titled(ours, name)
    return Review(title, Phrase("Where do the lots lie?"), run(steps, progress), ours, name)
