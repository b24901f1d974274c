"""Difference from control by ratings: how far samples are said to lie from a labelled control, against a blind one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import size
from panelstats.arguments.wording import text
from panelstats.difference.counts.forced import CANNOT_TELL, DIFFER, MATCH
from panelstats.difference.counts.words import p_text
from panelstats.difference.ratings import words
from panelstats.errors import DesignError, SheetError
from panelstats.models.binomial import TIES, normal_number
from panelstats.models.manytoone import one_sided_p, one_sided_t
from panelstats.models.ordinal import ordinal_fit
from panelstats.result import Act, Chart, Result, Verdict, chart_rows, in_order, mark_by_call, of_descriptor
from panelstats.speech import Phrase
from panelstats.words import limit, number, stated, stated_percent

TASTER, SAMPLE, RATING = "taster", "sample", "rating"
_COLUMNS = ["tasters", "difference", "se", "df", "low", "high", "p", "p_match", "call"]


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
        words = Phrase("each limit holds for all samples together: the lower for a difference, the upper for a match")
        axis = Phrase("rating points above the blind control")
        return Chart(Phrase("Rated apart from the blind control"), axis, rows, words, 0.0)


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
    method = words.METHOD.format(test=words.SEVERAL if len(table) > 1 else words.ONE)
    return RatedDifference(table=table, d_primes=_d_primes(clean, control), verdicts=in_order(verdicts), method=method)


def _clean(ratings: pd.DataFrame, control: str) -> pd.DataFrame:
    missing = {TASTER, SAMPLE, RATING} - set(ratings.columns)
    if missing:
        raise SheetError("columns are missing", where=f"ratings: {sorted(ratings.columns.astype(str))}",
                         do=f"add {', '.join(sorted(missing))}")  # fmt: skip
    value = pd.to_numeric(ratings[RATING], errors="coerce")
    bad = (value.isna() & ratings[RATING].notna()) | (value < 0) | np.isinf(value)
    if bad.any():
        rows = ", ".join(f"row {row}: {ratings[RATING].loc[row]!r}" for row in ratings.index[bad][:20])
        raise SheetError("ratings that are no numbers from 0 up", where=rows,
                         do="correct them, or leave the cells empty")  # fmt: skip
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
        p = np.array([one_sided_p(t, df, k) for t in difference / se])
        near = np.full(k, np.nan)
        if tolerance is not None:
            near = np.array([one_sided_p(t, df, k) for t in (tolerance - difference) / se])
    low = difference - one_sided_t(error, df, k) * se
    high = difference + one_sided_t(match_error, df, k) * se
    call = np.where(near <= match_error * TIES, MATCH, np.where(p <= error * TIES, DIFFER, CANNOT_TELL))
    tasters = means.loc[samples].notna().sum(axis=1).to_numpy()
    values = [tasters, difference, se, np.full(k, df), low, high, p, near, call]
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


def _d_primes(clean: pd.DataFrame, control: str) -> pd.DataFrame:
    """D' of each sample by ordered categories; not for ratings between the whole points."""
    columns = [SAMPLE, "d", "low", "high", "statistic", "p", "merged"]
    if (clean[RATING] != np.floor(clean[RATING])).any():
        return pd.DataFrame(columns=columns)
    counts = pd.crosstab(clean[SAMPLE], clean[RATING].astype(int))
    counts = counts.reindex(columns=range(int(clean[RATING].max()) + 1), fill_value=0)
    rows = [{SAMPLE: sample} | ordinal_fit(counts.loc[control].to_numpy(), counts.loc[sample].to_numpy())
            for sample in counts.index if sample != control]  # fmt: skip
    return pd.DataFrame(rows)[columns]


def _verdict(row: pd.Series, tolerance: float | None, error: float, match_error: float) -> Verdict:
    lines = [0.0] if tolerance is None else [0.0, tolerance]
    rated = words.RATED.format(
        sample=row[SAMPLE], tasters=stated(row["tasters"], ".0f"), difference=number(row["difference"], 2, sign=True),
        low=limit(row["low"], 2, up=False, clear=lines, sign=True), df=stated(row["df"], ".0f"),
        high=limit(row["high"], 2, up=True, clear=lines, sign=True),
    )  # fmt: skip
    template, risk, act = {
        DIFFER: (words.DIFFERS, error, Act.DECIDE),
        MATCH: (words.MATCHES, match_error, Act.KNOW),
        CANNOT_TELL: (words.OPEN, error, Act.TASTE_AGAIN),
    }[row["call"]]
    told = template.format(rated=rated, p=p_text(row["p"]), error=stated_percent(risk), tolerance=tolerance)
    numbers = {name: float(row[name]) for name in ("difference", "low", "high", "p")}
    step = _next(row, tolerance, min(error, match_error)) if row["call"] == CANNOT_TELL else ""
    return Verdict(words.ASKED, str(row[SAMPLE]), str(row["call"]), told, numbers, step, act)


def _next(row: pd.Series, tolerance: float | None, error: float) -> str:
    if np.isnan(row["se"]):
        return words.NO_ERROR
    size = tolerance if tolerance is not None else 1.0
    spread = row["se"] * np.sqrt(row["tasters"])
    n = int(np.ceil(normal_number(0.0, size, spread, spread, error=error, power=0.8))) + 2
    return words.MORE.format(tasters=n, size=stated(size), proof=words.NO_PROOF if tolerance is None else "")
