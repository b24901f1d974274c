"""Agreement on complete tables of cell means: mean squares, ranks, and whether classes are told apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import fdtrc

from panelstats.models import ranks
from panelstats.models.additive import fit_additive
from panelstats.models.degrees import LotTest
from panelstats.models.estimable import ROUNDING
from panelstats.models.meansquares import ratio
from panelstats.models.reliability import Intraclass, from_mean_squares
from panelstats.scores.cells import DESCRIPTOR

if TYPE_CHECKING:
    from panelstats.panel.agreement.layout import Layout


def centred_rows(table: np.ndarray) -> np.ndarray:
    """Means of the rows of an additive fit of row and column, about their mean; NaN where a row is empty."""
    row = fit_additive(table, ~np.isnan(table)).row
    seen = ~np.isnan(row)
    return row - np.where(seen, row, 0.0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1)


def complete_tables(layout: Layout, looks: np.ndarray) -> np.ndarray:
    """Whether every taster scored every lot of every class alike often, and two tasters did, shape (D,)."""
    inside = np.equal(layout.lot_group[:, None], layout.group)
    ours = looks[inside]  # (cells of classes, descriptor)
    even = np.logical_and(np.ptp(ours, axis=0) == 0, ours.min(axis=0) > 0)
    sizes = {int((layout.group == g).sum()) for g in range(len(layout.classes))}
    enough = len(sizes) == 1 and min(sizes) > 1 and len(looks) > len(layout.classes)
    return even & enough


def _squares(table: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Sums of squares of rows, columns and rest of a complete table, (row, column, descriptor), and their df."""
    n, k, _ = table.shape
    row, column, grand = table.mean(axis=1, keepdims=True), table.mean(axis=0, keepdims=True), table.mean(axis=(0, 1))
    parts = [k * (row - grand) ** 2, n * (column - grand) ** 2, (table - row - column + grand) ** 2]
    sums = np.stack([part.sum(axis=(0, 1)) for part in parts])
    nothing = ROUNDING * n * k * np.ptp(table, axis=(0, 1)) ** 2
    return np.where(sums > nothing, sums, 0.0), np.array([n - 1, k - 1, (n - 1) * (k - 1)])  # rounding is no variation


def _mean_squares(layout: Layout, cell: np.ndarray) -> list[np.ndarray]:
    """Mean squares of lots, tasters and rest of the complete tables of all classes, added up."""
    found = [_squares(cell[layout.lot_group == g][:, layout.group == g]) for g in range(len(layout.classes))]
    sums, df = (np.sum(part, axis=0) for part in zip(*found, strict=True))
    return list(sums / df[:, None])


def from_tables(
    layout: Layout, cell: np.ndarray, complete: np.ndarray, icc: Intraclass, test: LotTest,
    levels: tuple[np.ndarray, np.ndarray], level: float,
) -> tuple[Intraclass, LotTest, tuple[np.ndarray, np.ndarray]]:  # fmt: skip
    """Put the exact answers of complete tables in the place of those from components."""
    groups = len(layout.classes)
    n, k = len(layout.lot_group) / groups, int((layout.group == 0).sum())
    squares = _mean_squares(layout, cell)
    exact = from_mean_squares(*squares, n=n, k=k, groups=groups, level=level)
    merged = {name: np.where(complete, value, getattr(icc, name)) for name, value in vars(exact).items()}
    lots, tasters, rest = squares
    df = groups * (n - 1), groups * (n - 1) * (k - 1)
    with np.errstate(divide="ignore", invalid="ignore"):
        statistic = np.where(lots > 0, lots / rest, np.nan)
    parts = tasters / n, rest * (n - 1) / n  # their sum is the variance of one taster's mark, level included
    both = np.where(parts[0] > rest / n, sum(parts), rest)
    levels_df = ratio(both**2, parts[0] ** 2 / (groups * (k - 1)) + parts[1] ** 2 / df[1])
    merged_test = LotTest(
        np.where(complete, statistic, test.statistic), np.where(complete, df[0], test.df),
        np.where(complete, df[1], test.df_error),
    )  # fmt: skip
    merged_levels = np.where(complete, ratio(both, rest), levels[0]), np.where(complete, levels_df, levels[1])
    return Intraclass(**merged), merged_test, merged_levels


def rank_agreement(layout: Layout, cell: np.ndarray, seen: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Kendall's W, mean Spearman and p of complete tables of one class; NaN elsewhere: ranks do not cross classes."""
    size = len(layout.descriptors)
    out = (np.full(size, np.nan), np.full(size, np.nan), np.full(size, np.nan))
    whole = seen.all(axis=(0, 1)) & (len(layout.classes) == 1) & (len(cell) > 2) & (cell.shape[1] > 1)
    if whole.any():
        found = ranks.concordance(cell[..., whole])
        for target, value in zip(out, (found.w, found.spearman, found.p), strict=True):
            target[whole] = value
    return out


def classes_apart(layout: Layout) -> pd.DataFrame:
    """Whether classes differ, their lots taken as drawn: of the tasters who scored every lot of a descriptor.

    Notes
    -----
    Class means against lots within classes and the tasters' disagreement on classes, each of which moves them: the
    quasi-F (MS_class + MS_lot:taster) / (MS_lot + MS_class:taster), degrees of freedom after Satterthwaite (Cochran
    1951, Biometrics 7: 17-32). Against the tasters alone any classes differ whose lots do.
    """
    columns = [DESCRIPTOR, "classes", "df", "df_error", "statistic", "p"]
    looks, cell = layout.cell_means()
    c, people = len(layout.classes), np.unique(layout.taster)
    if c < 2 or len(people) < 2 or len(cell) <= c:
        return pd.DataFrame(columns=columns)
    seen = np.zeros((len(cell), len(people), len(layout.descriptors)), bool)
    marks = np.zeros(seen.shape)
    for column, (g, who) in enumerate(zip(layout.group, layout.taster, strict=True)):
        lots, at = layout.lot_group == g, np.searchsorted(people, who)
        seen[lots, at], marks[lots, at] = looks[lots, column] > 0, cell[lots, column]
    rows = []
    for d, name in enumerate(layout.descriptors):
        whole = seen[..., d].all(axis=0)
        rows.append((name, c, *_quasi_f(marks[:, whole, d], layout.lot_group)))
    table = pd.DataFrame(rows, columns=columns[:-1])
    return table.assign(p=fdtrc(*table[["df", "df_error", "statistic"]].to_numpy(float).T))


def _quasi_f(y: np.ndarray, group: np.ndarray) -> tuple[float, float, float]:
    """Degrees of freedom and quasi-F of the groups of rows; `y` is (lot, taster). NaN where nothing is left to test."""
    lots, tasters = y.shape
    if tasters < 2:
        return (np.nan,) * 3
    member = (group[:, None] == np.unique(group)).astype(float)
    of_class = member @ (member.T @ y / member.sum(axis=0)[:, None])  # each lot's class, taster by taster
    lot, taster = y.mean(axis=1, keepdims=True), y.mean(axis=0)
    kind = of_class.mean(axis=1, keepdims=True)
    parts = [(kind - y.mean()), lot - kind, of_class - kind - taster + y.mean(), y - lot - of_class + kind]
    groups = member.shape[1]
    df = np.array([groups - 1, lots - groups, (groups - 1) * (tasters - 1), (lots - groups) * (tasters - 1)])
    sums = np.array([(np.broadcast_to(part, y.shape) ** 2).sum() for part in parts])
    sums[sums <= ROUNDING * y.size * np.ptp(y) ** 2] = 0.0  # rounding is no variation
    class_, lot_, crossed, rest = sums / df
    over, under = class_ + rest, lot_ + crossed
    if not under > 0:
        return (np.nan,) * 3
    df_over = over**2 / (class_**2 / df[0] + rest**2 / df[3]) if over > 0 else float(df[0])
    return df_over, under**2 / (lot_**2 / df[1] + crossed**2 / df[2]), over / under
