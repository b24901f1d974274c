"""Was a pot brewed wrong? Every pot against its sister pots, several descriptors at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.lots.plaintables import tolerances
from panelstats.lots.pots import words
from panelstats.lots.pots.potcalls import (
    ALIKE,
    APART,
    CALL,
    DIFFERENCE,
    DISAGREE,
    LEAST_LOTS,
    NAMED,
    ONE_PALATE,
    POT,
    pot_verdicts,
)
from panelstats.models.oddreplicates import OddReplicates, odd_replicates
from panelstats.models.ties import tied
from panelstats.result import Chart, Mark, Result, chart_rows, in_order, of_descriptor
from panelstats.scores.cells import BREW, DESCRIPTOR, LOT, MEAN, SESSION, SHARED, STAGE, TASTER, cells_from
from panelstats.speech import Phrase
from panelstats.words import stated_percent

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

REASON = "reason"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class PotCheck(Result):
    """Answer of `check_pots`.

    Attributes
    ----------
    table : DataFrame
        session, stage, lot, pots, tasters, pot (the one farthest out), sisters (the others), p (adjusted for all lots,
        descriptors and stages), call, reason. A row for each lot with two pots or more; the least likely first.
    differences : DataFrame
        session, stage, lot, pot, descriptor, difference (points, from the mean of its sister pots), z, same_way
        (tasters whose own pots differ that way), of the pot farthest out of each lot.
    """

    table: pd.DataFrame
    differences: pd.DataFrame

    @property
    def named(self) -> pd.DataFrame:
        """The lots of which a pot is to be brewed again."""
        return self.table[self.table[CALL].isin(NAMED)]

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each lot: how far its pot farthest out lies from its sister pots, on its worst descriptor."""
        rows = of_descriptor(self.differences, descriptor)
        worst = rows.loc[rows.groupby([SESSION, STAGE, LOT], sort=False)["z"].apply(lambda z: z.abs().idxmax())]
        called = set(map(tuple, self.named[[SESSION, STAGE, LOT]].to_numpy()))
        marks = [Mark.AGAIN if key in called else None for key in map(tuple, worst[[SESSION, STAGE, LOT]].to_numpy())]
        labels = [
            Phrase("{lot}, pot {pot}: {name}").format(lot=lot, pot=pot, name=name)
            for lot, pot, name in worst[[LOT, POT, DESCRIPTOR]].to_numpy()
        ]
        return Chart(
            Phrase("Pots against their sister pots"),
            Phrase("pot farthest out less its sister pots, on the descriptor that shows it most (points)"),
            chart_rows(labels, value=worst[DIFFERENCE], marks=marks),
            words=Phrase("a lot: the pot farthest out less the mean of its sister pots"),
            zero=0.0,
        )


class _Table(NamedTuple):
    """One session and stage: marks by (lot, pot, taster, descriptor), NaN unless tasted from every pot of the lot."""

    session: str
    stage: str
    lots: np.ndarray
    pots: list[list[str]]
    tasters: np.ndarray
    descriptors: np.ndarray
    marks: np.ndarray

    @property
    def means(self) -> np.ndarray:
        """Panel means, (lot, pot, descriptor)."""
        known = np.isfinite(self.marks)
        total = np.where(known, self.marks, 0.0).sum(axis=2)
        return np.where(known.any(axis=2), total / np.maximum(known.sum(axis=2), 1), np.nan)


@checked()
def check_pots(
    scores: Scores | Cells,
    *,
    pots: str | Mapping[str, str] | None = None,
    tolerance: float | Mapping[str, float] | None = None,
    level: float = 0.95,
    seed: int = 0,
) -> PotCheck:
    """Hold every shared pot against its sister pots, session by session and stage by stage.

    Parameters
    ----------
    scores : Scores or Cells
        Trainees do not count.
    level : float in (0, 1)
        In at most 1 - level of sessions is any lot named by chance.

    Returns
    -------
    PotCheck
        With two pots nothing says which is wrong: they disagree. Nothing is left out of any other analysis.

    Notes
    -----
    See `panelstats.models.oddreplicates`. Bonferroni over stages. A lot is named only where a descriptor differs by its
    tolerance or more and, whichever taster is left out, keeps its sign and half its size.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.bench()
    >>> found = pst.check_pots(pst.read_scores(room.frame, room=room.registers))
    >>> list(found.named["lot"])
    ['405']
    """
    cells = cells_from(scores, pots)
    parts = [part for table in _tables(cells) if (part := _tested(table, seed)) is not None]
    stages = pd.Series([table.session for table, _ in parts]).value_counts()
    points = tolerances(cells.descriptors, tolerance)
    rows, differences = [], []
    for table, found in parts:
        lines, farthest = _rows(table, found, points, int(stages[table.session]), 1 - level)
        rows.append(lines)
        differences.append(farthest)
    every = pd.concat(rows, ignore_index=True) if rows else pd.DataFrame(columns=_COLUMNS)
    far = pd.concat(differences, ignore_index=True) if differences else pd.DataFrame(columns=_FARTHEST)
    every = every.sort_values(["p", LOT], kind="stable", ignore_index=True)
    return PotCheck(
        table=every,
        differences=far,
        verdicts=in_order(pot_verdicts(every, far, [(table.stage, found) for table, found in parts], cells)),
        method=words.METHOD.format(draws=Phrase("1,999 or, of large sessions, fewer"), error=stated_percent(1 - level)),
    )


_COLUMNS = [SESSION, STAGE, LOT, "pots", "tasters", POT, "sisters", "p", CALL, REASON]
_FARTHEST = [SESSION, STAGE, LOT, POT, DESCRIPTOR, DIFFERENCE, "z", "same_way"]


def _tables(cells: Cells) -> list[_Table]:
    """The sessions and stages with shared pots that two tasters or more tasted."""
    frame = cells.select(role="senior").frame
    frame = frame.astype({SESSION: str, LOT: str, TASTER: str, DESCRIPTOR: str})
    stage = dict(zip(cells.descriptors[DESCRIPTOR].astype(str), cells.descriptors[STAGE].astype(str), strict=True))
    shared = {(str(s), str(g)) for s, g, word in cells.pots[[SESSION, STAGE, "pots"]].to_numpy() if word == SHARED}
    frame = frame.assign(**{STAGE: frame[DESCRIPTOR].map(stage)})
    groups = frame.groupby([SESSION, STAGE], sort=False)
    return [_table(str(s), str(g), rows) for (s, g), rows in groups if (str(s), str(g)) in shared]


def _table(session: str, stage: str, rows: pd.DataFrame) -> _Table:
    brews = rows[[LOT, BREW]].drop_duplicates()
    brews = brews.assign(at=brews.groupby(LOT, sort=False).cumcount())
    many = brews.groupby(LOT, sort=False)[BREW].transform("size") > 1
    brews = brews[many]
    rows = rows.merge(brews, on=[LOT, BREW])
    axes = [pd.factorize(rows[name]) for name in (LOT, TASTER, DESCRIPTOR)]
    (lot, lots), (taster, tasters), (descriptor, descriptors) = axes
    most = int(brews["at"].max()) + 1 if len(brews) else 0
    marks = np.full((len(lots), most, len(tasters), len(descriptors)), np.nan)
    marks[lot, rows["at"], taster, descriptor] = rows[MEAN]
    named = brews[BREW].astype(str).groupby(brews[LOT], sort=False).agg(list)
    pots = named.loc[lots].tolist()
    wanted = np.arange(most) < np.array([len(some) for some in pots])[:, None]  # (lot, pot)
    whole = (np.isfinite(marks) | ~wanted[:, :, None, None]).all(axis=1, keepdims=True)
    return _Table(session, stage, np.asarray(lots, str), pots, np.asarray(tasters, str), np.asarray(descriptors, str),
                  np.where(whole, marks, np.nan))  # fmt: skip


def _tested(table: _Table, seed: int) -> tuple[_Table, OddReplicates] | None:
    """The table of the lots that can be tested, with what was found; None where they are too few."""
    tasters = np.isfinite(table.marks).any(axis=1).sum(axis=1).max(axis=1, initial=0)  # (lot,)
    keep = np.flatnonzero(tasters >= 2)
    if len(keep) < LEAST_LOTS:
        return None
    table = table._replace(lots=table.lots[keep], pots=[table.pots[at] for at in keep], marks=table.marks[keep])
    means = table.means
    varied = (
        np.where(np.isfinite(means), means, -np.inf).max(axis=1)
        > np.where(np.isfinite(means), means, np.inf).min(axis=1)
    ).any(axis=0)
    if not varied.any():
        return None
    table = table._replace(descriptors=table.descriptors[varied], marks=table.marks[..., varied])
    return table, odd_replicates(table.means, seed=seed)


def _rows(
    table: _Table, found: OddReplicates, points: pd.Series, stages: int, error: float
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """A row for each lot, and the differences of its pot farthest out."""
    at = np.arange(len(table.lots))
    gap = _gap(table.means, found.odd)
    own = _gap(np.moveaxis(table.marks, 2, 0), found.odd)  # of each taster, (taster, lot, descriptor)
    out = _without_each(own)
    large = np.abs(gap) >= points.loc[table.descriptors].to_numpy()
    carried = (np.sign(out) == np.sign(gap)) & (np.abs(out) >= np.abs(gap) / 2) | np.isnan(out)
    steady = large & carried.all(axis=0)
    p = np.minimum(found.p * stages, 1.0)
    sizes = np.array([len(some) for some in table.pots])
    pot = [table.pots[n][found.odd[n]] for n in at]
    sisters = [", ".join(name for k, name in enumerate(table.pots[n]) if k != found.odd[n]) for n in at]
    calls = [_call(p[n] < error, bool(large[n].any()), bool(steady[n].any()), int(sizes[n])) for n in at]
    lines = pd.DataFrame(
        {SESSION: table.session, STAGE: table.stage, LOT: table.lots, "pots": sizes,
         "tasters": np.isfinite(table.marks).any(axis=(1, 3)).sum(axis=1), POT: pot, "sisters": sisters, "p": p,
         CALL: [call for call, _ in calls], REASON: [reason for _, reason in calls]}
    )  # fmt: skip
    same = (np.sign(own) == np.sign(gap)).sum(axis=0)
    shape = gap.shape
    far = pd.DataFrame(
        {SESSION: table.session, STAGE: table.stage, LOT: np.repeat(table.lots, shape[1]),
         POT: np.repeat(pot, shape[1]), DESCRIPTOR: np.tile(table.descriptors, shape[0]), DIFFERENCE: gap.ravel(),
         "z": tied(found.z[at, found.odd].ravel()), "same_way": same.ravel()}
    )  # fmt: skip
    return lines, far.dropna(subset=[DIFFERENCE], ignore_index=True)


def _call(unlikely: bool, large: bool, steady: bool, pots: int) -> tuple[str, str]:
    if not unlikely:
        return ALIKE, Phrase("no farther apart than pots of this session")
    if not large:
        return ALIKE, Phrase("farther apart than other pots, and within the tolerance on every descriptor")
    if not steady:
        return ONE_PALATE, Phrase("not without the cups of one taster")
    return (
        (DISAGREE, Phrase("nothing says which of two is wrong"))
        if pots == 2
        else (APART, Phrase("farther out than its sister pots"))
    )


def _gap(means: np.ndarray, odd: np.ndarray) -> np.ndarray:
    """The odd pot less the mean of its sister pots; (..., lot, pot, descriptor) -> (..., lot, descriptor)."""
    at = odd.reshape(*[1] * (means.ndim - 3), -1, 1, 1)
    mine = np.take_along_axis(means, at, axis=-2)[..., 0, :]
    others = np.isfinite(means).sum(axis=-2) - 1
    return mine - (np.nansum(means, axis=-2) - mine) / np.where(others > 0, others, np.nan)


def _without_each(own: np.ndarray) -> np.ndarray:
    """The panel's difference with each taster left out in turn, from that of each, (taster, lot, descriptor)."""
    known = np.isfinite(own)
    total, n = np.where(known, own, 0.0).sum(axis=0), known.sum(axis=0)
    return np.where(known & (n > 1), (total - np.where(known, own, 0.0)) / np.maximum(n - 1, 1), np.nan)
