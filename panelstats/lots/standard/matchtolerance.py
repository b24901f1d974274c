"""How far from the standard still is a match, and who says so."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.scores.cells import (
    BREW,
    DESCRIPTOR,
    LOOKS,
    LOT,
    MEAN,
    ROLE,
    SESSION,
    SHARED,
    STAGE,
    TASTER,
    WITHIN_SS,
    Cells,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.table import Scores

YOURS, REGISTER, PAIRS, DEFAULT = "yours", "the register's", "hidden pairs of the standard", "the default"
TOLERANCE, TOLERANCE_FROM = "tolerance", "tolerance_from"
# Degrees of freedom from which hidden pairs of the standard set the tolerance (ours).
ENOUGH_PAIRS = 6
# Share of pairs of servings of the standard itself that lie within the tolerance they set (common practice).
WITHIN_PAIRS = 0.95


def tolerances(
    scores: Scores | Cells, cells: Cells, standard: str, asked: float | Mapping[str, float] | None
) -> pd.DataFrame:
    """Tolerance of every descriptor: yours, else the register's, else from hidden pairs, else the default.

    Parameters
    ----------
    scores : Scores or Cells
        As given to the analysis; only scores know what was declared.
    cells : Cells
        Their cells.
    standard : str
        The standard, whose own servings make the hidden pairs.
    asked : float or mapping of descriptor to float, optional

    Returns
    -------
    DataFrame
        tolerance (NaN where nobody says), tolerance_from; indexed by descriptor.
    """
    names = cells.descriptors[DESCRIPTOR].astype(str)
    out = pd.DataFrame({TOLERANCE: cells.descriptors[TOLERANCE].to_numpy(float), TOLERANCE_FROM: REGISTER}, index=names)
    out.loc[~_declared(scores, names), TOLERANCE_FROM] = DEFAULT
    pairs = from_pairs(cells, standard)
    for name in out.index[(out[TOLERANCE_FROM] == DEFAULT) & out.index.isin(pairs.index)]:
        out.loc[name, TOLERANCE], out.loc[name, TOLERANCE_FROM] = float(pairs[name]), PAIRS
    for name, size in _asked(asked, names).items():
        out.loc[name, TOLERANCE], out.loc[name, TOLERANCE_FROM] = size, YOURS
    return out


def _asked(asked: float | Mapping[str, float] | None, names: pd.Series) -> dict[str, float]:
    if asked is None:
        return {}
    return {name: float(asked) for name in names} if isinstance(asked, int | float) else dict(asked)


def _declared(scores: Scores | Cells, names: pd.Series) -> np.ndarray:
    """Whether a register declares the tolerance; cells no longer know, and are believed."""
    if isinstance(scores, Cells):
        return np.ones(len(names), bool)
    said = scores.scales[[DESCRIPTOR, "why"]].drop_duplicates(DESCRIPTOR).set_index(DESCRIPTOR)["why"]
    return np.array(["register" in str(said.get(name, "")) for name in names], bool)


def from_pairs(cells: Cells, standard: str) -> pd.Series:
    """Distance that two servings of the standard itself keep in 95 % of cases, by descriptor; only where df suffice.

    Pots of one session are pairs of the standard against itself: their panel means differ by pot and palate error.
    """
    frame = cells.select(role="senior").frame
    frame = frame[frame[LOT] == standard].astype({SESSION: str, DESCRIPTOR: str, TASTER: str})
    stage = cells.descriptors.set_index(DESCRIPTOR)[STAGE]
    words = cells.pots.set_index([SESSION, STAGE])["pots"]
    found = {}
    for name, rows in frame.groupby(DESCRIPTOR):
        shared = np.array([words.get((session, stage[name]), SHARED) == SHARED for session in rows[SESSION]])
        ss, df = _between_pots(rows[shared])
        own_ss, own_df = _within_tasters(rows[~shared])
        if df + own_df >= ENOUGH_PAIRS and ss + own_ss > 0:
            sd = np.sqrt(2 * (ss + own_ss) / (df + own_df))
            found[str(name)] = float(stdtrit(df + own_df, (1 + WITHIN_PAIRS) / 2) * sd)
    return pd.Series(found, dtype=float)


def _between_pots(rows: pd.DataFrame) -> tuple[float, int]:
    """Sum of squares between panel means of shared pots, sessions apart, and its degrees of freedom."""
    pots = rows.groupby([SESSION, BREW])[MEAN].mean()
    if pots.empty:
        return 0.0, 0
    sessions = pots.groupby(SESSION)
    return float(((pots - sessions.transform("mean")) ** 2).sum()), int(len(pots) - sessions.ngroups)


def _within_tasters(rows: pd.DataFrame) -> tuple[float, int]:
    """The same from own pots: variance within tasters, as it reaches the panel mean."""
    if rows.empty:
        return 0.0, 0
    df = int((rows[LOOKS] - 1).sum())
    tasters = rows[TASTER].nunique()
    return float(rows[WITHIN_SS].sum()) / tasters, df


def lots_asked(cells: Cells, standard: str) -> list[str]:
    """Lots held against the standard: the trials if there are any, else all others of its class."""
    lots = cells.lots.assign(**{LOT: cells.lots[LOT].astype(str)})
    trials = lots.loc[lots[ROLE] == "trial", LOT]
    if len(trials):
        return [lot for lot in trials if lot != standard]
    own_class = lots.loc[lots[LOT] == standard, "class"].iloc[0]
    alike = lots[(lots["class"] == own_class) & (lots[LOT] != standard) & (lots[ROLE] != "control")]
    return alike[LOT].tolist()
