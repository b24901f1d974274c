"""Assessing tasters against the same statistics computed group by group with pandas and pingouin.

Run as `python -m tests.bench.bench_tasters`. The tolerance on level is wide, so that nobody leaves a reference and both
sides compute the same numbers; the last column shows that they do. The large panel is timed alone: group by group it
takes minutes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
import pingouin as pg

import panelstats as pst
from tests.bench.made import made_cells, peak_mb, timed

if TYPE_CHECKING:
    from panelstats.scores.cells import Cells

# In points: nobody is dropped, so every reference is the plain mean of all others.
TOLERANCE = 5.0
LARGEST_BY_GROUPS = 100

SIZES = {
    "12 tasters x 40 lots x 2 pots x 16 descriptors": {"lots": 40, "tasters": 12, "pots": 2, "descriptors": 16},
    "8 tasters x 2,000 lots x 2 pots x 16 descriptors": {"lots": 2000, "tasters": 8, "pots": 2, "descriptors": 16},
}


def by_groups(scores: pd.DataFrame) -> pd.DataFrame:
    """Level, order, slope, repeatability and telling lots apart of every taster and descriptor, one group at a time."""
    rows = []
    for descriptor, mine in scores.groupby("descriptor"):
        means = mine.pivot_table(index="lot", columns="taster", values="score")
        within = mine.groupby(["taster", "lot"])["score"].var().groupby("taster").mean()
        for taster in means:
            others = means.drop(columns=taster)
            reference = others.mean(axis=1)
            level = pg.ttest(means[taster] - reference, 0.0)
            order = pg.corr(reference, means[taster])
            line = pg.linear_regression(reference, means[taster])
            pull = others.sub(others.mean(axis=1), axis=0).sub(others.mean() - others.to_numpy().mean())
            noise = (pull**2).to_numpy().sum() / ((others.shape[1] - 1) * (len(others) - 1))
            signal = 1 - noise / (others.shape[1] * reference.var())
            lots = pg.anova(data=mine[mine["taster"] == taster], dv="score", between="lot")
            rows.append(
                {
                    "descriptor": descriptor,
                    "taster": taster,
                    "level": (means[taster] - reference).mean(),
                    "level_t": level["T"].iloc[0],
                    "agreement": order["r"].iloc[0],
                    "scale_use": line["coef"].iloc[1] / max(signal, 0.2),
                    "repeatability": np.sqrt(within[taster] / within.drop(taster).mean()),
                    "lots_f": lots["F"].iloc[0],
                }
            )
    return pd.DataFrame(rows)


def scores_of(cells: Cells, seed: int = 1) -> pd.DataFrame:
    """Two scores a cell with the cell's mean and sum of squares: what the cells were made from, but for order."""
    frame = cells.frame
    half = np.sqrt(frame["within_ss"] / 2)
    sign = np.random.default_rng(seed).choice([-1, 1], len(frame))
    parts = [frame.assign(score=frame["mean"] + k * sign * half) for k in (1, -1)]
    plain = dict.fromkeys(("lot", "taster", "descriptor"), "str")
    return pd.concat(parts)[["lot", "taster", "descriptor", "score"]].astype(plain)


def agree(result: pst.TasterAssessment, theirs: pd.DataFrame) -> float:
    """Largest difference between our estimates and those computed group by group, over what both could estimate."""
    ours = result.table.pivot_table(index=["descriptor", "taster"], columns="aspect", values="estimate")
    both = theirs.set_index(["descriptor", "taster"])
    aspects = [a for a in ("level", "agreement", "scale_use", "repeatability") if a in ours]
    return float((ours.loc[both.index, aspects] - both[aspects]).abs().max().max())


def run(sizes: dict[str, dict[str, int]] = SIZES) -> list[dict[str, object]]:
    """A row a size: seconds, reference seconds, their ratio, peak memory in MB, largest difference of an estimate."""
    out: list[dict[str, object]] = []
    for name, size in sizes.items():
        cells = made_cells(**size)
        seconds, result = timed(lambda cells=cells: pst.assess_tasters(cells, tolerance=TOLERANCE))
        line: dict[str, object] = {"name": f"assess_tasters, {name}", "seconds": seconds}
        line["peak_mb"] = peak_mb()
        if size["lots"] <= LARGEST_BY_GROUPS:
            scores = scores_of(cells)
            line["reference_seconds"], theirs = timed(lambda scores=scores: by_groups(scores), repeats=1)
            line |= {"ratio": line["reference_seconds"] / seconds, "difference": agree(result, theirs)}
        out.append(line)
    return out


if __name__ == "__main__":
    print(pd.DataFrame(run()).to_string(index=False))
