"""What a plan can prove before anyone tastes, and what one more taster, pot or look would buy, in cups."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import chdtri, nctdtrinc, ndtri, stdtrit

from panelstats.errors import DesignError
from panelstats.plan.session import words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.plan.session.request import Request

PARTS = ("pot", "taster_lot", "look")
PROOF = ("change", "class", "descriptor", "brews", "cups", "half_width", "least_80", "least_95")
POWERS = (0.8, 0.95)
MORE = ("as planned", "one more taster", "one more pot of each lot", "one more look at each cup")
_KNOWN_TASTERS = 3  # rows of the room's record: one to three tasters


@dataclass(frozen=True)
class Looks:
    """Numbers that the variance of a lot rests on.

    Attributes
    ----------
    lots, tasters, pots, looks : int
        Lots; tasters of each; pots of each (own cups: of each taster); looks at each cup.
    shared : bool
        One brew for all tasters.
    """

    lots: int
    tasters: int
    pots: int
    looks: int
    shared: bool

    @property
    def brews(self) -> int:
        """Pots brewed."""
        return self.lots * self.pots * (1 if self.shared else self.tasters)

    @property
    def cups(self) -> int:
        """Cups tasted."""
        return self.lots * self.pots * self.tasters * self.looks

    def variance(self, pot: np.ndarray, taster_lot: np.ndarray, look: np.ndarray) -> np.ndarray:
        """Variance of a lot's mean."""
        brews = self.pots * (1 if self.shared else self.tasters)
        return pot / brews + taster_lot / self.tasters + look / (self.tasters * self.pots * self.looks)

    def more(self) -> list[Looks]:
        """As planned, then one more taster, pot, look."""
        return [self, replace(self, tasters=self.tasters + 1), replace(self, pots=self.pots + 1),
                replace(self, looks=self.looks + 1)]  # fmt: skip


def least_differences(variances: pd.DataFrame, looks: Looks, efficiency: float, level: float) -> pd.DataFrame:
    """Half-width of a difference of two lots, and the least difference found with 80 % and 95 % power.

    Parameters
    ----------
    variances : DataFrame
        class, descriptor, pot, taster_lot, look (points squared), df (infinite where they are stated as known).
    looks : Looks
    efficiency : float
        Of the plan: variances of differences are divided by it.
    level : float in (0, 1)
        Of the interval, and one less the error of the test.

    Notes
    -----
    Two lots named beforehand, tested two-sided; noncentral t with the degrees of freedom of the variances.
    """
    rows = []
    parts = [variances[part].to_numpy(float) for part in PARTS]
    df = variances["df"].to_numpy(float)
    for what, numbers in zip(MORE, looks.more(), strict=True):
        se = np.sqrt(2 * numbers.variance(*parts) / efficiency)
        told = {f"least_{power * 100:.0f}": se * noncentrality(df, level, power) for power in POWERS}
        told["half_width"] = se * _reach(df, level)
        told |= {"brews": numbers.brews - looks.brews, "cups": numbers.cups - looks.cups}
        rows.append(variances[["class", "descriptor"]].assign(change=what, **told))
    return pd.concat(rows, ignore_index=True)[list(PROOF)]


def _reach(df: np.ndarray, level: float) -> np.ndarray:
    end = (1 + level) / 2
    return np.where(np.isinf(df), ndtri(end), stdtrit(np.where(np.isinf(df), 1e6, df), end))


def noncentrality(df: np.ndarray, level: float, power: float) -> np.ndarray:
    """Least difference, in standard errors, that a two-sided t test finds with this power.

    Examples
    --------
    >>> noncentrality(np.array([np.inf, 10.0]), 0.95, 0.8).round(2).tolist()
    [2.8, 3.11]
    """
    reach = _reach(df, level)
    few = nctdtrinc(np.where(np.isinf(df), 1e3, df), 1 - power, reach)
    return np.where(df >= 1e3, reach + ndtri(power), few)


def sd_factors(df: float) -> tuple[float, float]:
    """Factors between which a standard deviation is known, 19 times in 20.

    Examples
    --------
    >>> [round(each, 2) for each in sd_factors(10)]
    [0.7, 1.75]
    """
    low, high = np.sqrt(df / chdtri(df, [0.025, 0.975])).tolist()
    return low, high


def stated_variances(variances: Mapping[str, float]) -> pd.DataFrame:
    """Variances a reader states, of all descriptors alike.

    Raises
    ------
    DesignError
        A part that is none of pot, taster_lot and look, or a variance that is not 0 or more.
    """
    for part, size in variances.items():
        if part not in PARTS:
            raise DesignError("no such part of the error", where=f"variances={{{part!r}: ...}}",
                              do="use pot, taster_lot and look")  # fmt: skip
        if not isinstance(size, int | float) or isinstance(size, bool) or not 0 <= size < np.inf:
            raise DesignError("a variance is a number, 0 or more", where=f"variances={{{part!r}: {size!r}}}",
                              do="give it in points squared")  # fmt: skip
    if not any(variances.values()):
        raise DesignError("no variance is stated", where=f"variances={dict(variances)!r}", do="give one above 0")
    return pd.DataFrame([{"class": "", "descriptor": "", "df": np.inf, **{p: variances.get(p, 0.0) for p in PARTS}}])


def room_variances(record: pd.DataFrame, tasters: int) -> tuple[pd.DataFrame, bool]:
    """Variances of the room's record by class and descriptor, and whether every part of them is known.

    Parameters
    ----------
    record : DataFrame
        As `room_error` tells: class, descriptor, tasters, pot_sd, taster_lot_sd, look_sd, df, half_width.
    tasters : int
        Of the plan; the degrees of freedom are those of the row nearest to it.
    """
    mine = record[(record["tasters"] == min(tasters, _KNOWN_TASTERS)) & record["half_width"].notna()]
    sds = mine[[f"{part}_sd" for part in PARTS]]
    squares = (sds**2).fillna(0).set_axis(list(PARTS), axis=1)
    out = pd.concat([mine[["class", "descriptor", "df"]], squares], axis=1).reset_index(drop=True)
    return out, bool(sds.notna().all(axis=None))


def variances_of(
    asked: Request, error: object, variances: Mapping[str, float] | None
) -> tuple[pd.DataFrame | None, str, bool]:
    """Variances, where they come from, and whether every part is known."""
    if error is not None and variances is not None:
        raise DesignError("two sources of the error", where="error=..., variances=...", do="give one of them")
    if variances is not None:
        return stated_variances(variances), words.STATED, True
    if error is not None:
        table, whole = room_variances(error.table, len(asked.tasters))  # type: ignore[attr-defined]
        return table if len(table) else None, words.RECORD, whole
    return None, "", True


def no_proof() -> pd.DataFrame:
    """The proof of a plan without variances: nothing."""
    return pd.DataFrame(columns=list(PROOF))
