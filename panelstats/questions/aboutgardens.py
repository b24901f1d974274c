"""What a garden's making did to its lots."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from panelstats.arguments import checked
from panelstats.arguments.objects import scores_whole
from panelstats.questions.asking import run
from panelstats.review import Review
from panelstats.scores.cells import LOT, SESSION
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from panelstats.result import Result
    from panelstats.scores.table import Scores


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
    sessions = set(map(str, ours.frame[SESSION].unique()))
    session = sessions.pop() if len(sessions) == 1 else ""
    return Review(garden, Phrase("What did its lots show?"), (*found[:1], *letter, *found[1:], *paid), ours, session)


def _what_they_fetched(
    scores: Scores, lots: set[str], level: float, progress: Callable[[str], None] | None
) -> tuple[tuple[str, Result], ...]:
    """What is known of the prices of some lots, held against all lots; nothing where too few have one."""
    from panelstats.lots.value.fit import LEAST, explain_value
    from panelstats.sheets.content.money import money_columns

    priced = [
        column for column in money_columns(scores.lots.columns)
        if (scores.lots[column].fillna("").astype(str) != "").sum() >= LEAST
    ]  # fmt: skip

    def own(column: str) -> Callable[[], Result]:
        return lambda: explain_value(scores, column, level=level).of_lots(lots)

    return run({column.capitalize(): own(column) for column in priced}, progress)
