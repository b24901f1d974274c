"""A sheet as it was read: each column as distinct contents and a code per row; work is done once per content."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.spelling import tidy
from panelstats.sheets.content.text import is_empty

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence


@dataclass(frozen=True, eq=False)
class Factor:
    """A column in two parts: `values` (distinct contents) and `codes` (which one each row holds)."""

    codes: np.ndarray
    values: list

    def take(self, rows: np.ndarray | slice) -> Factor:
        """The same contents at some rows only."""
        return Factor(self.codes[rows], self.values)

    def at(self, row: int) -> object:
        """What one row holds."""
        return self.values[self.codes[row]]

    def compact(self, rows: np.ndarray) -> Factor:
        """Some rows, with only the contents they hold, in order of first appearance."""
        codes = self.codes[rows]
        new, used = pd.factorize(codes)
        return Factor(np.asarray(new, np.int32), [self.values[i] for i in used])

    def map(self, new: list) -> Factor:
        """The column with its distinct contents replaced one by one; equal new contents become one."""
        if set(map(type, new)) <= {str}:
            at = {text: code for code, text in enumerate(dict.fromkeys(new))}
            if len(at) == len(new):
                return Factor(self.codes, new)
            return Factor(self.rows(np.fromiter(map(at.__getitem__, new), np.int32, len(new))), list(at))
        codes, distinct = pd.factorize(np.fromiter(new, object, len(new)), use_na_sentinel=False)
        return Factor(np.asarray(codes, np.int32)[self.codes], list(distinct))

    def mask(self, test: Callable[..., object], *given: object) -> np.ndarray:
        """Which rows hold a content that passes a test, called with it and what is given; each is tried once."""
        return self.rows(np.fromiter((bool(test(value, *given)) for value in self.values), bool, len(self.values)))

    def rows(self, of_contents: np.ndarray) -> np.ndarray:
        """For each row what goes with its content."""
        if len(of_contents) and (of_contents == of_contents[0]).all():  # nothing to look up row by row
            return np.full(len(self.codes), of_contents[0])
        return of_contents[self.codes]

    @cached_property
    def met(self) -> list:
        """Contents that some row holds, in order of first appearance, the empty text left out."""
        return [value for i in pd.unique(self.codes) if (value := self.values[i]) != ""]

    @property
    def said(self) -> list[str]:
        """The contents that show anything, as tidy text."""
        return [*filter(None, self.tidied)]

    @cached_property
    def tidied(self) -> np.ndarray:
        """The contents as tidy text."""
        return np.fromiter(map(tidy, self.values), object, len(self.values))

    @property
    def texts(self) -> np.ndarray:
        """What each row holds, as tidy text."""
        return self.tidied[self.codes]

    def texts_of(self, rows: slice) -> list[str]:
        """What some rows hold, as tidy text; the contents of the others are not looked at."""
        codes = self.codes[rows].tolist()
        said = {code: tidy(self.values[code]) for code in set(codes)}
        return [said[code] for code in codes]

    @classmethod
    def constant(cls, value: object, size: int) -> Factor:
        """A column that says the same in every row."""
        return cls(np.zeros(size, np.int32), [value])


@dataclass(frozen=True, eq=False)
class Sheet:
    """One sheet of one file.

    Attributes
    ----------
    file, name : str
        File name without its folder, and name of the sheet ("" for a text file).
    columns : list of Factor
        All columns, equally long.
    first_row : int
        Number a person would give the first row.
    mended : tuple of str
        What the reader of the file had to say: encoding, merged cells filled, rows hidden.
    spoiled : dict
        (row, column) -> reason, cells the file itself marks as without a usable value.
    headers : tuple of str, optional
        Column names that came apart from the rows (a DataFrame).
    fields : ndarray of int, optional
        How many cells each row really held, in files where rows may differ.
    first_column : int
        Index a spreadsheet gives the first column: not 0 in a part of a sheet.
    struck : dict
        (row, column) of cells struck out -> what of them is not, "" for nothing.
    comments : dict
        (row, column) -> what a comment on the cell says.
    above : tuple of list
        Lines that stand over this part of a sheet, from the top down.
    """

    file: str
    name: str
    columns: list[Factor]
    first_row: int = 1
    mended: tuple[str, ...] = ()
    spoiled: dict[tuple[int, int], str] = field(default_factory=dict)
    headers: tuple[str, ...] | None = None
    fields: np.ndarray | None = None
    first_column: int = 0
    struck: dict[tuple[int, int], str] = field(default_factory=dict)
    comments: dict[tuple[int, int], str] = field(default_factory=dict)
    above: tuple[list[str], ...] = ()

    def __len__(self) -> int:
        return len(self.columns[0].codes) if self.columns else 0

    @property
    def label(self) -> str:
        """How a message names the sheet."""
        return f"{self.file}, sheet {self.name}" if self.name else self.file

    @property
    def filled(self) -> np.ndarray:
        """Mask of the cells that show anything: (row, column)."""
        shown = [~column.mask(is_empty) for column in self.columns]
        return np.column_stack(shown) if shown else np.zeros((len(self), 0), bool)

    def row(self, index: int) -> list[object]:
        """The contents of one row."""
        return [column.at(index) for column in self.columns]

    def line(self, index: int) -> list[str]:
        """The contents of one row as tidy text."""
        return [*map(tidy, self.row(index))]

    def lines(self, top: int, bottom: int, left: int = 0, right: int | None = None) -> list[list[str]]:
        """The contents of a rectangle, ends excluded, as tidy text."""
        texts = [column.texts_of(slice(top, bottom)) for column in self.columns[left:right]]
        return [*map(list, zip(*texts, strict=True))]

    def part(self, rows: tuple[int, int], columns: tuple[int, int], above: Iterable[list[str]] = ()) -> Sheet:
        """A rectangle of the sheet, ends excluded, that still knows where its cells stand."""
        if rows == (0, len(self)) and columns == (0, len(self.columns)):
            return replace(self, above=(*self.above, *above))
        (top, bottom), (left, right) = rows, columns
        inside = {
            (r, c): (r - top, c - left)
            for r, c in {*self.spoiled, *self.struck, *self.comments}
            if top <= r < bottom and left <= c < right
        }
        return replace(
            self,
            columns=[column.compact(np.arange(top, bottom)) for column in self.columns[left:right]],
            first_row=self.first_row + top,
            first_column=self.first_column + left,
            spoiled={inside[at]: why for at, why in self.spoiled.items() if at in inside},
            struck={inside[at]: left for at, left in self.struck.items() if at in inside},
            comments={inside[at]: said for at, said in self.comments.items() if at in inside},
            fields=None if self.fields is None else self.fields[top:bottom] - left,
            above=(*self.above, *above),
        )


_HEADING = 50  # rows in which numbers must begin to be read as numbers under a heading


def factor(values: Sequence[object] | np.ndarray) -> Factor:
    """Factor of contents; 1, 1.0 and True stay apart, as a spreadsheet keeps them apart."""
    first = next((i for i, v in enumerate(values[:_HEADING]) if type(v) is float), len(values))
    if set(map(type, values[first:])) == {float} and set(map(type, values[:first])) <= {str}:
        return _headed(values, first)
    kinds = set(map(type, values))
    if bool in kinds and len(kinds) > 1:
        keys = np.fromiter(((type(v).__name__, v) for v in values), object, len(values))
        codes, distinct = pd.factorize(keys)
        return Factor(codes.astype(np.int32), [value for _, value in distinct])
    cells = np.fromiter(values, object, len(values))
    if kinds == {str}:
        return text_factor(cells)
    codes, found = pd.factorize(cells, use_na_sentinel=False)
    return Factor(np.asarray(codes, np.int32), list(found))


def text_factor(texts: np.ndarray) -> Factor:
    """Factor of contents that are known to be text, all of them."""
    codes, found = pd.factorize(texts)
    return Factor(np.asarray(codes, np.int32), list(found))


def _headed(values: Sequence[object] | np.ndarray, first: int) -> Factor:
    """Factor of numbers under some lines of text: numbers are compared as numbers, far faster than as objects."""
    words = list(dict.fromkeys(values[:first]))
    top = [words.index(v) for v in values[:first]]
    codes, numbers = pd.factorize(np.fromiter(values[first:], float, len(values) - first), use_na_sentinel=False)
    return Factor(np.concatenate([top, codes + len(words)]).astype(np.int32), [*words, *numbers.tolist()])
