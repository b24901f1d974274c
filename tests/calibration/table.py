"""The one table: every claim, nominal against actual, worst first; read back to be compared and completed."""

from __future__ import annotations

import subprocess
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from tests.calibration.trial import Line

HERE = Path(__file__).parent
RATES, BEFORE = HERE / "rates.md", HERE / "before.md"
COLUMNS = ["claim", "room", "nominal %", "rate % (s.e.)", "before", "holds", "power", "power before", "where", "runs",
           "commit"]  # fmt: skip
UNKNOWN = "–"
INTRODUCTION = """# Calibration

Made by `python -m tests.calibration`; last written {date}. Every claim and interval of the package, in rooms within
the textbook and outside it: how often it may be false, how often it was, the worst first. Of an interval the rate is
that of its misses and the power its usual half width in its own unit. Advice is tested by following it: nominal is how
often it may fail. *holds*: at most 2 points above nominal; *within error*: at most four standard errors above that, so
that more runs would tell; *no*: above; *named*: above, known, and said where it matters. "before" is what `before.md`
measured, at commit {before}, where that was another. Runs 0: every result was enumerated.

{holding} of {lines} lines hold, {open} are within error.

"""


@dataclass(frozen=True)
class Row:
    """A line as it stands in the table."""

    cells: tuple[str, ...]
    above: float

    @property
    def key(self) -> tuple[str, str]:
        """Claim and room."""
        return self.cells[0], self.cells[1]


def commit() -> str:
    """The commit measured, with a mark where the tree differs from it."""
    return _git("rev-parse", "--short", "HEAD") + "+" * bool(_git("status", "--porcelain", "../../panelstats"))


def _git(*words: str) -> str:
    return subprocess.run(["git", *words], cwd=HERE, capture_output=True, text=True, check=True).stdout.strip()


def row(line: Line, at: str) -> Row:
    """A line of the table, without what was before."""
    share = line.alternative != "half width"
    power = "" if np.isnan(line.power) else f"{100 * line.power:.0f} %" if share else f"±{line.power:.2f}"
    rate = (
        UNKNOWN if np.isnan(line.rate) else f"{100 * line.rate:.1f}" + (f" ({100 * line.se:.1f})" if line.runs else "")
    )
    cells = (line.claim, line.room, f"{100 * line.nominal:g}", rate, "", line.call, power, "", line.alternative,
             str(line.runs), at)  # fmt: skip
    return Row(cells, float(np.nan_to_num(line.above, nan=-1.0)))


def read(path: Path) -> dict[tuple[str, str], Row]:
    """The rows of a table that was written before."""
    if not path.exists():
        return {}
    lines = [
        text.strip("| \n").split(" | ") for text in path.read_text(encoding="utf-8").splitlines() if text[:2] == "| "
    ]
    rows = [tuple(cell.strip() for cell in cells) for cells in lines if len(cells) == len(COLUMNS)][2:]
    found = [Row(cells, _above(cells[3], cells[2])) for cells in rows]
    return {each.key: each for each in found}


def _above(rate: str, nominal: str) -> float:
    """Rate less nominal; a claim that was never made stands last."""
    return -1.0 if rate == UNKNOWN else (float(rate.split(maxsplit=1)[0]) - float(nominal)) / 100


def write(rows: dict[tuple[str, str], Row], path: Path = RATES) -> None:
    """Write the rows, worst first, beside what was before."""
    before = read(BEFORE) if path != BEFORE else {}
    ordered = sorted(rows.values(), key=lambda each: (-each.above, each.key))
    lines = [_with_before(each, before.get(each.key)) for each in ordered]
    text = INTRODUCTION.format(
        date=datetime.now(UTC).date(),
        before=", ".join(sorted({each.cells[-1] for each in before.values()})) or "none",
        holding=sum(cells[5] == "holds" for cells in lines),
        open=sum(cells[5] == "within error" for cells in lines),
        lines=len(lines),
    )
    body = [COLUMNS, ["---"] * len(COLUMNS), *lines]
    path.write_text(text + "\n".join("| " + " | ".join(cells) + " |" for cells in body) + "\n", encoding="utf-8")


def _with_before(now: Row, then: Row | None) -> list[str]:
    cells = list(now.cells)
    other = then is not None and then.cells[-1] != now.cells[-1]
    cells[4], cells[7] = (then.cells[3], then.cells[6]) if then and other else ("", "")
    return [cell or UNKNOWN for cell in cells]
