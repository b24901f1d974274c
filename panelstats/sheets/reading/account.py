"""The account: every cell of every sheet is a score, a blank, a fault, a word, a fact, or set aside."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import LOT
from panelstats.scores.table import ACCOUNT
from panelstats.sheets.content.roles import NAMELESS
from panelstats.sheets.content.text import is_empty
from panelstats.sheets.marks.kinds import BESIDE
from panelstats.sheets.room.problems import SHOWN, place
from panelstats.speech import Phrase, digits, heard, said
from panelstats.words import count, stated

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.errors import SheetError
    from panelstats.scores.table import Scores
    from panelstats.sheets.tables.table import Table

SCORED, BLANK, FAULTED, WORDED, FACTUAL, ASIDE = range(6)
_KINDS = ("lot", "taster", "descriptor", "session")
_COUNTS = ACCOUNT[2:]
_WIDTH = 80
_NAME = 14  # signs of a name, at the least


def account_of(
    tables: list[Table], table: np.ndarray, status: np.ndarray, contradicting: Mapping[int, int]
) -> pd.DataFrame:
    """Count the cells of each sheet: `table` and `status` of each mark cell, and how many facts contradict others.

    Returns
    -------
    DataFrame
        file, sheet, seen, scores, blanks, faults, words, facts, set_aside; seen is counted on its own, from the sizes
        of the tables.
    """
    counts = np.bincount(table.astype(np.int64) * 6 + status, minlength=6 * len(tables)).reshape(-1, 6)
    rows = []
    for number, one in enumerate(tables):
        beside = [c for c, role in enumerate(one.roles) if role in BESIDE]
        filled, nameless = (
            sum(int((~one.cells(c).mask(is_empty)).sum()) for c in some) for some in (beside, one.where(NAMELESS))
        )
        told = [text for row in one.told for text, lot in zip(row.said, one.across[LOT], strict=True) if lot]
        scores, blanks, faults, words, facts, aside = counts[number]
        apart = contradicting.get(number, 0)
        seen = int((table == number).sum()) + nameless + len(beside) * len(one.rows) + len(told)
        blanks += len(beside) * len(one.rows) - filled + told.count("")
        facts += sum(map(bool, told)) + filled - apart
        rows.append((
            one.sheet.file, one.sheet.name, seen, scores, blanks, faults, words, facts, aside + nameless + apart,
        ))  # fmt: skip
    counted = pd.DataFrame(rows, columns=ACCOUNT)
    return counted.groupby(["file", "sheet"], sort=False, as_index=False).sum() if len(rows) > 1 else counted


def unread_rows(unread: list[Unread]) -> pd.DataFrame:
    """Rows of the account for files and sheets that were not read: nothing of a file, all cells of a sheet."""
    rows = [(u.file, u.sheet, u.cells, 0, 0, 0, 0, u.cells * (not u.error), u.cells * bool(u.error)) for u in unread]
    return pd.DataFrame(rows, columns=ACCOUNT)


@dataclass(frozen=True)
class Unread:
    """A file or sheet that gave no scores: how many cells are filled, and why (None where it holds no numbers).

    `small` tells of a sheet no larger than a list or a legend.
    """

    file: str
    sheet: str
    cells: int
    error: SheetError | None
    small: bool = False


def account_facts(scores: Scores) -> dict[str, object]:
    """The account as plain lists and numbers, for machines.

    Parameters
    ----------
    scores : Scores
        What was read.

    Returns
    -------
    dict
        scores, lots, tasters, descriptors, sessions (numbers), account (a record per sheet), total, set_aside, inferred
        (records), pots (records), digest.
    """
    frame = scores.frame
    return {
        "scores": len(frame),
        **{f"{kind}s": int(frame[kind].nunique()) for kind in _KINDS},
        "account": scores.account.to_dict("records"),
        "total": {name: int(scores.account[name].sum()) for name in _COUNTS},
        "set_aside": scores.problems.to_dict("records"),
        "said": list(scores.said),
        "inferred": scores.inferred.to_dict("records"),
        "pots": scores.pots.to_dict("records"),
        "digest": scores.digest,
    }


def describe_account(scores: Scores) -> str:
    """The account as a person reads it, 80 columns wide.

    Parameters
    ----------
    scores : Scores
        What was read.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"lot": ["101", "102"], "taster": "alder", "brisk": ["7.5", "-"]})
    >>> print(describe_account(pst.read_scores(sheet)))  # doctest: +ELLIPSIS
    1 score: 1 lot, 1 taster, 1 descriptor, 1 session.
    ...
    Every cell seen is a score, a blank, a fault, a word, a fact or set aside.
    ...
    """
    total = {name: int(scores.account[name].sum()) for name in _COUNTS}
    counts = [count(int(scores.frame[key].nunique()), key) for key in _KINDS]
    lines = [f"{count(len(scores.frame), 'score')}: {', '.join(counts)}.", *map(_item, map(heard, scores.said)), ""]
    rows = [("", [said(name.replace("_", " ")) for name in _COUNTS])]
    for row in scores.account.to_dict("records"):
        name = f"{row['file']}, {row['sheet']}" if row["sheet"] else row["file"]
        rows.append((name, [stated(row[n], ",") for n in _COUNTS]))
    rows += [(str(Phrase("in all")), [stated(total[n], ",") for n in _COUNTS])] if len(scores.account) > 1 else []
    lines += _table(rows)
    lines.append(str(Phrase("Every cell seen is a score, a blank, a fault, a word, a fact or set aside.")))
    if len(scores.problems):
        told = Phrase("Set aside: {problems}, {cells}.")
        problems, cells = count(len(scores.problems), "problem"), count(total["set_aside"], "cell")
        lines += ["", told.format(problems=problems, cells=cells)]
        lines += [_item(f"{place(p)}: {heard(p['reason'])}") for _, p in scores.problems.head(SHOWN).iterrows()]
        more = len(scores.problems) - SHOWN
        lines += [_item(Phrase("and {more} more").format(more=stated(more, ",")))] if more > 0 else []
    if len(scores.inferred):
        taken = Phrase("Taken so, because nobody said otherwise (a register in room.xlsx overrides):")
        lines += ["", str(taken), *map(_item, _alike(scores.inferred))]
    return "\n".join(lines)


def _alike(inferred: pd.DataFrame) -> list[str]:
    """What was inferred, things of which the same was said on one line."""
    lines: dict[tuple[str, str, str], list[str]] = {}
    for row in inferred.itertuples():
        head, of, rest = str(row.what).partition(" of ")
        key = (head if of else "", str(row.value), str(row.why))
        lines.setdefault(key, []).append(rest if of else str(row.what))
    told = [
        (_of(head, names), taken(" of ".join((head, "")), value, why)) for (head, value, why), names in lines.items()
    ]
    return [f"{what}: {value} ({why})" for what, (_, value, why) in told]


def taken(what: str, value: str, why: str) -> tuple[str, str, str]:
    """What was inferred of one thing, and why, in the language of the reader."""
    number = what.split(" of ", maxsplit=1)[0] in ("step", "tolerance") and value[:1].isdigit()
    return heard(what), digits(value) if number else heard(value), heard(why)


def _of(head: str, names: list[str]) -> str:
    return heard(" of ".join((head, ", ".join(names)))) if head else ", ".join(map(heard, names))


def _table(rows: list[tuple[str, list[str]]]) -> list[str]:
    """Names to the left, numbers under their headings to the right."""
    wide = [max(len(head) + 1, 8) for head in rows[0][1]]
    left = max(_WIDTH - sum(wide), _NAME)
    short = [name if len(name) <= left else "..." + name[3 - left :] for name, _ in rows]
    told = ["".join(f"{cell:>{width}}" for cell, width in zip(cells, wide, strict=True)) for _, cells in rows]
    return [f"{name:<{left}}{cells}" for name, cells in zip(short, told, strict=True)]


def _item(line: str) -> str:
    return textwrap.fill(line, _WIDTH, initial_indent="- ", subsequent_indent="  ", break_on_hyphens=False)
