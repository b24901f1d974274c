"""Questions after the tasting: what the price went with, which blend comes nearest, what a buyer may be told."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from panelstats.arguments import checked
from panelstats.arguments.objects import scores_whole
from panelstats.arguments.wording import text
from panelstats.questions.aboutsessions import short_list_of, weighed_of
from panelstats.questions.aboutstandards import only_standard
from panelstats.questions.asking import only_session, run, scored, titled
from panelstats.review import Review
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import pandas as pd

    from panelstats.result import Result
    from panelstats.scores.table import Scores


@checked(scores=scores_whole, by=text)
def review_value(
    scores: Scores,
    by: str | None = None,
    *,
    level: float = 0.95,
    seed: int = 0,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Do the scores carry the price of the lots, and by which words?

    Parameters
    ----------
    scores : Scores
        Lots with a price or valuation, of one session or several.
    by : str, optional
        A column of money beside the scores or in the lots register; by default the only one.

    Raises
    ------
    DesignError
        No such column, or a cell that is no amount.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"lot": range(8), "taster": "elm", "brisk": [5, 6, 5, 7, 6, 4, 5, 6], "price": 3.2})
    >>> print(pst.review_value(pst.read_scores(sheet)).verdicts[0].call)
    cannot tell
    """
    from panelstats.lots.value.fit import explain_value

    steps: dict[str, Callable[[], Result]] = {"Value": lambda: explain_value(scores, by, level=level, seed=seed)}
    results = run(steps, progress)
    column = str(results[0][1].tables()["link"]["by"].iloc[0])
    title = Phrase("{capitalize} and scores").format(capitalize=column.capitalize())
    asks = Phrase("Do the scores carry the {column}?").format(column=column)
    return Review(title, asks, results, scores, only_session(scores))


@checked(scores=scores_whole)
def review_recipes(
    scores: Scores,
    standard: str | None = None,
    *,
    stock: pd.DataFrame | None = None,
    batch: float | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    densities: pd.DataFrame | None = None,
    grams: float | None = None,
    millilitres: float | None = None,
    level: float = 0.95,
    seed: int = 0,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Trial recipes from the stock that come nearest to the standard, and whether they fit the pack.

    Parameters
    ----------
    scores : Scores
    standard : str, optional
        The lot to be met; by default the one whose role is "standard".
    stock, batch, tolerance, densities, grams, millilitres, level, seed
        As for `suggest_blends`.

    Raises
    ------
    DesignError
        As `suggest_blends`.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> marks = {"lot": ["S", "1", "2"] * 2, "taster": ["elm"] * 3 + ["yew"] * 3, "brisk": [5, 4, 6] * 2}
    >>> sheet = pd.DataFrame(marks)
    >>> pst.review_recipes(pst.read_scores(sheet), "S").title
    'Recipes for S'
    """
    from panelstats.lots.blends.fit import suggest_blends

    master = standard if standard is not None else only_standard(scores)
    asked: Any = {"stock": stock, "batch": batch, "tolerance": tolerance, "densities": densities, "grams": grams,
                  "millilitres": millilitres, "level": level, "seed": seed}  # fmt: skip
    results = run({"Recipes": lambda: suggest_blends(scores, master, **asked)}, progress)
    title = Phrase("Recipes for {master}").format(master=master)
    return Review(title, Phrase("Which blend of the stock comes nearest?"), results, scores, only_session(scores))


@checked(scores=scores_whole)
def review_summary(
    scores: Scores,
    *,
    lots: Sequence[str] | None = None,
    session: str | None = None,
    densities: pd.DataFrame | None = None,
    grams: float | None = None,
    millilitres: float | None = None,
    level: float = 0.95,
    progress: Callable[[str], None] | None = None,
) -> Review:
    """Lots for a buyer who was not in the room: only what their intervals support.

    Parameters
    ----------
    scores : Scores
        Earlier sessions say where a class lay last season.
    lots : sequence of str, optional
        By default all but controls and standards.
    densities : DataFrame, optional
        Weighings as `read_densities` gives them; by default those that were read with the scores.
    grams, millilitres : float, optional
        The pack that they are held against.

    Raises
    ------
    DesignError
        No such lot or session.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.bench()
    >>> review = pst.review_summary(pst.read_scores(room.frame, room=room.registers), lots=["411"])
    >>> print(review.verdicts[0].sentence)
    411: more brisk, coppery and bright, less even and black than its class (black broken; 11 other lots).
    """
    from panelstats.lots.buyer.fit import describe_lots
    from panelstats.lots.compare.fit import compare_lots
    from panelstats.lots.faults.fit import faults_noticed
    from panelstats.lots.packs.fit import fit_pack
    from panelstats.lots.packs.weighed import weigh_lots
    from panelstats.lots.shortlist.shape import one_look

    name, ours = scored(scores, session)
    cells = ours.cells()
    judged: Callable[[], Result] = (
        (lambda: short_list_of(scores, ours, name, None, take=None, level=level)) if one_look(cells)
        else lambda: compare_lots(cells, level=level)
    )  # fmt: skip
    ((_, found),) = run({"Judging the lots": judged}, progress)
    steps: dict[str, Callable[[], Result]] = {
        "Lots": lambda: describe_lots(scores, found, lots=lots, session=name),
        "Faults": lambda: faults_noticed(ours if lots is None else ours.select(lot=list(lots)), level=level),
    }
    weighed = weighed_of(ours) if densities is None else densities
    if len(weighed) and grams is not None and millilitres is not None:
        steps["Packs"] = lambda: fit_pack(weighed, grams=grams, millilitres=millilitres, level=level)
    elif len(weighed):
        steps["Densities"] = lambda: weigh_lots(weighed, level=level)
    results = run(steps, progress)
    if lots is not None and len(weighed):
        *others, (title, held) = results
        untold = set(weighed["lot"].astype(str)) - set(map(str, lots))  # they were held against these, and no more
        kept = tuple(verdict for verdict in held.verdicts if verdict.subject not in untold)
        results = (*others, (title, replace(held, verdicts=kept)))
    title = Phrase("{ours}, for the buyer").format(ours=titled(ours, name))
    return Review(title, Phrase("What are the lots like?"), results, ours, name)
