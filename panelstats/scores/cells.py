"""Cells: what the models need of the scores, computed once and tiny beside them."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.scores.columns import (  # noqa: F401 - whoever takes cells takes their columns from here
    BREW,
    CLASS,
    DESCRIPTOR,
    KEYS,
    LOOK,
    LOOKS,
    LOT,
    MEAN,
    OWN,
    POSITION,
    POT,
    POTS,
    REST,
    ROLE,
    SAME,
    SCORE,
    SESSION,
    SHARED,
    STAGE,
    TASTER,
    WITHIN_SS,
)
from panelstats.scores.declared import Declared
from panelstats.scores.joining import added, joined

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from panelstats.scores.table import Scores
    from panelstats.scores.usual import Tally


@dataclass(frozen=True, eq=False)
class Grid:
    """One session and class as dense arrays, axes (lot, taster, brew, descriptor).

    Attributes
    ----------
    session, lot_class : str
        What the grid holds; `lot_class` is "" where no class is known.
    lots, tasters, descriptors : ndarray of str
        Labels of the axes. The brew axis has no label: pots are numbered from 0 inside each lot.
    pots : ndarray of str, shape (descriptor,)
        shared, own or same: what a brew is for each descriptor.
    looks : ndarray of int, shape (lot, taster, brew, descriptor)
        Number of looks, 0 where not scored.
    mean, within_ss : ndarray of float, same shape
        Mean of the looks and their sum of squares about it; 0 where not scored.
    rest : ndarray of float, same shape
        What rounding took off the mean.
    """

    session: str
    lot_class: str
    lots: np.ndarray
    tasters: np.ndarray
    descriptors: np.ndarray
    pots: np.ndarray
    looks: np.ndarray
    mean: np.ndarray
    within_ss: np.ndarray
    rest: np.ndarray

    @property
    def offset(self) -> np.ndarray:
        """One score of each descriptor, shape (descriptor,): differences from it are free of rounding."""
        first = self.looks.reshape(-1, len(self.descriptors)).argmax(axis=0)
        return self.mean.reshape(-1, len(self.descriptors))[first, np.arange(len(self.descriptors))]

    @property
    def centred(self) -> np.ndarray:
        """Means less `offset`, to the last digit of the scores; 0 where not scored."""
        return np.where(self.looks > 0, (self.mean - self.offset) + self.rest, 0.0)

    def take_descriptors(self, keep: np.ndarray) -> Grid:
        """The grid of some descriptors only; `keep` is an index or a mask over the descriptor axis."""
        return replace(
            self,
            descriptors=self.descriptors[keep],
            pots=self.pots[keep],
            looks=self.looks[..., keep],
            mean=self.mean[..., keep],
            within_ss=self.within_ss[..., keep],
            rest=self.rest[..., keep],
        )

    def over_brews(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Looks, mean and within-cell SS by (lot, taster, descriptor), all brews of a cell taken together."""
        looks = self.looks.sum(axis=2)
        mean = (self.looks * self.mean).sum(axis=2) / np.maximum(looks, 1)
        spread = self.looks * (self.mean - mean[:, :, None]) ** 2
        return looks, mean, (self.within_ss + np.where(self.looks > 0, spread, 0.0)).sum(axis=2)


@dataclass(frozen=True, eq=False, repr=False)
class Cells:
    """Scores by session, lot, taster, brew and descriptor: number of looks, mean, within-cell sum of squares.

    A brew is the pot where pots are shared, 0 where each taster has his own (or tasted one pot several times).

    Attributes
    ----------
    frame : DataFrame
        session, lot, taster, brew, descriptor (categorical but for brew), looks, mean, within_ss, and rest: what
        rounding took off the mean. One row per cell.
    sessions, lots, descriptors, tasters : DataFrame
        The registers, as in `Scores`; every label of `frame` has its row.
    pots : DataFrame
        session, stage, pots (shared / own / same), declared (bool), reason.
    digest : str
        Digests of the inputs the cells were made from, sorted.
    declared : Declared
        What registers said of labels; the rest was guessed, and is guessed again when parts are added.
    tallies : dict of str to Tally
        How often each score was given, by descriptor.
    account, problems : DataFrame
        As in `Scores`: what was read, file by file, and what was set aside.
    spelled : tuple of (str, str, str)
        Key, label as a part wrote it, and as it is taken, where parts spelled one name in two ways.
    """

    frame: pd.DataFrame
    sessions: pd.DataFrame
    lots: pd.DataFrame
    descriptors: pd.DataFrame
    tasters: pd.DataFrame
    pots: pd.DataFrame
    digest: str = ""
    declared: Declared = field(default_factory=Declared)
    tallies: Mapping[str, Tally] = field(default_factory=dict)
    account: pd.DataFrame = field(default_factory=pd.DataFrame)
    problems: pd.DataFrame = field(default_factory=pd.DataFrame)
    spelled: tuple[tuple[str, str, str], ...] = ()
    _memo: dict[str, object] = field(default_factory=dict, compare=False)

    def __len__(self) -> int:
        return len(self.frame)

    def __repr__(self) -> str:
        return f"<Cells: {len(self.frame):,} cells, {len(self.lots)} lots, {len(self.tasters)} tasters>"

    def __add__(self, other: Cells) -> Cells:
        """The cells of two parts of a season, in whatever order parts are added.

        Raises
        ------
        DesignError
            The registers of the parts contradict each other.
        """
        return added(self, other)

    def over_brews(self) -> Cells:
        """The same cells with all brews of a session, lot and taster taken together (brew 0)."""
        return replace(self, frame=joined(self.frame.assign(**{BREW: 0})), _memo={})

    def select(self, *, session: str | None = None, lot_class: str | None = None, role: str | None = None) -> Cells:
        """The cells of one session, one class of lots, or one role of tasters (senior / trainee)."""
        keep = np.ones(len(self.frame), bool)
        if session is not None:
            keep &= (self.frame[SESSION] == session).to_numpy()
        if lot_class is not None:
            keep &= self.frame[LOT].isin(self.lots.loc[self.lots[CLASS] == lot_class, LOT]).to_numpy()
        if role is not None:
            keep &= self.frame[TASTER].isin(self.tasters.loc[self.tasters[ROLE] == role, TASTER]).to_numpy()
        return self.where(keep)

    def where(self, keep: np.ndarray) -> Cells:
        """The cells of a mask, shape (cell,)."""
        return self if keep.all() else replace(self, frame=self.frame[keep], _memo={})

    def grids(self) -> Iterator[Grid]:
        """One grid per session and class that was tasted, in the order of the registers."""
        session, lot = self.frame[SESSION].cat, self.frame[LOT].cat
        of_lot = dict(zip(self.lots[LOT], self.lots[CLASS], strict=True))
        group = np.array([of_lot[label] for label in lot.categories], dtype=object)[lot.codes]
        for name in self.sessions[SESSION]:
            if name not in session.categories:
                continue
            here = session.codes.to_numpy() == session.categories.get_loc(name)
            for lot_class in dict.fromkeys(self.lots[CLASS]):
                keep = here & (group == lot_class)
                if keep.any():
                    yield _grid(self.frame[keep], str(name), lot_class, self._words(str(name)))

    def _words(self, session: str) -> dict[str, str]:
        """What a brew is, by descriptor, in one session."""
        mine = self.pots[self.pots[SESSION].astype(str) == session]
        by_stage = dict(zip(mine[STAGE], mine[POTS], strict=True))
        stages = zip(self.descriptors[DESCRIPTOR], self.descriptors[STAGE], strict=True)
        return {d: by_stage[s] for d, s in stages if s in by_stage}  # a stage may not have been tasted that day


def _axis(column: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Labels in use, in their categories' order, and the code of each row among them."""
    used = column.cat.remove_unused_categories()
    return used.cat.categories.to_numpy().astype(str), used.cat.codes.to_numpy()


def _grid(frame: pd.DataFrame, session: str, lot_class: str, words: dict[str, str]) -> Grid:
    (lots, lot), (tasters, taster), (descriptors, descriptor) = (_axis(frame[k]) for k in (LOT, TASTER, DESCRIPTOR))
    brew = rank_within(lot, frame[BREW].to_numpy())
    shape = (len(lots), len(tasters), int(brew.max(initial=0)) + 1, len(descriptors))
    where = np.ravel_multi_index((lot, taster, brew, descriptor), shape)
    arrays = {}
    for name, kind in ((LOOKS, np.int64), (MEAN, float), (WITHIN_SS, float), (REST, float)):
        flat = np.zeros(int(np.prod(shape)), kind)
        flat[where] = frame[name].to_numpy()
        arrays[name] = flat.reshape(shape)
    pots = np.array([words[d] for d in descriptors], dtype=str)
    return Grid(session, lot_class, lots, tasters, descriptors, pots, **arrays)


def rank_within(lot: np.ndarray, brew: np.ndarray) -> np.ndarray:
    """Number the brews of each lot from 0: pot labels need mean nothing beyond their lot."""
    labels, code = np.unique(brew, return_inverse=True)
    key = lot.astype(np.int64) * len(labels) + code
    pairs, at = np.unique(key, return_inverse=True)
    first = np.searchsorted(pairs // len(labels), pairs // len(labels))
    return (np.arange(len(pairs)) - first)[at]


def cells_from(scores: Scores | Cells, pots: str | Mapping[str, str] | None = None) -> Cells:
    """The cells of scores, or cells as they are.

    Parameters
    ----------
    scores : Scores or Cells
    pots : str or mapping of stage to str, optional
        shared, own or same, in place of what was read.

    Raises
    ------
    DesignError
        Cells whose brews were already taken together are asked for by pot.
    """
    if not isinstance(scores, Cells):
        return scores.cells(pots=pots)
    if pots is None:
        return scores
    word = {stage: pots if isinstance(pots, str) else pots.get(stage, now) for stage, now in _stages(scores)}
    asked = scores.pots[STAGE].map(word)
    if ((asked == SHARED) & (scores.pots[POTS] != SHARED)).any():
        raise DesignError(
            "these cells no longer know which pot was which",
            where=f"pots={pots!r}",
            do="give the scores, or cells made with pots='shared'",
        )
    by_stage = dict(zip(scores.descriptors[DESCRIPTOR], scores.descriptors[STAGE], strict=True))
    apart = scores.frame[DESCRIPTOR].astype(str).map(by_stage).map(word) == SHARED
    frame = joined(scores.frame.assign(**{BREW: scores.frame[BREW].where(apart, 0)}))
    register = scores.pots.assign(pots=asked, declared=True, reason="as asked")
    return replace(scores, frame=frame, pots=register, _memo={})


def _stages(cells: Cells) -> list[tuple[str, str]]:
    return list(zip(cells.pots[STAGE], cells.pots[POTS], strict=True))


def cells_of(key_codes: pd.DataFrame, score: np.ndarray) -> pd.DataFrame:
    """Cells of scores: looks, mean and within-cell sum of squares by KEYS.

    Parameters
    ----------
    key_codes : DataFrame
        Columns session, lot, taster, descriptor (categorical) and brew (integer), a row per score.
    score : ndarray of float
        The scores, no NaN.

    Returns
    -------
    DataFrame
        KEYS, looks, mean, within_ss, rest. The sum of squares is taken about the mean in a second pass, and what
        rounding took off the mean is kept, so that scores far from zero lose no digits (NIST StRD, one-way analysis
        of variance).
    """
    sizes = [len(key_codes[k].cat.categories) if k != BREW else int(key_codes[BREW].max()) + 1 for k in KEYS]
    columns = [key_codes[k].cat.codes.to_numpy() if k != BREW else key_codes[BREW].to_numpy() for k in KEYS]
    key = np.ravel_multi_index(tuple(np.asarray(c, np.int64) for c in columns), tuple(sizes))
    cell, first, group = np.unique(key, return_index=True, return_inverse=True)
    looks = np.bincount(group, minlength=len(cell))
    mean = np.bincount(group, score, minlength=len(cell)) / looks
    mean += np.bincount(group, score - mean[group], minlength=len(cell)) / looks  # exact where all looks are equal
    rest = np.bincount(group, score - mean[group], minlength=len(cell)) / looks
    ss = np.bincount(group, (score - mean[group] - rest[group]) ** 2, minlength=len(cell))
    low, high = np.full(len(cell), np.inf), np.full(len(cell), -np.inf)
    np.minimum.at(low, group, score)
    np.maximum.at(high, group, score)
    ss[low == high] = rest[low == high] = 0.0
    out = key_codes[KEYS].iloc[first].reset_index(drop=True)
    return out.assign(**{LOOKS: looks, MEAN: mean, WITHIN_SS: ss, REST: rest})
