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
from panelstats.scores.grids import Grid, grid_of
from panelstats.scores.joining import added, joined

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from panelstats.scores.table import Scores
    from panelstats.scores.usual import Tally


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
                    yield grid_of(self.frame[keep], str(name), lot_class, self._words(str(name)))

    def _words(self, session: str) -> dict[str, str]:
        """What a brew is, by descriptor, in one session."""
        mine = self.pots[self.pots[SESSION].astype(str) == session]
        by_stage = dict(zip(mine[STAGE], mine[POTS], strict=True))
        stages = zip(self.descriptors[DESCRIPTOR], self.descriptors[STAGE], strict=True)
        return {d: by_stage[s] for d, s in stages if s in by_stage}  # a stage may not have been tasted that day


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
    stages = zip(scores.pots[STAGE], scores.pots[POTS], strict=True)
    word = {stage: pots if isinstance(pots, str) else pots.get(stage, now) for stage, now in stages}
    asked = scores.pots[STAGE].map(word)
    if ((asked == SHARED) & (scores.pots[POTS] != SHARED)).any():
        do = "give the scores, or cells made with pots='shared'"
        raise DesignError("these cells no longer know which pot was which", where=f"pots={pots!r}", do=do)
    by_stage = dict(zip(scores.descriptors[DESCRIPTOR], scores.descriptors[STAGE], strict=True))
    apart = scores.frame[DESCRIPTOR].astype(str).map(by_stage).map(word) == SHARED
    frame = joined(scores.frame.assign(**{BREW: scores.frame[BREW].where(apart, 0)}))
    register = scores.pots.assign(pots=asked, declared=True, reason="as asked")
    return replace(scores, frame=frame, pots=register, _memo={})


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
