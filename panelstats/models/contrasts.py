"""Contrasts as every model of lots gives them: their errors, degrees of freedom, intervals; and the test of several."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc, stdtr, stdtrit

if TYPE_CHECKING:
    from collections.abc import Sequence


@dataclass(frozen=True, eq=False)
class Contrasts:
    """Contrasts, each with its standard error and Satterthwaite degrees of freedom, shape (K,) each."""

    estimate: np.ndarray
    se: np.ndarray
    df: np.ndarray

    @property
    def t(self) -> np.ndarray:
        """Each in standard errors; NaN where there is no error."""
        return np.divide(self.estimate, self.se, out=np.full(self.se.shape, np.nan), where=self.se > 0)

    @property
    def p(self) -> np.ndarray:
        """Two-sided, of each being 0."""
        return np.asarray(2 * stdtr(self.df, -np.abs(self.t)))

    def reach(self, level: float) -> np.ndarray:
        """Half the width of the interval of each by itself."""
        distinct, where = np.unique(self.df, return_inverse=True)  # lots of one incidence share theirs
        return np.asarray(stdtrit(distinct, (1 + level) / 2))[where] * self.se

    def columns(self, name: str, reach: np.ndarray) -> dict[str, np.ndarray]:
        """Columns of a table: the estimates by that name, their errors, and intervals of that half width."""
        around = {"low": self.estimate - reach, "high": self.estimate + reach}
        return {name: self.estimate, "se": self.se, "df": self.df, **around}

    @staticmethod
    def joined(parts: Sequence[Contrasts]) -> Contrasts:
        """Several families in a row."""
        return Contrasts(*map(np.concatenate, zip(*((one.estimate, one.se, one.df) for one in parts), strict=True)))


@dataclass(frozen=True)
class JointTest:
    """F test that several contrasts are all 0; NaN where there is nothing to test, or to test against."""

    statistic: float
    df: float
    df_error: float

    @property
    def p(self) -> float:
        """Chance of as large a statistic."""
        return float(fdtrc(self.df, self.df_error, self.statistic))

    @property
    def columns(self) -> dict[str, float]:
        """Columns of a table."""
        return {"statistic": self.statistic, "df": self.df, "df_error": self.df_error, "p": self.p}
