"""False accusations and detection of the naming rule, by simulation: `python -m tests.panel.rates`.

Ten settings of a panel, nobody at fault or one taster with one of four faults, on one descriptor of 15 and on all. The
expected rates stand in tests/published/small_panels/rates_tasters.csv (3 to 6 tasters, pots of their own) and, for ten
tasters, in TEN below; panels with shared pots are expected to meet the rates of pots of their own, save where one
taster does not repeat himself: taking the pots out costs degrees of freedom (F on nu and nu (a - 2), its bound 2.25 +
1 / (a - 1)), so that a doubled error is found less often by three or four tasters, and nothing is expected there.
Prints a table and writes it to rates.md beside this file.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pandas as pd

from panelstats.panel.tasters.calls import calls
from panelstats.panel.tasters.judgement import Bench
from panelstats.panel.tasters.naming import APART, WITH, name_tasters
from tests.panel.invented import BLIND, DESCRIPTORS, LEVEL, NOBODY, NOISY, REVERSED, TOLERANCE, Setting, invent

HERE = Path(__file__).parent
EXPECTED = HERE.parent / "published" / "small_panels" / "rates_tasters.csv"

SETTINGS = {
    "3 tasters, 1 pot, 24 lots": Setting(3, 24, 1),
    "3 tasters, 2 own pots, 24 lots": Setting(3, 24, 2),
    "3 tasters, 2 shared pots, 40 lots": Setting(3, 40, 2, shared=True),
    "4 tasters, 1 pot, 40 lots": Setting(4, 40, 1),
    "4 tasters, 2 own pots, 24 lots": Setting(4, 24, 2),
    "4 tasters, 2 shared pots, 40 lots": Setting(4, 40, 2, shared=True),
    "6 tasters, 1 pot, 24 lots": Setting(6, 24, 1),
    "6 tasters, 2 shared pots, 24 lots": Setting(6, 24, 2, shared=True),
    "10 tasters, 2 own pots, 24 lots": Setting(10, 24, 2),
    "10 tasters, 2 shared pots, 40 lots": Setting(10, 40, 2, shared=True),
}
FAULTS = (LEVEL, BLIND, REVERSED, NOISY)
# Ten tasters, two pots each: one fault's chance of being named (400 panels), somebody innocent named and a taster with
# the panel (1000 panels), by lots; measured once by a program written apart from this one, before dropping anybody.
TEN = {
    24: {LEVEL: (0.43, 1.0), BLIND: (0.71, 1.0), REVERSED: (1.0, 1.0), NOISY: (0.12, 0.98), NOBODY: (0.005, 0.93)},
    40: {LEVEL: (0.69, 1.0), BLIND: (0.95, 1.0), REVERSED: (1.0, 1.0), NOISY: (0.23, 1.0), NOBODY: (0.001, 0.97)},
}
# A share is known no better than this many panels with another outcome allow.
LEAST_VARIANCE = 0.01
MOST_ERRORS = 3.0
# Up to this many tasters, taking shared pots out of repeatability costs power.
FEW = 4


@dataclass(frozen=True)
class Rates:
    """Shares of panels: the guilty named, an innocent named, anybody named; and of tasters with the panel."""

    guilty: float
    innocent: float
    anybody: float
    with_panel: float


def measure(setting: Setting, panels: int) -> Rates:
    """Rates over so many invented panels, seeded by the setting."""
    rng = np.random.default_rng(zlib.crc32(repr(setting).encode()))
    totals = np.zeros(4)
    for _ in range(panels):
        bench = Bench(invent(setting, rng), np.full(DESCRIPTORS, TOLERANCE), wander=0.0)
        names = name_tasters(bench, setting.tasters)
        overall = calls(bench, names, setting.tasters).overall
        apart = overall == APART
        totals += apart[0], apart[1:].any(), apart.any(), (overall == WITH).mean()
    guilty, innocent, anybody, with_panel = totals / panels
    return Rates(guilty, innocent, anybody, with_panel)


def expected(setting: Setting) -> dict[str, tuple[float, int]]:
    """Expected shares and the number of panels they were measured on; none for few tasters' repeats at shared pots."""
    if setting.shared and setting.fault == NOISY and setting.tasters <= FEW:
        return {}
    if setting.tasters == 10:
        one, everywhere = TEN[setting.lots][setting.fault]
        if setting.fault == NOBODY:
            return {"anybody": (one, 1000), "with_panel": (everywhere, 1000)}
        return {"guilty": (everywhere if setting.everywhere else one, 400)}
    table = pd.read_csv(EXPECTED)
    where = "nobody (ordinary)" if setting.fault == NOBODY else setting.fault + _extent(setting)
    key = {"tasters": setting.tasters, "pots": setting.pots, "lots": setting.lots, "fault": where}
    row = table[(table[list(key)] == pd.Series(key)).all(axis=1)].iloc[0]
    n = int(row["panels"])
    if setting.fault == NOBODY:
        return {"anybody": (row["named_any"], n), "with_panel": (row["with_the_panel"], n)}
    return {"guilty": (row["named_faulty"], n), "innocent": (row["named_innocent"], n)}


def _extent(setting: Setting) -> str:
    return ", all" if setting.everywhere else ", one of 15"


def standard_errors(ours: float, theirs: float, panels: int, their_panels: int) -> float:
    """Difference of two simulated shares in standard errors."""
    p = (ours * panels + theirs * their_panels) / (panels + their_panels)
    return (ours - theirs) / np.sqrt(max(p * (1 - p), LEAST_VARIANCE) * (1 / panels + 1 / their_panels))


def cases(setting: Setting) -> list[Setting]:
    """Nobody at fault, then each fault on one descriptor and on all."""
    faults = [replace(setting, fault=fault, everywhere=all_) for fault in FAULTS for all_ in (False, True)]
    return [setting, *faults]


def lines(name: str, setting: Setting, panels: int) -> list[dict[str, object]]:
    """Measured beside expected, a line for each case of a setting."""
    out: list[dict[str, object]] = []
    for case in cases(setting):
        found = measure(case, panels)
        line: dict[str, object] = {"panel": name, "fault": case.fault + _extent(case) * (case.fault != NOBODY)}
        for what in ("guilty", "innocent", "anybody", "with_panel"):
            line[what] = getattr(found, what)
        out.append(line | compared(case, found, panels))
    return out


def compared(case: Setting, found: Rates, panels: int) -> dict[str, float]:
    """What was expected, and the farthest difference in standard errors; NaN where nothing was."""
    known = expected(case)
    off = [standard_errors(getattr(found, what), share, panels, n) for what, (share, n) in known.items()]
    shares = {f"{what}_expected": share for what, (share, _) in known.items()}
    return shares | {"standard_errors": max(map(abs, off), default=np.nan)}


def as_markdown(table: pd.DataFrame, panels: int) -> str:
    """The table for people: percent, expected in brackets."""
    head = (
        "| panel | fault | guilty named | innocent named | with the panel | off by (s.e.) |\n|---|---|---|---|---|---|"
    )
    rows = [
        f"| {r['panel']} | {r['fault']} | {_percent(r, 'guilty')} | "
        f"{_percent(r, 'anybody' if r['fault'] == NOBODY else 'innocent')} | {_percent(r, 'with_panel')} | "
        f"{'–' if np.isnan(r['standard_errors']) else format(r['standard_errors'], '.1f')} |"
        for r in table.to_dict("records")
    ]
    worst = table["standard_errors"].dropna()
    close = (
        f"{panels} panels a line; in brackets what was expected. {len(worst)} of {len(table)} lines could be compared, "
        f"{(worst > MOST_ERRORS).sum()} of them more than {MOST_ERRORS:g} standard errors off, the farthest "
        f"{worst.max():.1f}. Nothing is expected of doubled errors among 3 or 4 tasters at shared pots: taking the "
        "pots out costs degrees of freedom."
    )
    return "\n".join(["# Rates of the naming rule", "", close, "", head, *rows]) + "\n"


def _percent(row: dict[str, object], what: str) -> str:
    if what == "guilty" and row["fault"] == NOBODY:
        return "–"
    share = row.get(f"{what}_expected")
    known = "" if share is None or np.isnan(share) else f" ({100 * share:.0f})"
    return f"{100 * row[what]:.1f} %{known}"


def main() -> None:
    """Run all settings, print, write rates.md."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--panels", type=int, default=200)
    panels = parser.parse_args().panels
    found: list[dict[str, object]] = []
    for name, setting in SETTINGS.items():
        found += lines(name, setting, panels)
        print(f"{name}: done", file=sys.stderr, flush=True)
    text = as_markdown(pd.DataFrame(found), panels)
    (HERE / "rates.md").write_text(text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
