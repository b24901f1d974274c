"""Every lot less the standard, descriptor by descriptor, with the error of the panel's own model."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtr

from panelstats.lots.classfit import ClassFit, class_fits
from panelstats.models.distance import distance
from panelstats.models.estimable import NO_DF
from panelstats.models.multiplicity import holm
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, SESSION
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.scores.cells import Cells

DIFFERENCE, SE, DF, P, P_ADJUSTED, REASON = "difference", "se", "df", "p", "p_adjusted", "reason"
BREWS, LOOKS_BEHIND = "brews", "looks_behind"
_ROW = [SESSION, LOT, DESCRIPTOR, DIFFERENCE, SE, DF, BREWS, LOOKS_BEHIND, REASON]
NOT_BOTH = Phrase("not scored beside the standard")


@dataclass(frozen=True, eq=False)
class Beside:
    """Lots less the standard.

    Attributes
    ----------
    rows : DataFrame
        session, lot, descriptor, difference, se, df, brews (pots of the lot or of the standard, whichever are fewer; 0
        where pots are not shared), reason (why there is no difference), p, p_adjusted (Holm over the descriptors of a
        session and lot).
    groups : dict of str to ClassFit
        The fit of each session.
    """

    rows: pd.DataFrame
    groups: dict[str, ClassFit]


def beside_standard(cells: Cells, standard: str, lots: Sequence[str], *, level: float) -> Beside:
    """Fit each session in which the standard was tasted, and take the differences from it.

    Parameters
    ----------
    cells : Cells
    standard : str
    lots : sequence of str
        Lots to hold against it; lots of its class help to know the error.
    level : float in (0, 1)
        Kept with the fits.
    """
    groups, rows = {}, []
    for group in class_fits(_beside(cells, standard, lots), tolerance=None, across="none", level=level):
        if standard not in group.grid.lots:
            continue
        groups[group.grid.session] = group
        present = [lot for lot in lots if lot in group.grid.lots]
        for d in range(len(group.grid.descriptors)):
            rows += _differences(group, d, standard, present)
    table = pd.DataFrame(rows, columns=_ROW).astype({DIFFERENCE: float, SE: float, DF: float})
    table[P] = 2 * stdtr(table[DF], -(table[DIFFERENCE] / table[SE]).abs())
    table[P_ADJUSTED] = table.groupby([SESSION, LOT], sort=False)[P].transform(lambda p: holm(p.to_numpy()))
    return Beside(table, groups)


def _beside(cells: Cells, standard: str, lots: Sequence[str]) -> Cells:
    """The cells of the standard, of its class and of the lots asked for, as one class."""
    register = cells.lots
    own = register.loc[register[LOT].astype(str) == standard, CLASS].iloc[0]
    keep = set(register.loc[register[CLASS] == own, LOT].astype(str)) | set(lots) | {standard}
    frame = cells.frame[cells.frame[LOT].astype(str).isin(keep)]
    return replace(cells, frame=frame, lots=register.assign(**{CLASS: own}), _memo={})


def _differences(group: ClassFit, d: int, standard: str, lots: Sequence[str]) -> list[tuple[object, ...]]:
    grid, fit = group.grid, group.of(d)
    name = str(grid.descriptors[d])
    nothing = (np.nan, np.nan, np.nan, 0, np.nan)
    if fit is None:
        return [(grid.session, lot, name, *nothing, group.state(d)) for lot in lots]
    at = {str(lot): place for place, lot in enumerate(grid.lots[fit.lots])}
    both = [lot for lot in lots if lot in at and standard in at]
    out: list[tuple[object, ...]] = [(grid.session, lot, name, *nothing, NOT_BOTH) for lot in lots if lot not in both]
    if both:
        found = fit.pairs(np.array([at[lot] for lot in both]), np.full(len(both), at[standard]))
        for lot, *numbers in zip(both, found.estimate, found.se, found.df, strict=True):
            behind = _brews(group, d, lot, standard), _looks(group, d, lot, standard)
            out.append((grid.session, lot, name, *numbers, *behind, NO_DF if np.isnan(numbers[-1]) else ""))
    return out


def _brews(group: ClassFit, d: int, lot: str, standard: str) -> int:
    """Shared pots behind the difference, one where all tasted one brew; 0 where every taster had his own."""
    if group.one_brew(d) and not group.part(d).shared:
        return 1
    if not group.part(d).shared:
        return 0
    brewed = (group.grid.looks[..., d].sum(axis=1) > 0).sum(axis=1)
    return int(min(brewed[group.grid.lots == name][0] for name in (lot, standard)))


def _looks(group: ClassFit, d: int, lot: str, standard: str) -> float:
    """Looks behind the difference: harmonic mean of those at the lot and at the standard."""
    looks = group.grid.looks[..., d].sum(axis=(1, 2))
    one, other = (float(looks[group.grid.lots == name][0]) for name in (lot, standard))
    return 2 / (1 / one + 1 / other)


def over_all(found: Beside, mine: pd.DataFrame, standard: str, level: float) -> tuple[float, float, float]:
    """Distance from the standard over the rows of one lot of a session, with its interval; NaN without any error."""
    known = mine[mine[SE] > 0]
    if known.empty:
        return (np.nan,) * 3
    session, lot = (str(known[name].iloc[0]) for name in (SESSION, LOT))
    correlation, known_df = error_correlation(found.groups[session], known[DESCRIPTOR].tolist(), lot, standard)
    apart, se, df = (known[name].to_numpy(float) for name in (DIFFERENCE, SE, DF))
    return distance(apart, se, df, correlation, level=level, correlation_df=known_df)


def error_correlation(group: ClassFit, descriptors: Sequence[str], lot: str, standard: str) -> tuple[np.ndarray, float]:
    """Correlation of the errors of the differences between descriptors, from tasters' own differences, and its df.

    With fewer than three tasters who judged everything it is unknown and taken as 1 throughout, the careful choice.
    """
    grid = group.grid
    looks, mean, _ = grid.over_brews()
    which = [int(np.flatnonzero(grid.descriptors == name)[0]) for name in descriptors]
    one, other = (np.flatnonzero(grid.lots == name)[0] for name in (lot, standard))
    seen = ((looks[one][:, which] > 0) & (looks[other][:, which] > 0)).all(axis=1)
    apart = (mean[one] - mean[other])[seen][:, which]
    if len(apart) < 3:
        return np.ones((len(which), len(which))), np.inf
    apart = apart - apart.mean(axis=0)
    spread = np.sqrt((apart**2).sum(axis=0))
    scaled = apart / np.where(spread > 0, spread, 1.0)
    correlation = scaled.T @ scaled
    np.fill_diagonal(correlation, 1.0)
    return correlation, len(apart) - 1.0
