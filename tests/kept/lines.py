"""What an analysis answered, as lines: sentences in full, columns and pages as what hardly two of them share."""

from __future__ import annotations

import re
import zlib
from functools import cache
from numbers import Real
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING
from zipfile import ZipFile

import numpy as np
import pandas as pd
from matplotlib.pyplot import close
from matplotlib.text import Text

import panelstats as pst
from panelstats.errors import PanelError
from panelstats.report.pages.page import page_of
from panelstats.report.workbook import write_workbook
from panelstats.review import Review

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SAID = Path(__file__).with_name("said")
HEAD = "==== "
DAY = re.compile(rb"\d{4}-\d\d-\d\d")
NUMBER = re.compile(r"(?<![\w.])[-−]?\d+(?:\.\d+)?")
BLOCK = re.compile(r"(?=<(?:h1|h2|h3|svg|table|details|sheetData|mergeCells)\b)")


def lines_of(asked: Callable[[], object]) -> list[str]:
    """Everything one question was answered, or how it was refused."""
    try:
        answer = asked()
        if isinstance(answer, list):
            lines = answer
        else:
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
    yield from _marked(page_of(review).decode())


def handed(pages: dict[str, bytes]) -> list[str]:
    """Pages that are handed to one person each, or the parts of a file."""
    return [line for name, page in pages.items() for line in (f"# {name}", *_marked(page.decode()))]


def workbook(review: Review) -> dict[str, bytes]:
    """The parts of a review's workbook, as spreadsheets read them."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "book.xlsx"
        write_workbook(review, path)
        return parts_of(path)


def parts_of(path: Path) -> dict[str, bytes]:
    """The parts of a workbook but for those that tell when it was made; days are blanked, today's among them."""
    with ZipFile(path) as book:
        parts = {name: book.read(name) for name in sorted(book.namelist()) if "docProps" not in name}
    return {name: DAY.sub(b"", part) for name, part in parts.items()}


def drawing(result: object) -> list[str]:
    """What a figure of a result says and where: its texts, and the numbers of all that is drawn."""
    ax = pst.draw(result)
    figure = ax.figure
    lines = [f"text {text.get_text()} | {_mixed(np.array(text.get_position(), float))}"
             for text in figure.findobj(Text) if text.get_text()]  # fmt: skip
    for axes in figure.axes:
        x, y = axes.get_xlim(), axes.get_ylim()
        lines.append(f"axes | {_mixed(np.array([*x, *y, *axes.get_position().bounds]))}")
        lines += [f"line {line.get_linestyle()} {line.get_linewidth():g} | {_mixed(np.ravel(line.get_xydata()))}"
                  for line in axes.lines]  # fmt: skip
        lines += [f"points {np.ravel(some.get_linewidths())[:1]} | {_mixed(np.ravel(np.ma.filled(some.get_offsets())))}"
                  for some in axes.collections]  # fmt: skip
        lines += [f"patch {one.get_linestyle()} {one.get_linewidth():g} | {_mixed(np.ravel(one.get_path().vertices))}"
                  for one in axes.patches]  # fmt: skip
    close(figure)
    return lines


def _marked(text: str) -> Iterator[str]:
    """A page or a part of a file, block by block: what it is without its numbers, and the numbers."""
    for n, block in enumerate(BLOCK.split(text)):
        yield f"block {n} | {_sign(NUMBER.sub('0', block))} | {_mixed(_numbers(block))}"


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
