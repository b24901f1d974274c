"""What a search for recipes starts from: the lots' and the standard's means, and how far they may be off."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.errors import DesignError
from panelstats.lots.plaintables import by_name, senior_marks, tolerances
from panelstats.models.additive import fit_additive
from panelstats.scores.cells import DESCRIPTOR, LOT, ROLE, SESSION, STAGE, TASTER

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.cells import Cells

LIQUOR = "liquor"
# What is allowed where the room declares nothing, as a share of the range seen (ours).
ALLOWED = 0.05


@dataclass(frozen=True, eq=False)
class Profiles:
    """Lots and standard of one session.

    Attributes
    ----------
    session : str
    lots, words : list of str
    mean : ndarray, shape (lot, word)
        Of the lots that may be mixed.
    standard : ndarray, shape (word,)
    error : ndarray, shape (word, word)
        Covariance of what tasters disagree by on one lot, pots averaged.
    tasters : ndarray, shape (lot + 1,)
        Of each lot, the standard last.
    allowed : ndarray, shape (word,)
    stages : bool
        Whether only words of the liquor were taken.
    """

    session: str
    lots: list[str]
    words: list[str]
    mean: np.ndarray
    standard: np.ndarray
    error: np.ndarray
    tasters: np.ndarray
    allowed: np.ndarray
    stages: bool

    def drawn(self, rng: np.random.Generator, draws: int) -> tuple[np.ndarray, np.ndarray]:
        """Draws of lot means (draw, lot, word) and of the standard (draw, word)."""
        values, vectors = np.linalg.eigh(self.error)
        root = vectors * np.sqrt(np.maximum(values, 0.0))
        noise = rng.standard_normal((draws, len(self.tasters), len(self.words))) @ root.T
        noise /= np.sqrt(self.tasters)[:, None]
        return self.mean + noise[:, :-1], self.standard + noise[:, -1]


def profiles(cells: Cells, standard: str, stock: list[str], tolerance: float | Mapping[str, float] | None) -> Profiles:
    """Gather one session's lot means.

    Raises
    ------
    DesignError
        The standard shares no session with two lots of the stock, or no word with them.
    """
    plain = senior_marks(cells)
    session = _session(cells, plain, standard, stock)
    mine = plain[(plain[SESSION] == session) & plain[LOT].isin([*stock, standard])]
    register = by_name(cells.descriptors, DESCRIPTOR)
    liquor = [name for name in register.index if register.loc[name, STAGE] == LIQUOR]
    met = [name for name in (liquor or list(register.index)) if name in set(mine[DESCRIPTOR])]
    lots = [lot for lot in stock if lot in set(mine[LOT])]
    table = mine.pivot_table(index=LOT, columns=[TASTER, DESCRIPTOR], values="score", aggfunc="mean")
    tasters = list(dict.fromkeys(mine[TASTER]))
    full = pd.MultiIndex.from_product([tasters, met])
    marks = (
        table.reindex(index=[*lots, standard], columns=full).to_numpy().reshape(len(lots) + 1, len(tasters), len(met))
    )
    seen = np.isfinite(marks)
    whole = seen.any(axis=1).all(axis=0)
    words = [name for name, ok in zip(met, whole, strict=True) if ok]
    if not words:
        raise DesignError("nothing to mix by", where=f"session {session}, standard {standard}",
                          do="score the standard and the stock on the same words in one session")  # fmt: skip
    fit = fit_additive(marks[..., whole], seen[..., whole])
    df = max(float(np.mean(fit.df)), 1.0)
    error = np.einsum("ltd,lte->de", fit.residual, fit.residual) / df
    return Profiles(
        session=session,
        lots=lots,
        words=words,
        mean=fit.row[:-1],
        standard=fit.row[-1],
        error=error,
        tasters=np.maximum(seen[..., whole].any(axis=2).sum(axis=1), 1),
        allowed=_allowed(tolerances(cells.descriptors, tolerance), words, mine),
        stages=bool(liquor),
    )


def _session(cells: Cells, plain: pd.DataFrame, standard: str, stock: list[str]) -> str:
    """The last session that has the standard and two lots of the stock."""
    for name in reversed([str(each) for each in cells.sessions[SESSION]]):
        here = set(plain.loc[plain[SESSION] == name, LOT])
        if standard in here and len(here & set(stock)) > 1:
            return name
    raise DesignError("the standard was not tasted beside the stock", where=f"standard {standard!r}",
                      do="taste it in one session with two or more lots of the stock")  # fmt: skip


def _allowed(known: pd.Series, words: list[str], mine: pd.DataFrame) -> np.ndarray:
    """What is asked for or declared; where nothing is, a share of the range seen."""
    sizes = known.loc[words].to_numpy()
    span = mine.groupby(DESCRIPTOR)["score"].agg(np.ptp).loc[words].to_numpy(float)
    return np.where(sizes > 0, sizes, np.maximum(ALLOWED * span, 1e-9))


def stock_lots(cells: Cells, standard: str) -> list[str]:
    """The lots that may be mixed where nobody says: all but controls, standards and trials."""
    register = cells.lots.astype({LOT: str})
    return [lot for lot, role in zip(register[LOT], register[ROLE], strict=True) if not role and lot != standard]
