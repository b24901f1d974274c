"""Servings as integers: keys combined, counted, ranked, all rows at once."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from panelstats.sheets.files.grid import Factor

_ROOM = 2**62
_WHOLE = re.compile(r"(\d{1,9})(?:st|nd|rd|th|\.)?")


def combined(*codes: np.ndarray) -> np.ndarray:
    """One integer per combination of codes (0 and up), numbered densely where it would overflow."""
    key, size = np.asarray(codes[0], np.int64), int(codes[0].max(initial=0)) + 1
    for code in codes[1:]:
        times = int(code.max(initial=0)) + 1
        if times == 1:
            continue
        if size * times > _ROOM:
            key, size = pd.factorize(key)[0].astype(np.int64), len(key)
        key, size = key * times + code, size * times
    return key


def distinct(key: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where each distinct key is met first, in order of appearance, and which of these each row holds."""
    back, values = pd.factorize(key)
    first = np.empty(len(values), np.int64)
    first[back[::-1]] = np.arange(len(key) - 1, -1, -1)
    return first, back


def one_of_each(key: np.ndarray) -> np.ndarray:
    """A row for each distinct key, in no order that matters."""
    if len(key) and key.max() < 8 * len(key):
        row = np.full(int(key.max()) + 1, -1, np.int64)
        row[key] = np.arange(len(key))
        return row[row >= 0]
    return np.flatnonzero(~pd.Series(key).duplicated().to_numpy())


def whole_numbers(factor: Factor) -> tuple[np.ndarray, np.ndarray]:
    """Number of each row (0 where empty) and a mask of rows whose label is no whole number."""
    found = [_WHOLE.fullmatch(v.casefold()) for v in factor.values]
    values = [int(m[1]) if m else 0 if v == "" else -1 for m, v in zip(found, factor.values, strict=True)]
    number = factor.rows(np.array(values, np.int64))
    return np.maximum(number, 0), number < 0


def occurrence(key: np.ndarray) -> np.ndarray:
    """How often each key has been met so far, from 1, in the order of the rows."""
    return pd.Series(key).groupby(key, sort=False).cumcount().to_numpy() + 1


def twice(key: np.ndarray) -> np.ndarray:
    """Mask of rows whose key is met more than once."""
    if len(key) and key.max() < 8 * len(key):  # few possible keys: count them all
        times = np.bincount(key)
        return times[key] > 1 if times.max() > 1 else np.zeros(len(key), bool)
    return pd.Series(key).duplicated(keep=False).to_numpy()


def sorted_labels(factor: Factor, key: object) -> Factor:
    """The factor with its values in order, so that codes sort as labels do."""
    order = sorted(range(len(factor.values)), key=lambda i: key(factor.values[i]))  # type: ignore[operator]
    rank = np.empty(len(order), np.int32)
    rank[order] = np.arange(len(order))
    return Factor(rank[factor.codes], [factor.values[i] for i in order])
