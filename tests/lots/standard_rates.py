"""Error rates of lots held against the standard, own and shared pots, by simulation.

`python -m tests.lots.standard_rates` prints the table and writes it beside this file. Seeded; a minute or two.
"""

import sys
from pathlib import Path

import numpy as np
import pandas as pd

from panelstats.lots.standard.fit import match_standard
from tests.lots.test_standard import drawn, panel

RUNS, TOLERANCE = 1000, 1.0
# Pots, tasters, pots of each lot, SD between pots, descriptors (of one stage: from four on, few pots are steadied).
DESIGNS = [
    ("own", 8, 2, 0.3, 3),
    ("own", 8, 3, 0.3, 3),
    ("shared", 8, 2, 0.15, 3),
    ("shared", 8, 2, 0.3, 3),
    ("shared", 8, 4, 0.3, 3),
    ("shared", 8, 2, 0.5, 3),
    ("shared", 8, 2, 0.3, 6),
    ("shared", 8, 2, 0.5, 6),
]


def rates(pots, tasters, brews, pot_sd, descriptors, rng):
    """Calls and coverage of one design; each run is a session of a standard and one trial."""
    calls, covered = {}, {}
    for apart in (0.0, TOLERANCE, 2 * TOLERANCE):
        y = drawn(
            rng, sessions=RUNS, tasters=tasters, pots=brews, apart=apart, pot_sd=pot_sd, own=pots == "own",
            descriptors=descriptors,
        )  # fmt: skip
        found = match_standard(panel(y, pots=pots, tolerance=TOLERANCE), "L0")
        calls[apart] = found.summary["call"]
        first = found.table[found.table["descriptor"] == "d0"]
        covered[apart] = ((first["low"] <= apart) & (apart <= first["high"])).mean()
    return {
        "pots": f"{brews} {pots}, SD {pot_sd:g}",
        "tasters": tasters,
        "descriptors": descriptors,
        "alike, called differ": (calls[0.0] == "differ").mean(),
        "at the tolerance, called match": (calls[TOLERANCE] == "match").mean(),
        "two tolerances apart, called match": (calls[2 * TOLERANCE] == "match").mean(),
        "alike, called match": (calls[0.0] == "match").mean(),
        "two tolerances apart, called differ": (calls[2 * TOLERANCE] == "differ").mean(),
        "95 % interval holds at least": min(covered.values()),
    }


def main():
    """Print the table and keep it beside this file."""
    rng = np.random.default_rng(12)
    table = pd.DataFrame([rates(*design, rng) for design in DESIGNS])
    shown = table.astype(dict.fromkeys(table.select_dtypes("float"), object))
    for name in table.select_dtypes("float"):
        shown[name] = [f"{100 * value:.1f} %" for value in table[name]]
    lines = ["| " + " | ".join(shown.columns) + " |", "|" + " --- |" * len(shown.columns)]
    lines += ["| " + " | ".join(map(str, row)) + " |" for row in shown.itertuples(index=False)]
    text = (
        "# Error rates of lots held against the standard\n\nMade by `python -m tests.lots.standard_rates`. Two lots "
        "that differ on the first descriptor only; tolerance 1 point; lot:taster SD 0.4, palate error SD 0.8; nominal "
        f"error rates 5 %. {RUNS} runs a figure: standard error about 0.7 % at 5 %.\n\n" + "\n".join(lines) + "\n"
    )
    Path(__file__).with_suffix(".md").write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
