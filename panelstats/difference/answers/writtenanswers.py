"""Answers of difference tests as tasters write them: right, wrong, blank, or a problem that is named."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations

import numpy as np
import pandas as pd

from panelstats.errors import SheetError
from panelstats.models.kinds import KINDS, SIGNAL, Kind

SESSION, TEST, KIND, TASTER = "session", "test", "kind", "taster"
TRIAL, ORDER, ANSWER, CODE = "trial", "order", "answer", "code"
RIGHT, BLANK, PLACE, RIGHT_PLACE = "right", "blank", "place", "right_place"
_PROBLEM = ["file", "sheet", "row", "column", "value", "reason", "action"]
_SHOWN = 20

_RIGHT_WORDS = {"right", "correct", "yes", "true"}
_WRONG_WORDS = {"wrong", "incorrect", "no", "false"}
# Said instead of an answer: the choice was not made, so the set is blank.
_BLANK_WORDS = {
    "", "-", "–", "?", "n/a", "na", "nan", "none", "no difference", "no answer", "don't know", "cannot tell",
}  # fmt: skip
_NOT_A = {"n", "b", "not a", "not-a", "nota", "not"}


class _Unreadable(Exception):  # noqa: N818  (private, always turned into a named problem)
    """Why a cell cannot be read, in which column, and what to do."""

    def __init__(self, column: str, reason: str, action: str) -> None:
        super().__init__(reason)
        self.column, self.reason, self.action = column, reason, action


@dataclass(frozen=True)
class Said:
    """One answer: right or not (None for a blank), place chosen and place of the right answer (-1 if not recorded).

    For a-not-a and same-different `right_place` is 1 where A, or a mixed pair, was served, else 0, and `place` is 1
    where "A", or "different", was said.
    """

    right: bool | None
    place: int = -1
    right_place: int = -1


def read_table(table: pd.DataFrame) -> pd.DataFrame:
    """Every answer read, or one error that names every row that cannot be.

    Parameters
    ----------
    table : DataFrame
        session, test, kind, taster, trial, order (as served), answer, code; of these kind, taster and answer must be
        there.

    Returns
    -------
    DataFrame
        session, test, kind, taster, trial, order, right, blank, place, right_place; a row per answer.

    Raises
    ------
    SheetError
        A kind, order or answer that is impossible, or one answer given twice; `.problems` has a row for each.
    """
    missing = [name for name in (KIND, TASTER, ANSWER) if name not in table.columns]
    if missing:
        raise SheetError(
            f"no column {', '.join(missing)}", where=f"answers with columns {', '.join(map(str, table.columns))}",
            do="add it: kind, taster and answer are needed, order and test are best there too",
        )  # fmt: skip
    texts = _texts(table)
    said, problems = [], []
    rows = zip(*(texts[name] for name in (KIND, ORDER, ANSWER, CODE)), strict=True)
    for at, cells in enumerate(rows):
        try:
            said.append(read_answer(*cells))
        except _Unreadable as trouble:
            problems.append(_problem(table, at, trouble))
            said.append(Said(None))
    problems += _twice(table, texts)
    if problems:
        raise _as_error(pd.DataFrame(problems, columns=_PROBLEM))
    read = texts.drop(columns=[ANSWER, CODE])
    read[RIGHT] = [bool(one.right) for one in said]
    read[BLANK] = [one.right is None for one in said]
    read[PLACE] = [one.place for one in said]
    read[RIGHT_PLACE] = [one.right_place for one in said]
    return read


def _texts(table: pd.DataFrame) -> pd.DataFrame:
    """The columns as tidy text; what is not there is empty, trials are numbered where they are not."""
    texts = pd.DataFrame(index=table.index)
    for name in (SESSION, TEST, KIND, TASTER, TRIAL, ORDER, ANSWER, CODE):
        column = table[name] if name in table.columns else pd.Series("", index=table.index)
        texts[name] = [_tidy(value) for value in column]
    texts[KIND] = texts[KIND].str.lower().str.replace(r"[\s_]+", "-", regex=True)
    counted = texts.groupby([SESSION, TEST, KIND, TASTER]).cumcount() + 1
    texts[TRIAL] = np.where(texts[TRIAL] == "", counted.astype(str), texts[TRIAL])
    return texts


def _tidy(value: object) -> str:
    if value is None or (isinstance(value, float) and np.isnan(value)) or value is pd.NA:
        return ""
    if isinstance(value, (bool, np.bool_)):
        return "right" if value else "wrong"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return " ".join(str(value).split())


def read_answer(kind: str, order: str, answer: str, code: str = "") -> Said:
    """Read one answer.

    Parameters
    ----------
    kind : str
        Kind of test.
    order : str
        What was served, such as "ABA", or "A:AB" with the reference first; "" if it was not recorded.
    answer : str
        The place named (1, 2, ...; two places for tetrad and two-out-of-five), its code, the letter where two are
        served, "A" / "not A", "same" / "different", or right / wrong.
    code : str
        Codes in the order served, if the answer is a code.

    Returns
    -------
    Said

    Examples
    --------
    >>> read_answer("triangle", "ABA", "2").right, read_answer("triangle", "ABA", "").right
    (True, None)
    >>> read_answer("tetrad", "ABAB", "2 and 4").right
    True
    """
    if kind not in KINDS:
        raise _Unreadable(KIND, "no such kind of test", f"use one of {', '.join(KINDS)}")
    this = KINDS[kind]
    served = _served(this, order)
    text = answer.lower()
    if text in _BLANK_WORDS:
        return Said(None)
    if kind in SIGNAL:
        return _read_signal(this, served, text)
    if text in _RIGHT_WORDS | _WRONG_WORDS:
        if this.two_sided:
            raise _Unreadable(ANSWER, "a paired test has no right answer", "write the place, or A or B")
        return Said(text in _RIGHT_WORDS)
    if not served:
        raise _Unreadable(ORDER, "the order served is not recorded, so a place cannot be judged",
                          "add the order, or write right or wrong as the answer")  # fmt: skip
    chosen = _places(this, served, answer, code)
    if len(chosen) != this.picks:  # too many or too few boxes ticked: no choice was made
        return Said(None)
    choices = list(combinations(range(this.positions), this.picks))
    right = _right_places(this, served)
    if this.name == "tetrad":  # either pair names the split
        halves = [choice for choice in choices if 0 in choice]
        chosen = chosen if 0 in chosen else tuple(sorted(set(range(4)) - set(chosen)))
        return Said(chosen == right, halves.index(chosen), halves.index(right))
    return Said(chosen == right, choices.index(chosen), choices.index(right))


def _served(kind: Kind, order: str) -> str:
    """The order as the kind writes it; "" if none was recorded."""
    letters = re.sub(r"[^A-Z]", "", order.upper().replace("NOT A", "N").replace("NOT-A", "N"))
    if not letters:
        return ""
    if kind.name == "a-not-a":
        letters = "N" if letters == "B" else letters
    if kind.name == "duo-trio" and len(letters) == 3:
        letters = f"{letters[0]}:{letters[1:]}"
    if letters not in kind.orders:
        raise _Unreadable(ORDER, f"no serving order of a {kind.name} test", f"use one of {', '.join(kind.orders)}")
    return letters


def _places(kind: Kind, served: str, answer: str, code: str) -> tuple[int, ...]:
    """Places named, from 0 and in order, by number, code or (where two are served) letter."""
    cups = served.rsplit(":", maxsplit=1)[-1]
    codes = re.findall(r"\d{3,}", code)[-kind.positions :]  # a reference has a code too, and stands first
    codes = codes if len(codes) == kind.positions else []
    named = re.findall(r"\d{3,}", answer)
    if named and not codes:
        raise _Unreadable(ANSWER, "the answer is a code, and the codes served are not recorded",
                          "write the codes in the order served under code, or the place as the answer")  # fmt: skip
    if named:
        strange = [one for one in named if one not in codes]
        if strange:
            raise _Unreadable(
                ANSWER, f"code {strange[0]} was not served in this set", f"the codes are {', '.join(codes)}"
            )
        return tuple(sorted({codes.index(one) for one in named}))
    if kind.positions == 2 and answer.upper() in ("A", "B"):
        return (cups.index(answer.upper()),)
    digits = [int(one) for one in re.findall(r"\d", answer)]
    if not digits or re.search(r"[^\d\s,;/+&.–-]", re.sub(r"\band\b", " ", answer.lower())):
        raise _Unreadable(ANSWER, f"no answer to a {kind.name} test", _wanted(kind))
    if min(digits) < 1 or max(digits) > kind.positions:
        raise _Unreadable(ANSWER, f"a {kind.name} test has {kind.positions} places to name", _wanted(kind))
    return tuple(sorted({digit - 1 for digit in digits}))


def _wanted(kind: Kind) -> str:
    number = "the place" if kind.picks == 1 else "two places"
    return f"write {number} (1 to {kind.positions}), right or wrong, or leave it empty for a blank"


def _right_places(kind: Kind, served: str) -> tuple[int, ...]:
    """Places that answer rightly, from 0; for paired and 2-afc where A stands, for a tetrad the pair with the first."""
    reference, _, cups = served.rpartition(":")
    if kind.name == "duo-trio":
        letter = reference
    elif kind.name == "tetrad":
        letter = cups[0]
    elif kind.positions == 2:
        letter = "A"
    else:
        letter = min("AB", key=cups.count)  # the odd one, the single one, or the two against three
    return tuple(place for place, cup in enumerate(cups) if cup == letter)


def _read_signal(kind: Kind, served: str, text: str) -> Said:
    if not served:
        raise _Unreadable(ORDER, "what was served is not recorded, so the answer cannot be judged",
                          f"use one of {', '.join(kind.orders)}")  # fmt: skip
    if kind.name == "a-not-a":
        yes, no, is_signal = {"a"}, _NOT_A, served == "A"
        wanted = "write A or not A"
    else:
        yes, no, is_signal = {"different", "d"}, {"same", "s"}, served in ("AB", "BA")
        wanted = "write same or different"
    if text not in yes | no:
        raise _Unreadable(ANSWER, f"no answer to a {kind.name} test", f"{wanted}, or leave it empty for a blank")
    said_yes = text in yes
    return Said(said_yes == is_signal, int(said_yes), int(is_signal))


def _problem(table: pd.DataFrame, at: int, trouble: _Unreadable) -> tuple[object, ...]:
    """A problem with its place: the sheet's own where the table tells it, else the label of the row."""
    row = table.iloc[at]
    value = "" if trouble.column not in table.columns else _tidy(row[trouble.column])
    place = [str(row[name]) if name in table.columns else "" for name in ("file", "sheet")]
    number = row["row"] if "row" in table.columns else table.index[at]
    return (*place, number, trouble.column, value, trouble.reason, trouble.action)


def _twice(table: pd.DataFrame, texts: pd.DataFrame) -> list[tuple[object, ...]]:
    again = np.flatnonzero(texts.duplicated([SESSION, TEST, KIND, TASTER, TRIAL]))
    trouble = _Unreadable(TRIAL, "this taster answered this trial already", "give each answer its own trial number")
    return [_problem(table, int(at), trouble) for at in again]


def _as_error(problems: pd.DataFrame) -> SheetError:
    """One error for all problems, the first twenty with their rows."""
    told = [
        ", ".join(part for part in (row["file"], row["sheet"], f"row {row['row']}", f"column {row['column']}") if part)
        + f", value {row['value']!r}: {row['reason']}"
        for _, row in problems.head(_SHOWN).iterrows()
    ]
    more = [f"and {len(problems) - _SHOWN} more"] if len(problems) > _SHOWN else []
    actions = list(dict.fromkeys(problems["action"]))
    return SheetError(
        f"{len(problems)} answers that cannot be read", where="\n         ".join(told + more),
        do="\n         ".join(actions), problems=problems,
    )  # fmt: skip
