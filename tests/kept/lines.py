"""What an analysis answered, as lines: sentences in full, columns and pages as what hardly two of them share."""

from __future__ import annotations

import re
import zlib
from functools import cache
from numbers import Real
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import PanelError
from panelstats.report.pages.page import page_of
from panelstats.review import Review

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SAID = Path(__file__).with_name("said")
HEAD = "==== "
NUMBER = re.compile(r"(?<![\w.])[-−]?\d+(?:\.\d+)?")
BLOCK = re.compile(r"(?=<(?:h1|h2|h3|svg|table|details)\b)")


def lines_of(asked: Callable[[], object]) -> list[str]:
    """Everything one question was answered, or how it was refused."""
    try:
        answer = asked()
        lines = list(_review(answer) if isinstance(answer, Review) else _result(answer))
    except PanelError as refused:
        lines = ["refused", str(refused)]
    return [line.replace("\n", " / ") for line in lines]


def _review(review: Review) -> Iterator[str]:
    yield from review.said
    for title, result in review.results:
        yield f"# {title}"
        yield from _result(result)
    yield "# page"
    for n, block in enumerate(BLOCK.split(page_of(review).decode())):
        skeleton = NUMBER.sub("0", block)
        yield f"block {n} | {_sign(skeleton)} | {_mixed(_numbers(block))}"


def _result(result) -> Iterator[str]:
    for name, table in result.tables().items():
        for column in table:
            yield f"{name}.{column} | {_column(table[column])}"
    for verdict in result.verdicts:
        yield f"{verdict.subject}: {verdict.call} ({verdict.act.word}): {verdict.sentence} > {verdict.next_step}"
        yield f"numbers {' '.join(verdict.numbers)} | {_mixed(np.array(list(verdict.numbers.values()), float))}"


def _column(values: pd.Series) -> str:
    told = [value for value in values if not pd.isna(value)]
    if not told or not all(isinstance(value, Real) and not isinstance(value, bool | np.bool_) for value in told):
        return _sign("\n".join(map(str, values)))
    return _mixed(values.to_numpy(float, na_value=np.nan))


def _mixed(x: np.ndarray) -> str:
    """How many numbers, how many of them finite, their size and a mixture that knows their signs and their order."""
    finite = x[np.isfinite(x)]
    where = np.flatnonzero(np.isfinite(x))
    return f"{len(x)} {len(finite)} {np.abs(finite).sum():.9g} {(finite * np.cos(1.0 + where)).sum():.9g}"


def _numbers(text: str) -> np.ndarray:
    return np.array([float(found.replace("−", "-")) for found in NUMBER.findall(text)])


def _sign(text: str) -> str:
    return f"{zlib.crc32(text.encode()):08x}"


def moved(kept: list[str], now: list[str], *, apart: float = 1e-5) -> list[str]:
    """Lines that say something else than they did: figures apart by more than a hundred-thousandth of their size."""
    found = [f"- {a}\n+ {b}" for a, b in zip(kept, now, strict=False) if not _same(a, b, apart)]
    return found + [f"- {a}" for a in kept[len(now) :]] + [f"+ {b}" for b in now[len(kept) :]]


def _same(a: str, b: str, apart: float) -> bool:
    if a == b:
        return True
    (head, _, last), (other, _, newer) = a.rpartition(" | "), b.rpartition(" | ")
    if head != other or not head:
        return False
    old, new = last.split(), newer.split()
    if len(old) != len(new) or len(old) != 4 or old[:2] != new[:2]:
        return False
    x, y = np.array(old[2:], float), np.array(new[2:], float)
    return bool((np.abs(x - y) <= apart * max(x[0], 1e-6)).all())


def keep(room: str, answers: dict[str, list[str]]) -> None:
    """Write what one room's questions were answered; a line that only a processor moved stays as it was kept."""
    SAID.mkdir(exist_ok=True)
    lines = []
    for question, some in answers.items():
        old = kept(room).get(question, [])
        lines += [HEAD + question, *(old if not moved(old, some) else some)]
    (SAID / f"{room.replace(' ', '-')}.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")


@cache
def kept(room: str) -> dict[str, list[str]]:
    """What one room's questions were answered when they were last kept."""
    path = SAID / f"{room.replace(' ', '-')}.txt"
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    parts = [part.split("\n") for part in text.removesuffix("\n").removeprefix(HEAD).split("\n" + HEAD)]
    return {question: lines for question, *lines in parts}
