"""Tables of what went with a price: word by word, words beyond one another, lot by lot."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtr, stdtrit

from panelstats.lots.value import words
from panelstats.lots.value.priced import PRICE, STRATUM
from panelstats.models.errorfree import error_free_correlations, slopes_alone, slopes_together
from panelstats.models.foretelling import within
from panelstats.models.multiplicity import adjusted
from panelstats.scores.cells import DESCRIPTOR

if TYPE_CHECKING:
    from collections.abc import Sequence

    from panelstats.lots.value.priced import Priced
    from panelstats.models.errorfree import ErrorPart
    from panelstats.models.foretelling import Foretold

# Words whose error-free correlation reaches this speak as one (ours).
ALIKE = 0.7
# Beyond one another words are asked where the error has at least so many degrees of freedom a lot (ours).
LEAST_DF = 2
TOGETHER = ["descriptors", "slope", "low", "high", "df", "p", "p_adjusted", "call"]
_SLOPES = ["slope", "low", "high"]


def words_table(
    priced: Priced, y: np.ndarray, stratum: np.ndarray, found: Foretold | None, level: float
) -> pd.DataFrame:
    """Each word alone."""
    names = priced.descriptors
    table = pd.DataFrame({DESCRIPTOR: names})
    if found is None:
        return table.assign(correlation=np.nan, p_adjusted=np.nan, slope=np.nan, low=np.nan, high=np.nan, df=np.nan,
                            alike="", call=words.CANNOT_TELL)  # fmt: skip
    x, own = within(priced.x, stratum), within(y, stratum)
    slopes = slopes_alone(x, own, stratum, priced.error, level=level)
    flat = np.isnan(found.alone)
    shown = np.where(flat, False, found.alone_p <= 1 - level)
    alike = error_free_correlations(x, stratum, priced.error) >= ALIKE
    beside = [
        ", ".join(n for m, n in enumerate(names) if alike[k, m] and m != k and not flat[m]) for k in range(len(names))
    ]
    percents = [np.where(flat, np.nan, 100 * np.expm1(part)) for part in (slopes.slope, slopes.low, slopes.high)]
    return table.assign(
        correlation=found.alone, p_adjusted=found.alone_p, **dict(zip(_SLOPES, percents, strict=True)), df=slopes.df,
        alike=beside, call=np.where(flat, words.CANNOT_TELL, np.where(shown, words.GOES, words.NOT_SHOWN)),
    )  # fmt: skip


def together_table(priced: Priced, y: np.ndarray, stratum: np.ndarray, level: float, *, most: int) -> pd.DataFrame:
    """Words beyond the others, those that cannot be told apart as one; empty where the lots or the error do not do."""
    x = within(priced.x, stratum)
    some = np.asarray(x.any(axis=0)) if len(x) else np.zeros(len(priced.descriptors), bool)
    free = len(y) - len(np.unique(stratum))
    if not priced.error or not some.any() or most < 2 or _df(priced.error) < LEAST_DF * free:
        return pd.DataFrame(columns=TOGETHER)
    groups = _groups(error_free_correlations(x, stratum, priced.error), some)
    if not 2 <= len(groups) <= most:
        return pd.DataFrame(columns=TOGETHER)
    mix = np.zeros((x.shape[1], len(groups)))
    for at, group in enumerate(groups):
        mix[group, at] = 1 / len(group)
    error = [_mixed(part, mix) for part in priced.error]
    found = slopes_together(x @ mix, within(y, stratum), stratum, error, level=level)
    p = adjusted(found.p, "holm")
    names = [" and ".join(priced.descriptors[k] for k in group) for group in groups]
    percents = [100 * np.expm1(part) for part in (found.slope, found.low, found.high)]
    return pd.DataFrame({
        "descriptors": names, **dict(zip(_SLOPES, percents, strict=True)), "df": found.df, "p": found.p,
        "p_adjusted": p,
        "call": np.where(p <= 1 - level, words.BEYOND, words.CANNOT_TELL),
    })[TOGETHER]  # fmt: skip


def _df(error: Sequence[ErrorPart]) -> float:
    """Degrees of freedom of the whole error (Satterthwaite, over the sum of the columns' variances)."""
    sizes = np.array([np.trace(part.covariance()) for part in error])
    dfs = np.array([part.whole_df for part in error])
    return float(sizes.sum() ** 2 / max((sizes**2 / dfs).sum(), 1e-300))


def _groups(correlation: np.ndarray, some: np.ndarray) -> list[np.ndarray]:
    """Columns linked by correlations of `ALIKE` or more, each group by the place of its first."""
    linked = (correlation >= ALIKE) & some & some[:, None]
    for _ in range(len(linked).bit_length()):  # linked through others
        linked = linked | ((linked.astype(int) @ linked.astype(int)) > 0)
    first = np.where(some, linked.argmax(axis=1), -1)
    return [np.flatnonzero(first == each) for each in dict.fromkeys(first[some].tolist())]


def _mixed(part: ErrorPart, mix: np.ndarray) -> ErrorPart:
    return replace(part, squares=np.einsum("da,lde,eb->lab", mix, part.squares, mix, optimize=True),
                   whole=mix.T @ part.whole @ mix)  # fmt: skip


def lots_table(priced: Priced, y: np.ndarray, found: Foretold | None, level: float, *, carried: bool) -> pd.DataFrame:
    """Each lot against what the other lots' prices and its scores say."""
    table = priced.lots.drop(columns=STRATUM)
    blank = np.full(len(table), np.nan)
    if found is None or not carried:
        return table.assign(
            expected=blank, low=blank, high=blank, ratio=blank, p_adjusted=blank, call=words.CANNOT_TELL
        )
    left, df = found.left, max(found.df - 1, 1.0)
    others = np.sqrt(np.maximum((left**2).sum() - left**2, 0) / df)
    others = np.maximum(others, 1e-12)
    p = adjusted(2 * stdtr(df, -np.abs(left) / others), "holm")
    reach = stdtrit(df, (1 + level) / 2) * others
    expected = y - left
    calls = np.where(p <= 1 - level, np.where(left > 0, words.ABOVE, words.BELOW), words.AS_EXPECTED)
    table = table.assign(expected=np.exp(expected), low=np.exp(expected - reach), high=np.exp(expected + reach),
                         ratio=np.exp(left), p_adjusted=p, call=calls)  # fmt: skip
    return table.astype({PRICE: float})
