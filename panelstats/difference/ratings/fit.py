"""Difference from control by ratings: how far samples are said to lie from a labelled control, against a blind one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import pandas as pd
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri
from scipy.stats import chi2
from scipy.stats import t as student

from panelstats.arguments import checked, size, text
from panelstats.difference.counts.exact import TIES
from panelstats.difference.counts.reading import CANNOT_TELL, DIFFER, MATCH
from panelstats.difference.counts.words import p_text, rate
from panelstats.difference.ratings.ordinal import ordinal_fit
from panelstats.errors import DesignError, SheetError
from panelstats.result import Act, Chart, Result, Verdict, chart_rows, in_order, mark_by_call, of_descriptor
from panelstats.words import interval, number

TASTER, SAMPLE, RATING = "taster", "sample", "rating"
_COLUMNS = ["tasters", "difference", "se", "df", "low", "high", "p", "p_match", "call"]
_POINTS, _SLICES = 64, 128


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class RatedDifference(Result):
    """How far samples are rated from the blind control.

    Attributes
    ----------
    table : DataFrame
        sample, tasters, difference (rating points above the blind control), se, df, low, high (one-sided limits that
        hold for all samples together, at the two error rates), p, p_match (NaN without a tolerance), call.
    d_primes : DataFrame
        sample, d, low, high (95 %), statistic, p, merged: ordered categories, all ratings taken as independent.
    """

    table: pd.DataFrame
    d_primes: pd.DataFrame

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each sample: how much further off it is rated than the blind control."""
        table = of_descriptor(self.table, descriptor)
        pairs = zip(table["call"], table["difference"], strict=True)
        marks = [mark_by_call(*pair, within={MATCH}, outside={DIFFER}) for pair in pairs]
        numbers = {"value": table["difference"], "low": table["low"], "high": table["high"]}
        rows = chart_rows(table[SAMPLE], marks=marks, notes=table["call"], **numbers)
        words = "each limit holds for all samples together: the lower for a difference, the upper for a match"
        return Chart("Rated apart from the blind control", "rating points above the blind control", rows, words, 0.0)


@checked(control=text, tolerance=size)
def difference_from_control(
    ratings: pd.DataFrame,
    *,
    control: str,
    tolerance: float | None = None,
    error: float = 0.05,
    match_error: float = 0.05,
) -> RatedDifference:
    """Are samples rated further from a labelled control than the control itself, served blind?

    Parameters
    ----------
    ratings : DataFrame
        taster, sample, rating (0 = no distance seen, larger = further), a row per rating; NaN is a blank.
    control : str
        The sample that is the blind control. Ratings are held against it, not against 0.
    tolerance : float, optional
        Largest difference in rating points that still is a match.
    error, match_error : float in (0, 1)
        Error rates of "differ" and of "match", over all samples together.

    Returns
    -------
    RatedDifference

    Raises
    ------
    DesignError
        The control was not rated, nothing else was, or the tolerance is not above 0.
    SheetError
        A rating is not a number from 0 up; the rows are named.

    Notes
    -----
    Additive model of tasters' mean ratings, taster + sample; error term taster by sample. One sample: the one-sided
    paired t test. Several: Dunnett's one-sided comparisons with the control (1955, JASA 50).

    Examples
    --------
    >>> import pandas as pd
    >>> ratings = pd.DataFrame({"taster": list("abcdef") * 2, "sample": ["blind"] * 6 + ["B1"] * 6,
    ...                         "rating": [1, 0, 2, 1, 0, 1, 3, 2, 3, 4, 2, 2]})
    >>> row = difference_from_control(ratings, control="blind").table.iloc[0]
    >>> row["call"], float(row["difference"].round(2)), int(row["df"])
    ('differ', 1.83, 5)
    """
    clean = _clean(ratings, control)
    table = _table(clean, control, tolerance, error, match_error)
    verdicts = [_verdict(row, tolerance, error, match_error) for _, row in table.iterrows()]
    return RatedDifference(
        table=table, d_primes=_d_primes(clean, control), verdicts=in_order(verdicts), method=_method(len(table))
    )


def _clean(ratings: pd.DataFrame, control: str) -> pd.DataFrame:
    missing = {TASTER, SAMPLE, RATING} - set(ratings.columns)
    if missing:
        raise SheetError("columns are missing", where=f"ratings: {sorted(ratings.columns.astype(str))}",
                         do=f"add {', '.join(sorted(missing))}")  # fmt: skip
    value = pd.to_numeric(ratings[RATING], errors="coerce")
    bad = (value.isna() & ratings[RATING].notna()) | (value < 0) | np.isinf(value)
    if bad.any():
        rows = ", ".join(f"row {row}: {ratings[RATING].loc[row]!r}" for row in ratings.index[bad][:20])
        raise SheetError(
            "ratings that are no numbers from 0 up", where=rows, do="correct them, or leave the cells empty"
        )
    clean = pd.DataFrame({TASTER: ratings[TASTER].astype(str), SAMPLE: ratings[SAMPLE].astype(str), RATING: value})
    clean = clean[value.notna()]
    if not (clean[SAMPLE] == control).any() or clean[SAMPLE].nunique() < 2:
        raise DesignError(
            "no blind control to compare with", where=f"control={control!r}, samples {sorted(set(clean[SAMPLE]))}",
            do="serve the control blind among the samples and name it",
        )  # fmt: skip
    return clean


def _table(
    clean: pd.DataFrame, control: str, tolerance: float | None, error: float, match_error: float
) -> pd.DataFrame:
    means = clean.pivot_table(index=SAMPLE, columns=TASTER, values=RATING, aggfunc="mean")
    samples = [sample for sample in means.index if sample != control]
    difference, se, df = _additive(means.loc[[control, *samples]].to_numpy())
    k = len(samples)
    with np.errstate(divide="ignore", invalid="ignore"):
        p = np.array([_beyond(t, df, k) for t in difference / se])
        near = np.full(k, np.nan)
        if tolerance is not None:
            near = np.array([_beyond(t, df, k) for t in (tolerance - difference) / se])
    low = difference - _critical(error, df, k) * se
    high = difference + _critical(match_error, df, k) * se
    call = np.where(near <= match_error * TIES, MATCH, np.where(p <= error * TIES, DIFFER, CANNOT_TELL))
    values = [
        means.loc[samples].notna().sum(axis=1).to_numpy(),
        difference,
        se,
        np.full(k, df),
        low,
        high,
        p,
        near,
        call,
    ]
    return pd.DataFrame({SAMPLE: samples, **dict(zip(_COLUMNS, values, strict=True))})


def _additive(means: np.ndarray) -> tuple[np.ndarray, np.ndarray, int]:
    """Differences from the first sample, standard errors and df: taster + sample by least squares, blanks left out."""
    sample, taster = np.nonzero(~np.isnan(means))
    design = np.hstack([np.eye(means.shape[1])[taster], np.eye(means.shape[0])[sample][:, 1:]])
    effect, _, rank, _ = np.linalg.lstsq(design, means[sample, taster], rcond=None)
    left = means[sample, taster] - design @ effect
    df = len(left) - int(rank)
    k = means.shape[0] - 1
    if df < 1:
        return effect[-k:], np.full(k, np.nan), 0
    scale = np.diag(np.linalg.pinv(design.T @ design))[-k:]
    spread = float(left @ left) / df
    return effect[-k:], np.sqrt(scale * spread) if spread > 1e-20 else np.full(k, np.nan), df


def _beyond(t: float, df: int, k: int) -> float:
    """P(the largest of k differences from one control reaches t): Dunnett, one-sided; 1 where t is unknown."""
    if np.isnan(t) or df < 1:
        return 1.0
    if k == 1:
        return float(student.sf(t, df))
    z, weight, scale, share = _nodes(df)
    inside = ndtr(np.sqrt(2) * t * scale[:, None] + z) ** k
    return float(max(0.0, 1 - share @ inside @ weight))


@lru_cache(maxsize=32)
def _nodes(df: int) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Nodes and weights over the control's error (normal) and the estimated error (chi over root df)."""
    z, weight = np.polynomial.hermite_e.hermegauss(_POINTS)
    chance, share = np.polynomial.legendre.leggauss(_SLICES)
    return z, weight / weight.sum(), np.sqrt(chi2.ppf((chance + 1) / 2, df) / df), share / 2


@lru_cache(maxsize=128)
def _critical(error: float, df: int, k: int) -> float:
    if df < 1:
        return float("nan")
    if k == 1:
        return float(student.isf(error, df))
    return float(brentq(lambda t: _beyond(t, df, k) - error, -10, float(student.isf(error / k, df)) + 5, xtol=1e-8))


def _d_primes(clean: pd.DataFrame, control: str) -> pd.DataFrame:
    """D' of each sample by ordered categories; not for ratings between the whole points."""
    if (clean[RATING] != np.floor(clean[RATING])).any():
        return pd.DataFrame(columns=[SAMPLE, "d", "low", "high", "statistic", "p", "merged"])
    counts = pd.crosstab(clean[SAMPLE], clean[RATING].astype(int))
    counts = counts.reindex(columns=range(int(clean[RATING].max()) + 1), fill_value=0)
    rows = [
        {SAMPLE: sample} | ordinal_fit(counts.loc[control].to_numpy(), counts.loc[sample].to_numpy())
        for sample in counts.index
        if sample != control
    ]
    return pd.DataFrame(rows)[[SAMPLE, "d", "low", "high", "statistic", "p", "merged"]]


def _verdict(row: pd.Series, tolerance: float | None, error: float, match_error: float) -> Verdict:
    size = f"rated {number(row['difference'], 2, sign=True)} points from the blind control"
    limits = f"({interval(row['low'], row['high'], 2, sign=True)}, {row['df']:.0f} df)"
    who = f"{row[SAMPLE]}, {row['tasters']:.0f} tasters: {size} {limits}"
    says = {
        DIFFER: f"it differs ({p_text(row['p'])}; samples nobody can tell apart get this verdict in at most "
        f"{rate(error)} of tests).",
        MATCH: f"it matches within the stated tolerance of {tolerance} points (a sample at the tolerance gets this "
        f"verdict in at most {rate(match_error)} of tests).",
        CANNOT_TELL: f"cannot tell ({p_text(row['p'])} for a difference).",
    }[row["call"]]
    return Verdict(
        question="Is it rated further off than the blind control?",
        subject=str(row[SAMPLE]),
        call=str(row["call"]),
        sentence=f"{who}: {says}",
        numbers={name: float(row[name]) for name in ("difference", "low", "high", "p")},
        next_step=_next(row, tolerance, min(error, match_error)) if row["call"] == CANNOT_TELL else "",
        act={DIFFER: Act.DECIDE, MATCH: Act.KNOW, CANNOT_TELL: Act.TASTE_AGAIN}[row["call"]],
    )


def _next(row: pd.Series, tolerance: float | None, error: float) -> str:
    if np.isnan(row["se"]):
        return "The ratings leave no error to judge by: have more tasters rate both, each more than once."
    size = tolerance if tolerance is not None else 1.0
    spread = row["se"] * np.sqrt(row["tasters"])
    n = int(np.ceil(((ndtri(1 - error) + ndtri(0.8)) * spread / size) ** 2)) + 2
    proof = "" if tolerance is not None else " This is no proof of a match: that needs a tolerance."
    return f"About {n} tasters in a fresh test would settle {size:g} points in 8 cases of 10.{proof}"


def _method(samples: int) -> str:
    several = "Dunnett's one-sided comparisons with the blind control" if samples > 1 else "one-sided paired t test"
    return (
        f"Tasters' mean ratings, additive in taster and sample, error term taster by sample; {several}. Limits are "
        "one-sided, the lower at the error rate of a difference, the upper at that of a match, and hold for all "
        "samples together. d': ordered categories of the distance between two percepts, each rating independent."
    )
