"""The row that the tasters walked along: whether place and lot can be told apart, and what the place does to marks."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, cast

import numpy as np
from scipy.special import stdtr

from panelstats.lots.compare import words
from panelstats.models.additive import fit_additive
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, LOT, POSITION, ROLE, SCORE, SESSION, TASTER, Cells
from panelstats.scores.places import Run, places, runs
from panelstats.words import listing, number

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import pandas as pd

    from panelstats.scores.table import Scores

# All walked in one order where no more than this share of the spread of places is left beside lot and taster (ours).
ONE_ORDER = 0.10
# The place is taken off where its effect passes this level, corrected for the number of descriptors.
SHOWN = 0.05
# Descriptors told of a list that marks run along, the closest first (ours).
MOST_TOLD = 3


@dataclass(frozen=True, eq=False)
class Walk:
    """Cells freed of the place in the row where it is shown to matter, and what is to be said.

    Attributes
    ----------
    cells : Cells
    verdicts : list of Verdict
        One for each session in which place and lot cannot be told apart.
    sentences : list of str
        For the method: what was taken off.
    """

    cells: Cells
    verdicts: list[Verdict] = field(default_factory=list)
    sentences: list[str] = field(default_factory=list)


def walked(scores: Scores | Cells, cells: Cells, pots: str | Mapping[str, str] | None) -> Walk:
    """What the places say of every session, recorded or as the sheet lists them; and of lists that marks run along.

    Notes
    -----
    Model of a cell's mean: lot + taster + slope x place, the place about the taster's own mean; slope by least squares,
    t on the degrees of freedom that lot and taster leave, less one (analysis of covariance, Cochran 1957, Biometrics
    13: 261). The slope's own error is small beside that of a lot and is left out of the intervals.
    """
    if isinstance(scores, Cells):
        return Walk(cells)
    recorded = places(scores)
    several = len(scores.frame[SESSION].unique()) > 1
    listed = [_along_the_list(run, several) for run in runs(scores)]
    if np.isnan(recorded).all():
        return Walk(cells, listed)
    scores = replace(scores, frame=scores.frame.assign(**{POSITION: recorded}), _memo={})
    seniors = scores.tasters.loc[scores.tasters[ROLE] == "senior", TASTER]
    frame = scores.frame[scores.frame[TASTER].isin(seniors) & scores.frame[POSITION].notna()]
    verdicts, sentences, taken = listed, [], []
    for session, rows in frame.groupby(SESSION, observed=True):
        place = _table(rows, POSITION)
        if min(place.shape) < 2:
            continue
        where = words.IN_SESSION.format(session=session) if several else ""
        if _one_order(place):
            verdicts.append(_confounded(where))
            continue
        slopes = _slopes(rows)
        if slopes:
            sentences.append(_told(slopes, rows, where))
            taken.append((session, slopes))
    if not taken:
        return Walk(cells, verdicts, sentences)
    return Walk(_freed(scores, taken).cells(pots=pots), verdicts, sentences)


def _table(rows: pd.DataFrame, value: str) -> pd.DataFrame:
    """Mean of a column by lot and taster."""
    return rows.pivot_table(index=LOT, columns=TASTER, values=value, aggfunc="mean", observed=True)


def _one_order(place: pd.DataFrame) -> bool:
    """Whether lot and taster leave next to nothing of the spread of places."""
    y = place.to_numpy()[..., None]
    seen = np.isfinite(y)
    centred = np.where(seen, y - np.nanmean(y, axis=0), 0.0)
    left = fit_additive(np.nan_to_num(y), seen).residual
    return bool((left**2).sum() <= ONE_ORDER * (centred**2).sum())


def _confounded(where: str) -> Verdict:
    sentence = words.ONE_ORDER.format(session=where)
    return Verdict(words.QUESTION, "", words.CANNOT_TELL, sentence, {}, words.OWN_ORDERS, Act.DECIDE)


def _along_the_list(run: Run, several: bool) -> Verdict:
    """Said where the order on the sheets may have been the walk."""
    moves = [f"{name} {number(size, 1, sign=True)}" for name, size in list(run.moves.items())[:MOST_TOLD]]
    where = words.IN_SESSION.format(session=run.session) if several else ""
    sentence = words.ALONG_THE_LIST.format(session=where, moves=listing(moves))
    return Verdict(words.QUESTION, "", words.CANNOT_TELL, sentence, {}, words.SAY_THE_ORDER, Act.DECIDE)


def _slopes(rows: pd.DataFrame) -> dict[str, float]:
    """Points a place of the descriptors on which the place is shown to matter."""
    mean = rows.groupby([DESCRIPTOR, LOT, TASTER], observed=True)[[SCORE, POSITION]].mean()
    index = cast("pd.MultiIndex", mean.index)
    names, lots, tasters = index.levels
    y = np.full((len(lots), len(tasters), 2, len(names)), np.nan)
    of, lot, taster = index.codes
    y[lot, taster, :, of] = mean.to_numpy()
    fit = fit_additive(np.nan_to_num(y).reshape(*y.shape[:2], -1), np.isfinite(y).reshape(*y.shape[:2], -1))
    marks, places = np.moveaxis(fit.residual.reshape(y.shape), 2, 0)
    square, together, spread = ((one * other).sum(axis=(0, 1)) for one, other in
                                ((places, places), (marks, places), (marks, marks)))  # fmt: skip
    df = fit.df.reshape(2, -1)[0] - 1
    can = (df >= 1) & (square > 0)
    slope = together[can] / square[can]
    rest = np.maximum(spread[can] - slope**2 * square[can], 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        t = np.where(rest > 0, abs(slope) * np.sqrt(square[can] * df[can] / rest), np.inf)
    shown = 2 * stdtr(df[can], -t) * can.sum() < SHOWN
    return {str(name): float(each) for name, each in zip(names[can][shown], slope[shown], strict=True)}


def _told(slopes: dict[str, float], rows: pd.DataFrame, where: str) -> str:
    length = float(rows[POSITION].max() - rows[POSITION].min())
    moves = [f"{name} {number(slope * length, 1, sign=True)}" for name, slope in slopes.items()]
    return words.ALONG_THE_ROW.format(session=where, moves=listing(moves))


def _freed(scores: Scores, taken: Sequence[tuple[object, dict[str, float]]]) -> Scores:
    """The scores as if every cup had stood at the taster's mean place."""
    frame = scores.frame
    mean = frame.groupby([SESSION, TASTER], observed=True)[POSITION].transform("mean")
    away = (frame[POSITION] - mean).fillna(0.0)
    moved = np.zeros(len(frame))
    for session, slopes in taken:
        slope = frame[DESCRIPTOR].astype(str).map(slopes).fillna(0.0).to_numpy(float)
        moved += np.where(frame[SESSION] == session, slope * away, 0.0)
    return replace(scores, frame=frame.assign(**{SCORE: frame[SCORE] - moved}), _memo={})
