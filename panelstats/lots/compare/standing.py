"""Which lots of a class stand best by what is wanted of it, and what marks a lot out from its class."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from panelstats.lots.plaintables import by_name
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT

if TYPE_CHECKING:
    from panelstats.lots.compare.fit import LotComparison

STANDING = "standing"
_WANTED = {"more": 1.0, "less": -1.0}


class Tested(NamedTuple):
    """Of a comparison what says which lots differ, and how they stand."""

    anova: pd.DataFrame
    means: pd.DataFrame
    pairs: pd.DataFrame
    level: float


def weights(descriptors: pd.DataFrame) -> pd.Series:
    """What a point counts on each descriptor: the room's weight, else 1 or -1 by what is wanted, else 0."""
    names = descriptors[DESCRIPTOR].astype(str)
    zero = pd.Series(0.0, index=descriptors.index)
    given = pd.to_numeric(descriptors.get("weight", zero * np.nan), errors="coerce")
    wanted = descriptors["wanted"].map(_WANTED).fillna(0.0) if "wanted" in descriptors else zero
    found = given if given.notna().any() else wanted
    return pd.Series(found.fillna(0.0).to_numpy(float), index=names).groupby(level=0).first()


def marked_out(comparison: LotComparison | Tested, descriptors: pd.DataFrame) -> pd.DataFrame:
    """On which descriptors each lot lies beyond its class, by more than matters.

    Parameters
    ----------
    comparison : LotComparison
    descriptors : DataFrame
        The register: descriptor, tolerance, wanted, weight.

    Returns
    -------
    DataFrame
        class, lot, descriptor, deviation (points from the mean of the class), worth (deviation times what a point
        counts; 0 where neither more nor less is wanted), largest deviation first. Only descriptors on which the lots of
        the class differ after adjustment, and deviations beyond the tolerance whose interval leaves out zero.
    """
    rows = _shown(named(comparison.means), comparison)
    tolerance = by_name(descriptors, DESCRIPTOR).get("tolerance", pd.Series(dtype=float))
    size = rows["deviation"].abs()
    beyond = size > rows[DESCRIPTOR].map(tolerance).astype(float).fillna(0.0)
    rows = rows[beyond & ((rows["deviation_low"] > 0) | (rows["deviation_high"] < 0))]
    worth = rows[DESCRIPTOR].map(weights(descriptors)).astype(float).fillna(0.0)
    rows = rows.assign(worth=rows["deviation"].astype(float) * worth)
    rows = rows.sort_values("deviation", key=lambda values: -values.abs(), kind="stable")
    return rows[[CLASS, LOT, DESCRIPTOR, "deviation", "worth"]].reset_index(drop=True)


def standings(comparison: LotComparison | Tested, descriptors: pd.DataFrame) -> pd.DataFrame:
    """The lots of each class in order.

    Parameters
    ----------
    comparison : LotComparison
    descriptors : DataFrame
        The register: descriptor, wanted, weight.

    Returns
    -------
    DataFrame
        class, lot, standing: mean deviation from the class over the descriptors on which its lots differ, each counted
        as the room weighs it, in points; best first. NaN where nothing is wanted or nothing differs.
    """
    means = named(comparison.means)
    found = means[[CLASS, LOT]].drop_duplicates(ignore_index=True)
    lot = means.groupby([CLASS, LOT], sort=False).ngroup()  # its row in `found`
    rows = _shown(means, comparison).dropna(subset="deviation")
    worth = rows[DESCRIPTOR].map(weights(descriptors)).astype(float).fillna(0.0)
    parts = pd.DataFrame({"part": rows["deviation"] * worth, "worth": worth.abs()})
    sums = parts.groupby(lot[rows.index]).sum().reindex(found.index)
    found[STANDING] = sums["part"] / sums["worth"].where(sums["worth"] > 0)
    order = np.lexsort((-found[STANDING].fillna(-np.inf), pd.factorize(found[CLASS])[0]))
    return found.iloc[order].reset_index(drop=True)


def _shown(means: pd.DataFrame, comparison: LotComparison | Tested) -> pd.DataFrame:
    """Of the `named` means those of the descriptors on which the lots of their class differ."""
    tests = named(comparison.anova)
    tests = tests[(tests["source"] == "lot") & (tests["p_adjusted"] < 1 - comparison.level)]
    differ = set(zip(tests[CLASS], tests[DESCRIPTOR], strict=True))
    return means[[each in differ for each in zip(means[CLASS].tolist(), means[DESCRIPTOR].tolist(), strict=True)]]


def named(table: pd.DataFrame) -> pd.DataFrame:
    """The table with its keys as text, and one class where it has none."""
    keys = {name: table[name].astype(str) for name in (LOT, DESCRIPTOR) if name in table}
    group = table[CLASS].fillna("").astype(str) if CLASS in table else ""
    return table.assign(**{CLASS: group}, **keys)
