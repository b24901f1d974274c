"""What the reader made of a room, held to the truth."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

import panelstats as pst
from tests.habits.labels import plain, words
from tests.habits.truth import DESCRIPTOR, LOT, POT, SCORE, SESSION, STAGE, TASTER, Truth

RIGHT, MUTE, ASKED, REFUSED, TOLD, WRONG = "right", "mute", "asked", "refused", "told", "WRONG"
OUTCOMES = (RIGHT, MUTE, ASKED, REFUSED, TOLD, WRONG)
COMPARED = [LOT, TASTER, POT, DESCRIPTOR]


@dataclass(frozen=True)
class Finding:
    """One outcome with its reason.

    right: the truth, and all said that had to be. mute: the truth, but something was kept quiet. asked: a `SheetError`
    that lists problems. refused: one that lists none. told: another frame, and a word on it. WRONG: without a word.
    """

    outcome: str
    reason: str = ""


def judged(source: Path, truth: Truth, room: Path | None = None) -> Finding:
    """Read a source and compare."""
    try:
        scores = pst.read_scores(source, room=room)
    except pst.SheetError as error:
        problems = getattr(error, "problems", None)
        if problems is not None and len(problems):
            return Finding(ASKED, _told(problems))
        return Finding(REFUSED, " / ".join(map(str, error.args[:2])))
    except Exception as error:  # noqa: BLE001 -- a crash is one of the outcomes that are counted
        return Finding(WRONG, f"crash: {type(error).__name__}: {error}"[:160])
    different = difference(scores.frame, truth) or ungoverned(scores, truth)
    said = said_of(scores)
    missing = [pattern for pattern in truth.say if not re.search(pattern, said, re.IGNORECASE)]
    if different:
        return Finding(WRONG if missing or not truth.say else TOLD, different)
    if truth.must == "ask":
        return Finding(MUTE, "guessed where nobody can know")
    return Finding(MUTE, f"nothing said of {missing}") if missing else Finding(RIGHT)


def ungoverned(scores: pst.Scores, truth: Truth) -> str:
    """Where a register did not hold for the descriptor it is of."""
    table = scores.descriptors
    for label, wanted in truth.governs.items():
        mine = table[_renamed(table[DESCRIPTOR].astype(str), _descriptors(truth)) == label]
        for column, value in wanted.items():
            if not (mine[column].astype(float) == value).all():
                return f"the register's {column} of {label} is {value}, read as {mine[column].tolist()}"
    return ""


def said_of(scores: pst.Scores) -> str:
    """All that a reading says of its sheets, as one text."""
    tables = (scores.inferred, scores.problems, scores.remarks)
    out = [" ".join(map(str, row)) for table in tables for row in table.itertuples(index=False)]
    aside = scores.account[scores.account["set_aside"] > 0] if "set_aside" in scores.account else scores.account[:0]
    return "\n".join([*out, *(" ".join(map(str, row)) for row in aside.itertuples(index=False))])


def difference(frame: pd.DataFrame, truth: Truth) -> str:
    """How a frame differs from the truth; nothing where it does not."""
    got = frame[[SESSION, *COMPARED, SCORE]].astype(dict.fromkeys((SESSION, *COMPARED), str))
    got[DESCRIPTOR] = _renamed(got[DESCRIPTOR], _descriptors(truth))
    # A number met again on another day is shown with its day.
    day = (" (" + got[SESSION] + ")").tolist()
    got[LOT] = [lot.removesuffix(end) for lot, end in zip(got[LOT], day, strict=True)]
    for axis in (LOT, TASTER):
        got[axis] = _renamed(got[axis], truth.spelt[axis])
    want = truth.table.astype(dict.fromkeys((SESSION, *COMPARED), str))
    compared = [axis for axis in COMPARED if axis not in truth.loose]
    if len(set(want[SESSION])) != len(set(got[SESSION])):
        return f"{got[SESSION].nunique()} sessions {sorted(set(got[SESSION]))[:4]} for {want[SESSION].nunique()}"
    return _sessions_differ(got, want, compared)


def _sessions_differ(got: pd.DataFrame, want: pd.DataFrame, compared: list[str]) -> str:
    """Sessions are matched by what was scored in them: how they are called is the reader's affair."""
    columns = [*compared, SCORE]
    theirs = [_counted(part, columns) for _, part in got.groupby(SESSION, sort=False)]
    for _, part in want.groupby(SESSION, sort=False):
        ours = _counted(part, columns)
        best = max(theirs, key=lambda other: (ours & other).total(), default=Counter())
        if best != ours:
            return _spelt(ours - best, best - ours, compared)
        theirs.remove(best)
    return ""


def _counted(table: pd.DataFrame, columns: list[str]) -> Counter[tuple[object, ...]]:
    return Counter(table[columns].round({SCORE: 6}).itertuples(index=False, name=None))


def _spelt(lost: Counter, added: Counter, compared: list[str]) -> str:
    parts = [
        f"{len(rows)} {word}, e.g. {_row(next(iter(rows)))}"
        for rows, word in ((lost, "lost"), (added, "added"))
        if rows
    ]
    axes = [
        f"{axis} {sorted({str(row[n]) for row in added} - {str(row[n]) for row in lost})[:3]}"
        for n, axis in enumerate(compared)
        if {row[n] for row in added} - {row[n] for row in lost}
    ]
    return "; ".join([*parts, *axes])


def _row(row: tuple[object, ...]) -> str:
    return "/".join(map(str, row))


def _renamed(labels: pd.Series, spelt: dict[str, str]) -> pd.Series:
    new = {
        label: spelt.get(plain(label), spelt.get(" ".join(sorted(words(label))), label)) for label in labels.unique()
    }
    return labels.map(new)


def _descriptors(truth: Truth) -> dict[str, str]:
    """A descriptor may be shown with its stage, in any order of the words."""
    out = dict(truth.spelt[DESCRIPTOR])
    for label, stage in truth.table[[DESCRIPTOR, STAGE]].drop_duplicates().itertuples(index=False):
        bare = (label, *truth.names.get((DESCRIPTOR, label), ()))
        out |= {" ".join(sorted({*words(s), *words(stage)})): label for s in bare}
        out |= {" ".join(sorted(words(s))): label for s in bare}
    return out


def _told(problems: pd.DataFrame) -> str:
    """The first problem in a line, and how many there are."""
    first = problems.iloc[0]
    where = ", ".join(str(first[k]) for k in ("sheet", "row", "column") if str(first.get(k, "")))
    return f"{len(problems)}: {first['reason']} ({where}: {str(first['value'])[:40]})"
