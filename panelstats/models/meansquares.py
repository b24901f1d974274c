"""Mean squares of complete data, and the REML solution that they give in closed form.

Lot, taster, lot:taster, pot within lot, error: a crossed layout in which every taster scores every pot of every lot.
When a variance component would be negative, REML within its bounds pools the mean squares that are out of order
(Thompson 1962, Ann. Math. Stat. 33:273; Robertson, Wright & Dykstra 1988, Order Restricted Statistical Inference).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from panelstats.models.reml import LOT, LOT_POT, LOT_TASTER, RESIDUAL, TASTER


@dataclass(frozen=True, eq=False)
class MeanSquares:
    """Mean squares and degrees of freedom of complete data, shape (D,) each; NaN where there is no such line.

    Attributes
    ----------
    lot, taster, lot_taster, pot, error : ndarray
        For own pots `pot` is NaN and `error` is the mean square within cells; without replicates `error` is NaN and
        `lot_taster` is the residual.
    df : dict of str to int
        Degrees of freedom by the same names.
    lots, tasters, pots : int
        Sizes of the layout; `pots` counts scores per cell.
    """

    lot: np.ndarray
    taster: np.ndarray
    lot_taster: np.ndarray
    pot: np.ndarray
    error: np.ndarray
    df: dict[str, int]
    lots: int
    tasters: int
    pots: int


def mean_squares(
    scores: np.ndarray, *, shared: bool, within_ss: np.ndarray | None = None, looks: int = 1
) -> MeanSquares:
    """Mean squares of a complete layout.

    Parameters
    ----------
    scores : ndarray, shape (lot, taster, pot, descriptor)
        One mean per taster and brew.
    shared : bool
        Whether pots are shared by the tasters.
    within_ss : ndarray, shape (descriptor,), optional
        Sum of squares of looks within those means.
    looks : int
        Looks behind each mean, the same everywhere.

    Returns
    -------
    MeanSquares

    Notes
    -----
    All sums of squares are taken from deviations. Textbook two-way analysis of variance.
    """
    lots, tasters, brews, d = scores.shape
    r = brews * looks
    centred = scores - scores.mean(axis=(0, 1, 2))
    cell, lot, taster = centred.mean(axis=2), centred.mean(axis=(1, 2)), centred.mean(axis=(0, 2))
    interaction = cell - lot[:, None] - taster[None]
    inside = centred - cell[:, :, None]
    extra = np.zeros(d) if within_ss is None else within_ss
    within = looks * (inside**2).sum(axis=(0, 1, 2)) + extra
    pot = inside.mean(axis=1)  # (lot, pot, descriptor)
    ss_pot = looks * tasters * (pot**2).sum(axis=(0, 1)) if shared else np.zeros(d)
    df = {
        "lot": lots - 1,
        "taster": tasters - 1,
        "lot_taster": (lots - 1) * (tasters - 1),
        "pot": lots * (brews - 1) if shared else 0,
    }
    df["error"] = lots * tasters * (r - 1) - df["pot"]
    squares = {
        "lot": r * tasters * (lot**2).sum(axis=0),
        "taster": r * lots * (taster**2).sum(axis=0),
        "lot_taster": r * (interaction**2).sum(axis=(0, 1)),
        "pot": ss_pot,
        "error": within - ss_pot,
    }
    lines = {name: ss / df[name] if df[name] else np.full(d, np.nan) for name, ss in squares.items()}
    return MeanSquares(**lines, df=df, lots=lots, tasters=tasters, pots=r)


def lot_ratio(ms: MeanSquares) -> tuple[np.ndarray, np.ndarray]:
    """Lot mean square over its error and the error's df; with shared pots the error is pot + lot:taster - error."""
    with np.errstate(divide="ignore", invalid="ignore"):
        if not ms.df["pot"]:
            return ms.lot / ms.lot_taster, np.full(len(ms.lot), float(ms.df["lot_taster"]))
        error = ms.pot + ms.lot_taster - ms.error
        parts = sum(getattr(ms, line) ** 2 / ms.df[line] for line in ("pot", "lot_taster", "error"))
        usable = error > 0
        return np.where(usable, ms.lot / error, np.nan), np.where(usable, error**2 / parts, np.nan)


def variances(ms: MeanSquares) -> np.ndarray:
    """REML variances of complete data in closed form, negative ones pooled away.

    Parameters
    ----------
    ms : MeanSquares
        At least two lots and two tasters; with `pot`, `error` must have degrees of freedom.

    Returns
    -------
    ndarray, shape (D, 5)
        In the order of `reml.SOURCES`; the lot variance is 0 (lots fixed).
    """
    out = np.zeros((len(ms.lot), 5))
    for d in range(len(out)):
        lines = {
            name: (float(getattr(ms, name)[d]), float(df)) for name, df in ms.df.items() if df > 0 and name != "lot"
        }
        value = _pooled(lines)
        bottom = value.get("error", value["lot_taster"])
        out[d, RESIDUAL] = bottom
        out[d, TASTER] = (value["taster"] - value["lot_taster"]) / (ms.pots * ms.lots)
        if "error" in value:
            out[d, LOT_TASTER] = (value["lot_taster"] - bottom) / ms.pots
        if "pot" in value:
            out[d, LOT_POT] = (value["pot"] - bottom) / ms.tasters
    out[:, LOT] = 0.0
    return np.maximum(out, 0.0)  # pooled lines are equal up to rounding


def _pooled(lines: dict[str, tuple[float, float]]) -> dict[str, float]:
    """Mean squares in their order error <= pot, error <= lot:taster <= taster, violators pooled by df."""
    group = {name: {name} for name in lines}
    mean = dict(lines)

    def pool(one: str, two: str) -> None:
        members = group[one] | group[two]
        df = sum(lines[m][1] for m in members)
        merged = (sum(lines[m][0] * lines[m][1] for m in members) / df, df)
        for member in members:
            group[member], mean[member] = members, merged

    if mean["lot_taster"][0] > mean["taster"][0]:
        pool("lot_taster", "taster")
    while "error" in lines:
        above = [name for name in ("pot", "lot_taster") if name in lines and name not in group["error"]]
        below = min(above, key=lambda name: mean[name][0], default=None)
        if below is None or mean[below][0] >= mean["error"][0]:
            break
        pool(below, "error")
    if "error" in group["lot_taster"] and mean["taster"][0] < mean["lot_taster"][0]:
        pool("lot_taster", "taster")
    return {name: value for name, (value, _) in mean.items()}


def ratio(top: np.ndarray | float, bottom: np.ndarray | float) -> np.ndarray:
    """`top` / `bottom`, NaN where the bottom is not above 0."""
    above, below = np.broadcast_arrays(np.asarray(top, float), np.asarray(bottom, float))
    return np.divide(above, below, out=np.full(above.shape, np.nan), where=below > 0)
