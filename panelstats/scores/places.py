"""Where in the row each serving stood: as recorded, as listed, or not known; and marks that run along a list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, POSITION, POT, ROLE, SCORE, SESSION, TASTER

if TYPE_CHECKING:
    from panelstats.scores.table import Scores

# Column and word of the register of sessions by which the order of the sheet is the order of tasting.
ORDER, AS_LISTED, UNSAID = "order", "as listed", ""
# Marks run along the list where fewer than this share of shuffled lists would be followed as closely.
SHOWN = 0.05
SHUFFLES, SEED = 199, 12


@dataclass(frozen=True)
class Run:
    """A session in which marks run along the one order all sheets list the lots in, though nobody said it was walked.

    Attributes
    ----------
    session : str
    moves : dict of str to float
        By descriptor, points from the first lot listed to the last.
    """

    session: str
    moves: dict[str, float]


def places(scores: Scores) -> np.ndarray:
    """Place of every row of `scores.frame`: recorded, else that in the sheet where the register says so, else NaN.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"session": "1", "lot": ["9", "7"], "taster": "elm", "brisk": [6, 5]})
    >>> said = pd.DataFrame({"session": ["1"], "order": ["as listed"]})
    >>> print(places(pst.read_scores(sheet, room={"sessions": said})))
    [1. 2.]
    """
    frame = scores.frame
    recorded = frame[POSITION].to_numpy(float)
    known = set(frame.loc[frame[POSITION].notna(), SESSION].unique())
    said = [name for name, order in _orders(scores).items() if order == AS_LISTED and name not in known]
    here = frame[SESSION].isin(said).to_numpy()
    return np.where(here, listed(frame), recorded) if here.any() else recorded


def runs(scores: Scores) -> list[Run]:
    """Sessions of whose order nothing is known, whose sheets list the lots in one order along which marks run.

    Notes
    -----
    Squared correlation of the lots' means with their place, within class, summed over descriptors, against the same
    places shuffled over the lots.
    """
    frame = scores.frame
    known = set(frame.loc[frame[POSITION].notna(), SESSION].unique())
    unsaid = [name for name, order in _orders(scores).items() if order == UNSAID and name not in known]
    seniors = scores.tasters.loc[scores.tasters[ROLE] == "senior", TASTER]
    frame = frame[frame[SESSION].isin(unsaid) & frame[TASTER].isin(seniors)]
    place, session = listed(frame), frame[SESSION].cat.codes.to_numpy()
    group = np.unique(_classes(scores), return_inverse=True)[1]
    found = []
    for k, name in enumerate(frame[SESSION].cat.categories):
        here = session == k
        if here.any():
            found.append(_run(str(name), frame[here], place[here], group))
    return [run for run in found if run]


def one_order(place: pd.DataFrame) -> bool:
    """Whether every taster (column) met the lots (rows) in one order."""
    ranks = place.dropna().rank().to_numpy()
    return ranks.shape[0] > 2 and ranks.shape[1] > 1 and bool((ranks == ranks[:, :1]).all())


def _orders(scores: Scores) -> dict[str, str]:
    """What the register says of each session's order."""
    names = scores.sessions[SESSION].astype(str)
    said = scores.sessions[ORDER].astype(str) if ORDER in scores.sessions else [UNSAID] * len(names)
    return {name: order.strip().lower() for name, order in zip(names, said, strict=True)}


def _classes(scores: Scores) -> list[str]:
    """Class of every lot, in the order of the categories of the frame."""
    classes = dict(zip(scores.lots[LOT].astype(str), scores.lots[CLASS].astype(str), strict=True))
    return [classes.get(str(lot), "") for lot in scores.frame[LOT].cat.categories]


def listed(frame: pd.DataFrame) -> np.ndarray:
    """Place of each row's serving in the list of its taster and session, from 1."""
    if frame.empty:
        return np.zeros(0)
    session, taster, lot = (frame[key].cat.codes.to_numpy(np.int64) for key in (SESSION, TASTER, LOT))
    pot = frame[POT].to_numpy(np.int64)
    lists, servings = taster.max() + 1, (lot.max() + 1) * (pot.max() + 1)
    key = (session * lists + taster) * servings + lot * (pot.max() + 1) + pot
    serving, first, at = np.unique(key, return_index=True, return_inverse=True)
    order = np.lexsort((first, serving // servings))
    begins = np.r_[True, np.diff((serving // servings)[order]) > 0]
    count = np.arange(len(order))
    place = np.empty(len(order))
    place[order] = count - np.maximum.accumulate(np.where(begins, count, 0)) + 1
    return np.asarray(place[at])


def _run(session: str, rows: pd.DataFrame, place: np.ndarray, group: np.ndarray) -> Run | None:
    taster, lot, word = (rows[key].cat.codes.to_numpy(np.int64) for key in (TASTER, LOT, DESCRIPTOR))
    there = _mean(place, lot, taster)  # (lot, taster)
    if not one_order(pd.DataFrame(there).dropna(axis=1, how="all").dropna(how="all")):
        return None
    score = rows[SCORE].to_numpy(float)
    marks = _mean(score - _mean(score, taster, word)[taster, word], lot, word)  # (lot, descriptor)
    seen = np.isfinite(marks).any(axis=1)
    group, words = group[: len(marks)][seen], rows[DESCRIPTOR].cat.categories
    middle = np.nanmean(there[seen], axis=1)
    x, y = _within(middle[:, None], group), _within(np.nan_to_num(marks[seen]), group)
    square = (y**2).sum(axis=0)
    unit = y / np.sqrt(np.where(square > 0, square, np.inf))
    if not square.any() or _as_close(unit, x, group) >= SHOWN:
        return None
    slopes = (x.T @ y).ravel() / float((x**2).sum()) * np.ptp(middle)
    closest = np.argsort(-((unit.T @ x) ** 2).ravel(), kind="stable")
    return Run(session, {str(words[d]): float(slopes[d]) for d in closest if square[d] > 0})


def _as_close(unit: np.ndarray, x: np.ndarray, group: np.ndarray) -> float:
    """Share of shuffled lists, the real one among them, that marks follow as closely."""
    rng = np.random.default_rng(SEED)
    home, drawn = np.argsort(group, kind="stable"), np.empty_like(x)
    followed = [((unit.T @ x) ** 2).sum()]
    for _ in range(SHUFFLES):
        drawn[home] = x[np.argsort(group + rng.random(len(group)))]
        followed.append(((unit.T @ drawn) ** 2).sum())
    return float(np.mean(np.array(followed) >= followed[0] * (1 - 1e-9)))


def _mean(values: np.ndarray, row: np.ndarray, column: np.ndarray) -> np.ndarray:
    """Mean of the values by row and column; NaN where there are none."""
    shape = int(row.max()) + 1, int(column.max()) + 1
    at = row * shape[1] + column
    count, total = (np.bincount(at, w, shape[0] * shape[1]) for w in (None, values))
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan).reshape(shape))


def _within(values: np.ndarray, group: np.ndarray) -> np.ndarray:
    """Values less the mean of their group."""
    size = np.bincount(group)
    sums = np.stack([np.bincount(group, column) for column in values.T], axis=1)
    return np.asarray(values - (sums / size[:, None])[group])
