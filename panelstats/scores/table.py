"""Scores: every score of a source with its keys, and the account of all that was read."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import wording
from panelstats.errors import DesignError
from panelstats.output import write_whole
from panelstats.scores.cells import (
    BREW,
    CLASS,
    DESCRIPTOR,
    LOT,
    POSITION,
    POT,
    POTS,
    ROLE,
    SCORE,
    SESSION,
    SHARED,
    STAGE,
    TASTER,
    Cells,
    cells_of,
)
from panelstats.scores.declared import Declared
from panelstats.scores.usual import Tally

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

SAID = [SESSION, LOT, "word", "said", "asked"]
REMARKS = [SESSION, LOT, TASTER, "remark"]
ACCOUNT = ["file", "sheet", "seen", "scores", "blanks", "faults", "words", "facts", "set_aside"]
# What a spreadsheet takes for a formula where a text of a csv begins so; an apostrophe before it is the mark of text.
FORMULA = re.compile(r"\A'*[=+\-@\t\r]")
_CATEGORIES = (SESSION, LOT, TASTER, DESCRIPTOR)


def no_weighings() -> pd.DataFrame:
    """The register of weighings where there is none."""
    return pd.DataFrame(columns=["lot", "mass", "volume"])


@dataclass(frozen=True, eq=False, repr=False)
class Scores:
    """Checked scores, made by `read_scores`; whoever takes them checks nothing again.

    Attributes
    ----------
    frame : DataFrame
        session, lot, taster, descriptor (categorical), pot and look (integers), position (NaN where not recorded),
        score: a row per score, no blanks.
    faults : DataFrame
        session, lot, taster, pot, fault, noticed (bool): a row per taster asked about a fault.
    words : DataFrame
        session, lot, word, said, asked: tasters who said a word; asked is missing where remarks were free.
    remarks : DataFrame
        session, lot, taster, remark, as written.
    account : DataFrame
        file, sheet, seen, scores, blanks, faults, words, facts, set_aside: seen is the sum of the others.
    problems : DataFrame
        file, sheet, row, column, value, reason, action: what was set aside.
    inferred : DataFrame
        what, value, why: everything nobody declared.
    sessions, lots, descriptors, tasters : DataFrame
        Registers: every label of `frame` has its row. `lots` has class and role ("" where unknown); `descriptors` has
        stage, kind, low, high, step, tolerance, wanted, weight; `tasters` has role, joined, left.
    scales : DataFrame
        descriptor, class, low, high, step, tolerance, wanted, why: a row per descriptor and class.
    pots : DataFrame
        session, stage, pots (shared / own / same), declared, reason.
    headers : DataFrame
        file, sheet, header, word: what each heading was taken for, "" where it was left out.
    digest : str
        Digest of every byte that was read.
    files : tuple of Path
        The files that were read, registers too; nothing is ever written over them.
    densities : DataFrame
        Weighings of leaf from the register of that name: lot, grade, state, replicate, mass (g), volume (ml), taps,
        what there is; empty where none were read.
    said : tuple of str
        Sentences about what changed who or what was read: what was left out, older sessions, unfinished sheets.
    declared : Declared
        What the room's registers said of the labels, for cells that are to be added.
    """

    frame: pd.DataFrame
    faults: pd.DataFrame
    words: pd.DataFrame
    remarks: pd.DataFrame
    account: pd.DataFrame
    problems: pd.DataFrame
    inferred: pd.DataFrame
    sessions: pd.DataFrame
    lots: pd.DataFrame
    descriptors: pd.DataFrame
    tasters: pd.DataFrame
    scales: pd.DataFrame
    pots: pd.DataFrame
    headers: pd.DataFrame
    digest: str = ""
    files: tuple[Path, ...] = ()
    said: tuple[str, ...] = ()
    densities: pd.DataFrame = field(default_factory=no_weighings)
    declared: Declared = field(default_factory=Declared)
    _memo: dict[object, Cells] = field(default_factory=dict, compare=False)

    def __len__(self) -> int:
        return len(self.frame)

    def __repr__(self) -> str:
        sizes = (
            (len(self.frame), "score"), (self.frame[LOT].nunique(), "lot"), (self.frame[TASTER].nunique(), "taster"),
            (self.frame[DESCRIPTOR].nunique(), "descriptor"), (self.frame[SESSION].nunique(), "session"),
        )  # fmt: skip
        return "<Scores: " + ", ".join(f"{n:,} {word}{'s' * (n != 1)}" for n, word in sizes) + ">"

    def select(
        self,
        *,
        session: str | Collection[str] | None = None,
        lot: str | Collection[str] | None = None,
        taster: str | Collection[str] | None = None,
        descriptor: str | Collection[str] | None = None,
        lot_class: str | None = None,
        role: str | None = None,
    ) -> Scores:
        """Some of the scores; the account and the registers still tell of all that was read.

        Parameters
        ----------
        session, lot, taster, descriptor : str or collection of str, optional
            Labels to keep.
        lot_class : str, optional
            Class of lots to keep.
        role : {"senior", "trainee"}, optional
            Role of tasters to keep.

        Raises
        ------
        DesignError
            Nothing read is called so.
        """
        asked = {"session": session, "lot": lot, "taster": taster, "descriptor": descriptor, "class": lot_class}
        for name, value in asked.items():
            if value is not None:
                wording.known("lots" if name == CLASS else f"{name}s", name)(name, value, {"scores": self})
        if role is not None:
            wording.one_of("senior", "trainee")("role", role, {})
        wanted = {SESSION: session, LOT: lot, TASTER: taster, DESCRIPTOR: descriptor}
        kept = {
            key: {value} if isinstance(value, str) else set(value) for key, value in wanted.items() if value is not None
        }
        if lot_class is not None:
            kept[LOT] = kept.get(LOT, set(self.lots[LOT])) & set(self.lots.loc[self.lots[CLASS] == lot_class, LOT])
        if role is not None:
            kept[TASTER] = kept.get(TASTER, set(self.tasters[TASTER])) & set(
                self.tasters.loc[self.tasters[ROLE] == role, TASTER]
            )
        parts = [_kept(table, kept) for table in (self.frame, self.faults, self.words, self.remarks)]
        return replace(self, frame=parts[0], faults=parts[1], words=parts[2], remarks=parts[3], _memo={})

    def cells(self, pots: str | Mapping[str, str] | None = None) -> Cells:
        """The cells every analysis starts from; computed once for each answer to `pots`.

        Parameters
        ----------
        pots : {"shared", "own", "same"} or {stage: word}, optional
            What a pot number means, overriding what was declared or inferred.

        Raises
        ------
        DesignError
            A word that is none of the three, or a stage that no descriptor has.
        """
        if pots is not None:
            wording.pots("pots", pots, {"scores": self})
        key = pots if isinstance(pots, str | None) else tuple(sorted(pots.items()))
        if key not in self._memo:
            self._memo[key] = self._cells(_decided(self.pots, pots))
        return self._memo[key]

    def _cells(self, pots: pd.DataFrame) -> Cells:
        keys = self.frame[[SESSION, LOT, TASTER, DESCRIPTOR]].assign(
            **{BREW: _brews(self.frame, self.descriptors, pots)}
        )
        frame = cells_of(keys, self.frame[SCORE].to_numpy())
        registers = (self.sessions, self.lots, self.descriptors, self.tasters)
        told = (self.declared, _tallies(self.frame), self.account, self.problems)
        return Cells(frame, *registers, pots, self.digest, *told)

    def to_csv(self, path: str | Path) -> None:
        """Write the scores as a long sheet that reads back; a name that begins as a formula does gets the mark of text.

        Raises
        ------
        PanelError
            The path is one of the files that were read, or cannot be written.
        """
        table = _plain(self)
        for key in _CATEGORIES:
            table[key] = table[key].str.replace(FORMULA, r"'\g<0>", regex=True)
        write_whole(path, table.to_csv(index=False).encode("utf-8", "replace"), overwrite=True, read=self.files)

    def to_parquet(self, path: str | Path) -> None:
        """Write the scores as Parquet.

        Raises
        ------
        DesignError
            The library that writes Parquet is not installed.
        PanelError
            The path is one of the files that were read, or cannot be written.
        """
        try:
            content = _plain(self).to_parquet(None, index=False)
        except ImportError as error:
            raise DesignError(
                "Parquet needs a library that is not installed", where=str(path), do="pip install pyarrow"
            ) from error
        write_whole(path, content, overwrite=True, read=self.files)


def _plain(scores: Scores) -> pd.DataFrame:
    """The frame with text keys; a position nobody recorded makes no column."""
    frame = scores.frame.astype(dict.fromkeys(_CATEGORIES, "str"))
    return frame.drop(columns=POSITION) if frame[POSITION].isna().all() else frame


def _tallies(frame: pd.DataFrame) -> dict[str, Tally]:
    """How often each score was given, by descriptor."""
    at, scores = pd.factorize(frame[SCORE].to_numpy(), sort=True)
    words = frame[DESCRIPTOR].cat
    met, counts = np.unique(words.codes.to_numpy().astype(np.int64) * max(len(scores), 1) + at, return_counts=True)
    ends = np.searchsorted(met, np.arange(len(words.categories) + 1) * len(scores))
    return {
        str(name): Tally(scores[met[start:end] - n * len(scores)], counts[start:end])
        for n, (name, (start, end)) in enumerate(zip(words.categories, pairwise(ends), strict=True))
        if end > start
    }


def _kept(table: pd.DataFrame, kept: Mapping[str, set[str]]) -> pd.DataFrame:
    mask = np.ones(len(table), bool)
    for key, labels in kept.items():
        if key in table:
            mask &= table[key].isin(labels).to_numpy()
    return table[mask].reset_index(drop=True)


def _decided(pots: pd.DataFrame, given: str | Mapping[str, str] | None) -> pd.DataFrame:
    """The pots table with the caller's word in place of the register's or the rule's."""
    if given is None:
        return pots
    words = dict.fromkeys(pots[STAGE].unique(), given) if isinstance(given, str) else dict(given)
    hit = pots[STAGE].isin(words)
    return pots.assign(
        pots=pots[POTS].where(~hit, pots[STAGE].map(words)),
        declared=pots["declared"] | hit,
        reason=pots["reason"].where(~hit, "given with pots="),
    )


def _brews(frame: pd.DataFrame, descriptors: pd.DataFrame, pots: pd.DataFrame) -> np.ndarray:
    """The brew of each score: the pot number where the pots are shared, else 0."""
    stage = dict(zip(descriptors[DESCRIPTOR], descriptors[STAGE], strict=True))
    shared = set(map(tuple, pots.loc[pots[POTS] == SHARED, [SESSION, STAGE]].to_numpy()))
    sessions, names = (list(frame[k].cat.categories) for k in (SESSION, DESCRIPTOR))
    table = np.array([[(s, stage.get(d, "")) in shared for d in names] for s in sessions]).reshape(
        len(sessions), len(names)
    )
    here = table[frame[SESSION].cat.codes, frame[DESCRIPTOR].cat.codes] if len(frame) else np.zeros(0, bool)
    return np.where(here, frame[POT].to_numpy(), 0)
