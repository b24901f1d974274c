"""Tables of what went with the making, column by column and descriptor by descriptor."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.makes import words
from panelstats.lots.makes.layout import DAY, RANDOMISED, Tasted, numeric
from panelstats.models.lotsneeded import lots_of_each
from panelstats.models.multiplicity import adjusted
from panelstats.scores.cells import DESCRIPTOR
from panelstats.scores.spelling import natural

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from panelstats.lots.makes.layout import LotFit

# Numbers of more values than this are slopes, of fewer settings (ours).
MOST_AS_SETTINGS = 5
# Columns of more settings than this name lots, not makes (ours).
MOST_SETTINGS = 20
# The usual range of a setting: from its 10 % to its 90 % point (ours).
USUAL = (0.1, 0.9)
# Beyond these, settings moved together and cannot be told apart (ours).
MOST_INFLATION, MOST_CORRELATION = 5.0, 0.8

COLUMN, SETTING, LOTS, DAYS = "column", "setting", "lots", "days"
TABLE = [COLUMN, DESCRIPTOR, "kind", LOTS, DAYS, "left_out", "statistic", "df", "df_error", "p", "p_adjusted", "lot_sd",
         "lots_each", "call", "reason"]  # fmt: skip
MEANS = [COLUMN, DESCRIPTOR, SETTING, LOTS, DAYS, "mean", "se", "df", "low", "high"]
PAIRS = [COLUMN, DESCRIPTOR, "setting_a", "setting_b", "difference", "se", "df", "low", "high", "p", "p_adjusted",
         "lots_each", "wording"]  # fmt: skip
SLOPES = [COLUMN, DESCRIPTOR, LOTS, "seen_low", "seen_high", "usual_low", "usual_high", "slope", "se", "df", "low",
          "high", "per_range", "range_low", "range_high", "p", "alone", "alone_low", "alone_high", "inflation",
          "p_joint"]  # fmt: skip
SETTINGS_KIND, SLOPE_KIND, TOGETHER_KIND = "settings", "slope", "together"


@dataclass
class Found:
    """Rows as they are found."""

    table: list[dict[str, object]] = field(default_factory=list)
    means: list[pd.DataFrame] = field(default_factory=list)
    pairs: list[pd.DataFrame] = field(default_factory=list)
    slopes: list[pd.DataFrame] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Asked:
    """What is asked: lots as tasted, how sure, what size matters."""

    tasted: Tasted
    level: float
    tolerance: Mapping[str, float]

    def values(self, column: str) -> pd.Series:
        """What is written of each lot; "" where nothing is."""
        return self.tasted.units[column].fillna("").astype(str).str.strip()

    def is_slope(self, column: str) -> bool:
        """Whether a column is of numbers, and of so many that they are no settings."""
        written = self.values(column)
        written = written[written != ""]
        return bool(written.nunique() > MOST_AS_SETTINGS and np.isfinite(numeric(written)).all())

    def days(self, setting: np.ndarray | None, units: np.ndarray) -> np.ndarray:
        """Codes of the days (within setting) the units were made on; those without a day have one each."""
        day = self.tasted.units[DAY].to_numpy(str)[units]
        own = np.where(day == "", np.char.add("?", np.arange(len(units)).astype(str)), day)
        keys = own if setting is None else np.char.add(np.char.add(setting.astype(str), " "), own)
        return np.unique(keys, return_inverse=True)[1]

    def dated(self, units: np.ndarray) -> bool:
        """Whether there are any, and all of them carry the day they were made."""
        return len(units) > 0 and bool((self.tasted.units[DAY].to_numpy(str)[units] != "").all())

    def row(self, kind: str, descriptor: str, written: np.ndarray) -> tuple[np.ndarray, dict[str, object]]:
        """The units of a descriptor of which something is written, and what a row of the table says of them."""
        units = self.scored(descriptor, np.flatnonzero(written))
        return units, {
            "kind": kind, DESCRIPTOR: descriptor, LOTS: len(units), "reason": "",
            DAYS: float(np.unique(self.days(None, units)).size) if self.dated(units) else np.nan,
            "left_out": len(self.scored(descriptor, np.flatnonzero(~written))),
        }  # fmt: skip

    def scored(self, descriptor: str, units: np.ndarray) -> np.ndarray:
        """Those of some units that were scored on a descriptor."""
        scores = self.tasted.scores
        return units[np.isin(units, scores.loc[scores[DESCRIPTOR] == descriptor, "unit"])]

    def needed(self, descriptor: str, fit: LotFit) -> float:
        """Lots of each setting that would show the tolerance, else a difference as wide as lots scatter."""
        sd = fit.lot_variance**0.5
        size = self.tolerance.get(descriptor, np.nan)
        ratio = size / sd if np.isfinite(size) and sd > 0 else 1.0
        return float(lots_of_each(ratio, level=self.level))


def found_tables(asked: Asked, columns: Sequence[str], rule: str, *, searches: int = 1) -> dict[str, pd.DataFrame]:
    """All tables; p-values adjusted over columns and descriptors by `rule` and for all searches, pairs alike."""
    found = Found()
    slopes = [name for name in columns if asked.is_slope(name)]
    for column in columns:
        if column not in slopes:
            for descriptor in asked.tasted.descriptors:
                _settings(asked, column, descriptor, found)
    for descriptor in asked.tasted.descriptors if slopes else ():
        _slopes(asked, slopes, descriptor, found)
    table, pairs = pd.DataFrame(found.table, columns=TABLE), _joined(found.pairs, PAIRS)
    wordings = np.where(_randomised(asked), words.CAUSED, words.WENT_WITH)
    for rows, call in ((table, "call"), (pairs, "wording")):
        rows["p_adjusted"] = np.minimum(searches * adjusted(rows["p"].to_numpy(float), rule), 1.0)
        shown = rows["p_adjusted"] < 1 - asked.level
        rows[call] = np.where(shown, str(wordings), words.CANNOT_TELL)
    together = (table["kind"] == TOGETHER_KIND) & (table["call"] != words.CANNOT_TELL)
    table["call"] = table["call"].mask(together, words.WHICH)
    return {
        "table": table,
        "means": _joined(found.means, MEANS),
        "pairs": pairs,
        "slopes": _joined(found.slopes, SLOPES),
    }


def _joined(parts: list[pd.DataFrame], columns: list[str]) -> pd.DataFrame:
    return pd.concat(parts, ignore_index=True)[columns] if parts else pd.DataFrame(columns=columns)


def _randomised(asked: Asked) -> bool:
    """Whether every lot's setting was dealt to it at random."""
    units = asked.tasted.units
    return RANDOMISED in units and bool((units[RANDOMISED].astype(str).str.casefold() == "yes").all())


# --- settings ---------------------------------------------------------------------------------------------------------


def _settings(asked: Asked, column: str, descriptor: str, found: Found) -> None:
    """One column of settings on one descriptor: its test, the mean of each setting, every pair."""
    written = asked.values(column).to_numpy(str)
    units, row = asked.row(SETTINGS_KIND, descriptor, written != "")
    found.table.append(row)
    row[COLUMN] = column
    names = sorted(set(written[units]), key=natural)
    code = pd.Index(names).get_indexer(written[units])
    day = asked.days(code, units)
    days = np.bincount(pd.Series(code).groupby(day).first().to_numpy(), minlength=len(names))
    row["reason"] = _why_not(code, days, dated=asked.dated(units))
    if row["reason"]:
        return
    fit = asked.tasted.fit(descriptor, units, np.eye(len(names))[code], day)
    if fit is None:
        row["reason"] = words.ONE_CLASS
        return
    weights = np.eye(len(names), fit.model.p)
    test, needed = fit.model.joint(weights[:1] - weights[1:]), asked.needed(descriptor, fit)
    row |= test.columns | {"lot_sd": fit.lot_variance**0.5, "lots_each": needed}
    if np.isnan(test.p):
        row["reason"] = words.NO_SPREAD
        return
    key = {COLUMN: column, DESCRIPTOR: descriptor}
    means = fit.model.contrasts(weights)
    found.means.append(pd.DataFrame(
        key | {SETTING: names, LOTS: np.bincount(code), DAYS: days if asked.dated(units) else np.nan}
        | means.columns("mean", means.reach(asked.level))
    ))  # fmt: skip
    a, b = np.array(list(combinations(range(len(names)), 2))).T
    pairs = fit.model.contrasts(weights[a] - weights[b])
    found.pairs.append(pd.DataFrame(
        key | {"setting_a": np.array(names)[a], "setting_b": np.array(names)[b], "lots_each": needed}
        | pairs.columns("difference", pairs.reach(asked.level)) | {"p": pairs.p, "p_adjusted": np.nan, "wording": ""}
    ))  # fmt: skip


def _why_not(code: np.ndarray, days: np.ndarray, *, dated: bool) -> str:
    """Why settings cannot be compared; "" where they can."""
    lots = np.bincount(code)
    if not len(lots):
        return words.NONE
    if len(lots) == 1:
        return words.ONE_MAKE
    if (lots == 1).all():
        return words.ONE_LOT
    if len(lots) > MOST_SETTINGS:
        return words.MANY
    return words.ONE_DAY if dated and (days == 1).all() else ""


# --- slopes -----------------------------------------------------------------------------------------------------------


def _slopes(asked: Asked, columns: list[str], descriptor: str, found: Found) -> None:
    """Columns of numbers on one descriptor, together in one model and each alone."""
    values = np.column_stack([numeric(asked.values(name)) for name in columns])
    units, row = asked.row(SLOPE_KIND, descriptor, np.isfinite(values).all(axis=1))
    x = values[units]
    fit = _slope_fit(asked, descriptor, units, x) if len(units) else None
    if fit is None:
        reason = words.NONE if not len(units) else words.ONE_CLASS
        found.table.extend(row | {COLUMN: name, "reason": reason} for name in columns)
        return
    each = fit.model.contrasts(np.eye(fit.model.p)[1 : 1 + len(columns)])
    joint = fit.model.joint(np.eye(fit.model.p)[1 : 1 + len(columns)])
    if np.isnan(joint.p):
        found.table.extend(row | {COLUMN: name, "reason": words.NO_SPREAD} for name in columns)
        return
    correlation = np.atleast_2d(np.corrcoef(x.T))
    inflation = np.diag(np.linalg.inv(correlation))
    together = (inflation > MOST_INFLATION).any() or (np.abs(np.tril(correlation, -1)) > MOST_CORRELATION).any()
    row |= {"lot_sd": fit.lot_variance**0.5}
    if together:
        found.table.append(row | {COLUMN: " and ".join(columns), "kind": TOGETHER_KIND} | joint.columns)
    else:
        found.table.extend(
            row | {COLUMN: name, "statistic": (value / se) ** 2, "df": 1, "df_error": df, "p": p}
            for name, value, se, df, p in zip(columns, each.estimate, each.se, each.df, each.p, strict=True)
        )
    alone = np.array([_alone(asked, descriptor, units, x[:, [k]]) for k in range(len(columns))])
    usual, slope = np.quantile(x, USUAL, axis=0), each.columns("slope", each.reach(asked.level))
    span = usual[1] - usual[0]
    found.slopes.append(pd.DataFrame({
        COLUMN: columns, DESCRIPTOR: descriptor, LOTS: len(units), "seen_low": x.min(axis=0),
        "seen_high": x.max(axis=0), "usual_low": usual[0], "usual_high": usual[1], **slope,
        "per_range": span * each.estimate,
        "range_low": span * slope["low"], "range_high": span * slope["high"], "p": each.p, "alone": alone[:, 0],
        "alone_low": alone[:, 1], "alone_high": alone[:, 2], "inflation": inflation, "p_joint": joint.p,
    }))  # fmt: skip


def _slope_fit(asked: Asked, descriptor: str, units: np.ndarray, x: np.ndarray) -> LotFit | None:
    fixed = np.column_stack([np.ones(len(x)), x - x.mean(axis=0)])
    return asked.tasted.fit(descriptor, units, fixed, asked.days(None, units))


def _alone(asked: Asked, descriptor: str, units: np.ndarray, x: np.ndarray) -> tuple[float, float, float]:
    """The slope of one column in a model of its own, and its interval."""
    fit = _slope_fit(asked, descriptor, units, x)
    if fit is None:
        return np.nan, np.nan, np.nan
    found = fit.model.contrasts(np.eye(fit.model.p)[1:2])
    reach = found.reach(asked.level)[0]
    return found.estimate[0], found.estimate[0] - reach, found.estimate[0] + reach
