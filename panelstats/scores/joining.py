"""Parts of a season put together: one name for one thing, registers that must agree, cells joined about their mean."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.agreeing import agreed, agreed_pots
from panelstats.scores.columns import (
    BREW,
    CLASS,
    DESCRIPTOR,
    KEYS,
    LABELS,
    LOOKS,
    LOT,
    MEAN,
    REST,
    ROLE,
    SESSION,
    TASTER,
    WITHIN_SS,
)
from panelstats.scores.dates import session_order
from panelstats.scores.spelling import natural, same
from panelstats.scores.usual import classes, step_of, tolerance_of

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping
    from typing import Any

    from panelstats.scores.cells import Cells
    from panelstats.scores.declared import Declared
    from panelstats.scores.usual import Tally

WRITTEN, SENIOR, DATE = "written", "senior", "date"
_REGISTERS = {"sessions": SESSION, "lots": LOT, "tasters": TASTER, "descriptors": DESCRIPTOR}
_SIZES = ("step", "tolerance")


def added(one: Cells, other: Cells) -> Cells:
    """The cells of two parts together.

    Raises
    ------
    DesignError
        The registers of the parts say two things of one session, lot, descriptor, taster or pot.
    """
    one, other = _lots_apart(*_one_spelling(one, other))
    declared = one.declared + other.declared
    tallies = dict(one.tallies)
    for name, tally in other.tallies.items():
        tallies[name] = tallies[name] + tally if name in tallies else tally
    bare = [_without_guesses(part) for part in (one, other)]
    tables = {
        name: agreed(bare[0][name], bare[1][name], key, declared.beside if name == "lots" else frozenset())
        for name, key in _REGISTERS.items()
    }
    tables = _guessed_again(tables, tallies, declared)
    tables = {name: _in_order(name, table, declared) for name, table in tables.items()}
    frame = _stacked(one.frame, other.frame, tables)
    return replace(
        one, frame=frame, **tables, pots=agreed_pots(one.pots, other.pots), declared=declared, tallies=tallies,
        digest=_digests(one.digest, other.digest), account=_under(one.account, other.account),
        problems=_under(one.problems, other.problems), spelled=tuple(sorted({*one.spelled, *other.spelled})), _memo={},
    )  # fmt: skip


def _under(one: pd.DataFrame, other: pd.DataFrame) -> pd.DataFrame:
    """Rows of both; a table without rows has no columns either."""
    return pd.concat([one, other], ignore_index=True) if len(one) and len(other) else one if len(one) else other


def _digests(one: str, other: str) -> str:
    """The digests of all parts, sorted: whichever order they were added in, and none hidden by another."""
    return "+".join(sorted(part for digest in (one, other) for part in digest.split("+") if part))


# --- labels -----------------------------------------------------------------------------------------------------------


def _one_spelling(one: Cells, other: Cells) -> tuple[Cells, Cells]:
    """Names that differ only in case, spaces, kinds of dash and the like are one, the first of them by letters.

    Lots that are of their session alone are none: their numbers may be alike.
    """
    for register, key in (("tasters", TASTER), ("descriptors", DESCRIPTOR), ("lots", LOT)):
        met: dict[str, set[str]] = {}
        for part in (one, other):
            for name in part.declared.lasting if key == LOT else map(str, getattr(part, register)[key]):
                met.setdefault(same(name), set()).add(name)
        new = {name: min(some) for some in met.values() if len(some) > 1 for name in some}
        one, other = (_respelled(part, register, key, new) for part in (one, other))
    return one, other


def _respelled(part: Cells, register: str, key: str, new: Mapping[str, str]) -> Cells:
    """A part under other spellings of one key, wherever labels stand; what it wrote is kept."""
    mine = {name: new[name] for name in map(str, getattr(part, register)[key]) if new.get(name, name) != name}
    if not mine:
        return part
    before = {(k, old, mine.get(now, now) if k == key else now) for k, old, now in part.spelled}
    said = {(key, *pair) for pair in mine.items()}
    out = replace(renamed(part, key, mine), declared=part.declared.respelled(register, mine),
                  spelled=tuple(sorted(before | said)))  # fmt: skip
    if key == DESCRIPTOR:
        return replace(out, tallies={mine.get(name, name): tally for name, tally in part.tallies.items()})
    if key == LOT and WRITTEN in out.lots:
        return replace(out, lots=out.lots.assign(**{WRITTEN: [mine.get(name, name) for name in out.lots[WRITTEN]]}))
    return out


# --- lots -------------------------------------------------------------------------------------------------------------


def _lots_apart(one: Cells, other: Cells) -> tuple[Cells, Cells]:
    """A lot number met in two sessions is two lots, and carries its session, unless it was declared to last."""
    if WRITTEN not in one.lots or WRITTEN not in other.lots:
        return one, other
    met = [_sessions_of_lots(part) for part in (one, other)]
    both = pd.concat(met, ignore_index=True)
    pairs = both.drop_duplicates([WRITTEN, SESSION])
    often = set(pairs.loc[pairs[WRITTEN].duplicated(), WRITTEN])
    return tuple(_relabelled_lots(part, table, often) for part, table in zip((one, other), met, strict=True))  # type: ignore[return-value]


def _sessions_of_lots(part: Cells) -> pd.DataFrame:
    """Lot, as written, and session of every lot that is of its session alone."""
    codes = part.frame[LOT].cat.codes.to_numpy().astype(np.int64), part.frame[SESSION].cat.codes.to_numpy()
    sessions = part.frame[SESSION].cat.categories.to_numpy()
    pair = np.unique(codes[0] * len(sessions) + codes[1]) if len(part.frame) else np.zeros(0, np.int64)
    labels = part.frame[LOT].cat.categories.to_numpy()
    met = pd.DataFrame({LOT: labels[pair // max(len(sessions), 1)], SESSION: sessions[pair % max(len(sessions), 1)]})
    met = met[~met[LOT].duplicated(keep=False) & ~met[LOT].isin(part.declared.lasting)]
    return met.merge(part.lots[[LOT, WRITTEN]], on=LOT)


def _relabelled_lots(part: Cells, met: pd.DataFrame, often: set[str]) -> Cells:
    here = met[met[WRITTEN].isin(often)]
    label = here[WRITTEN] + " (" + here[SESSION] + ")"
    new = {old: now for old, now in zip(here[LOT], label, strict=True) if old != now}
    return renamed(part, LOT, new) if new else part


def renamed(part: Cells, key: str, new: dict[str, str]) -> Cells:
    """Cells under other labels of one key."""
    column = part.frame[key].cat
    frame = part.frame.assign(**{key: column.rename_categories([new.get(v, v) for v in column.categories])})
    tables = {
        name: table.assign(**{key: [new.get(v, v) for v in table[key]]})
        for name in (*_REGISTERS, "pots")
        if key in (table := getattr(part, name))
    }
    return replace(part, frame=frame, **tables, _memo={})


# --- registers --------------------------------------------------------------------------------------------------------


def _without_guesses(part: Cells) -> dict[str, pd.DataFrame]:
    """The registers of a part, without what it could only guess."""
    tables: dict[str, pd.DataFrame] = {name: getattr(part, name) for name in _REGISTERS}
    words = tables["descriptors"]
    rows = words.to_dict("records")
    for column in _SIZES:
        if column in words and part.tallies:
            guess = np.array([_is_guess(part, row, column) for row in rows], bool)
            words = words.assign(**{column: words[column].mask(guess)})
    tables["descriptors"] = words
    if _classes_guessed(part):
        tables["lots"] = part.lots.assign(**{CLASS: ""})
    if ROLE in part.tasters:
        unsaid = np.array([(str(name), ROLE) not in part.declared.said for name in part.tasters[TASTER]], bool)
        role = part.tasters[ROLE]
        tables["tasters"] = part.tasters.assign(**{ROLE: role.mask((role == SENIOR).to_numpy() & unsaid, "")})
    return tables


def _is_guess(part: Cells, row: Mapping[Hashable, Any], column: str) -> bool:
    """Whether a step or tolerance is what the scores of the part led to."""
    name = str(row[DESCRIPTOR])
    if name not in part.tallies or (name, column) in part.declared.said:
        return False
    return bool(pd.isna(row[column]) or row[column] == _size(column, row, part.tallies[name]))


def _size(column: str, row: Mapping[Hashable, Any], tally: Tally) -> float:
    if column == "step":
        return step_of(tally.scores)
    return tolerance_of(tally, row["step"], row.get("low", np.nan), row.get("high", np.nan))[0]


def _classes_guessed(part: Cells) -> bool:
    """Whether the classes of a part are what its lots led to."""
    if CLASS not in part.lots or ("", CLASS) in part.declared.said or not len(part.lots):
        return False
    return bool((part.lots[CLASS] == _guessed_classes(part.lots)).all())


def _guessed_classes(lots: pd.DataFrame) -> pd.Series:
    return classes(lots.drop(columns=[CLASS, ROLE], errors="ignore"))[0]


def _guessed_again(
    tables: dict[str, pd.DataFrame], tallies: dict[str, Tally], declared: Declared
) -> dict[str, pd.DataFrame]:
    """What no register says, from the lots and scores of all parts."""
    words = tables["descriptors"].copy()
    for column in _SIZES:
        if column in words:
            words[column] = [
                _size(column, row, tallies[row[DESCRIPTOR]])
                if pd.isna(row[column]) and row[DESCRIPTOR] in tallies
                else row[column]
                for row in words.to_dict("records")
            ]
    lots, tasters = tables["lots"], tables["tasters"]
    if CLASS in lots and ("", CLASS) not in declared.said and (lots[CLASS] == "").all():
        lots = lots.assign(**{CLASS: _guessed_classes(lots)})
    if ROLE in tasters:
        tasters = tasters.assign(**{ROLE: tasters[ROLE].mask(tasters[ROLE] == "", SENIOR)})
    return tables | {"descriptors": words, "lots": lots, "tasters": tasters}


def _in_order(name: str, table: pd.DataFrame, declared: Declared) -> pd.DataFrame:
    """A register in the order of reading all at once: as declared, then sessions by date, tasters by name."""
    labels = [str(label) for label in table[_REGISTERS[name]]]
    if name == "sessions":
        dates = [str(date) for date in table[DATE].fillna("")] if DATE in table else []
        by_label = {label: at for at, label in enumerate(session_order(labels))}
        dated = bool(dates) and all(dates)
        order = sorted(range(len(labels)), key=lambda i: natural(dates[i]) if dated else by_label[labels[i]])
    elif name == "tasters":
        order = sorted(range(len(labels)), key=lambda i: (declared.place(name, labels[i]), natural(labels[i])))
    else:
        order = sorted(range(len(labels)), key=lambda i: declared.place(name, labels[i]))
    return table if order == list(range(len(labels))) else table.iloc[order].reset_index(drop=True)


# --- cells ------------------------------------------------------------------------------------------------------------


def _stacked(one: pd.DataFrame, other: pd.DataFrame, tables: dict[str, pd.DataFrame]) -> pd.DataFrame:
    """Cells of both parts under the labels of their common registers; cells that both hold are joined."""
    parts = (one, other)
    columns: dict[str, Any] = dict.fromkeys(KEYS)  # in their order
    columns[BREW] = np.concatenate([part[BREW].to_numpy() for part in parts])
    for register, key in _REGISTERS.items():
        labels = pd.Index(tables[register][key].astype("str"))
        codes = [labels.get_indexer(part[key].cat.categories)[part[key].cat.codes] for part in parts]
        columns[key] = pd.Categorical.from_codes(np.concatenate(codes), labels)
    for name in (LOOKS, MEAN, WITHIN_SS, REST):
        columns[name] = np.concatenate([part[name].to_numpy() for part in parts])
    frame = pd.DataFrame(columns, copy=False)
    apart = not set(one[SESSION].unique()) & set(other[SESSION].unique())
    return frame if apart else joined(frame)


def joined(frame: pd.DataFrame) -> pd.DataFrame:
    """One row per key: counts added, means and sums of squares joined about the common mean."""
    key = np.zeros(len(frame), np.int64)
    for name in KEYS:
        codes = frame[name].cat.codes.to_numpy() if name in LABELS else np.unique(frame[name], return_inverse=True)[1]
        key = key * (int(codes.max(initial=0)) + 1) + codes
    group, first = pd.factorize(key)
    if len(first) == len(frame):
        return frame.reset_index(drop=True)
    looks = np.bincount(group, frame[LOOKS])
    mean = np.bincount(group, frame[LOOKS] * frame[MEAN]) / looks
    away = (frame[MEAN].to_numpy() - mean[group]) + frame[REST].to_numpy()
    rest = np.bincount(group, frame[LOOKS] * away) / looks
    spread = frame[LOOKS] * (away - rest[group]) ** 2
    within = np.bincount(group, frame[WITHIN_SS] + spread)
    out = frame.loc[~pd.Series(group, index=frame.index).duplicated(), KEYS].reset_index(drop=True)
    return out.assign(**{LOOKS: looks.astype(int), MEAN: mean, WITHIN_SS: within, REST: rest})
