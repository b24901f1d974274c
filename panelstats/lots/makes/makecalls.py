"""The verdicts on what went with the making."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.lots.makes import words
from panelstats.lots.makes.tables import COLUMN, LOTS, SETTINGS_KIND, SLOPE_KIND, TOGETHER_KIND
from panelstats.lots.makes.words import CANNOT_TELL, CAUSED
from panelstats.models.lotsneeded import MOST_OF_EACH
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR
from panelstats.speech import Phrase
from panelstats.words import capital, count, listing, number, sized, stated

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping
    from typing import Any

    import pandas as pd

    Record = Mapping[Hashable, Any]


def make_verdicts(tables: Mapping[str, pd.DataFrame], tolerance: Mapping[str, float]) -> list[Verdict]:
    """One verdict for each column and descriptor that is shown, one for the rest of each column."""
    table, out = tables["table"], []
    for column, mine in table.groupby(COLUMN, sort=False):
        shown = mine[mine["call"] != CANNOT_TELL]
        out += [_shown(row, tables) for row in shown.to_dict("records")]
        for reason, rows in mine[mine["call"] == CANNOT_TELL].groupby("reason", sort=False):
            out.append(_not_told(str(column), str(reason), rows, tables, tolerance))
    return out


def widest(tables: Mapping[str, pd.DataFrame], column: str, descriptor: str) -> Record:
    """The pair of settings that lie farthest apart, the higher first."""
    mine = _of(tables["pairs"], column, descriptor)
    row = mine.iloc[int(mine["difference"].abs().argmax())].to_dict()
    if row["difference"] < 0:
        row |= {"setting_a": row["setting_b"], "setting_b": row["setting_a"], "difference": -row["difference"],
                "low": -row["high"], "high": -row["low"]}  # fmt: skip
    return row


def _of(table: pd.DataFrame, column: str, descriptor: str) -> pd.DataFrame:
    return table[(table[COLUMN] == column) & (table[DESCRIPTOR] == descriptor)]


def _left_out(row: Record) -> str:
    return words.LEFT_OUT.format(n=count(int(row["left_out"]), "lot")) if row["left_out"] else ""


def _shown(row: Record, tables: Mapping[str, pd.DataFrame]) -> Verdict:
    column, descriptor, verb = str(row[COLUMN]), str(row[DESCRIPTOR]), words.VERBS.get(row["call"], "went with")
    if row["kind"] == TOGETHER_KIND:
        inflation = tables["slopes"].loc[tables["slopes"][DESCRIPTOR] == descriptor, "inflation"].max()
        told = words.TOGETHER.format(columns=column, descriptor=descriptor, inflation=number(inflation, 1))
        return Verdict(words.QUESTION, column, row["call"], told + _left_out(row), {"p": row["p"]}, words.APART,
                       Act.TASTE_AGAIN)  # fmt: skip
    if row["kind"] == SLOPE_KIND:
        return _slope(row, tables, verb)
    pair = widest(tables, column, descriptor)
    told = words.SETTINGS.format(
        column=column, high_setting=pair["setting_a"], low_setting=pair["setting_b"], verb=verb, descriptor=descriptor,
        lots=count(int(row[LOTS]), "lot"), **sized(pair["difference"], pair["low"], pair["high"]),
    )  # fmt: skip
    step = words.LOOK_CAUSED if row["call"] == CAUSED else words.LOOK.format(column=column)
    numbers = {"change": pair["difference"], "low": pair["low"], "high": pair["high"], "p": row["p_adjusted"]}
    return Verdict(words.QUESTION, column, row["call"], told + _left_out(row), numbers, step, Act.DECIDE)


def _slope(row: Record, tables: Mapping[str, pd.DataFrame], verb: str) -> Verdict:
    column, descriptor = str(row[COLUMN]), str(row[DESCRIPTOR])
    found = _of(tables["slopes"], column, descriptor).iloc[0]
    unit, span = (
        sized(*(float(found[name]) for name in names))
        for names in (("slope", "low", "high"), ("per_range", "range_low", "range_high"))
    )
    told = words.SLOPE.format(
        column=column,
        verb=verb,
        descriptor=descriptor,
        slope=unit["difference"],
        interval=unit["interval"],
        usual=Phrase("{low} to {high}").format(low=stated(found["usual_low"]), high=stated(found["usual_high"])),
        per_range=span["difference"],
        range_interval=span["interval"],
        lots=count(int(row[LOTS]), "lot"),
    )
    numbers = {"change": float(found["per_range"]), "p": float(row["p_adjusted"])}
    step = words.LOOK_CAUSED if row["call"] == CAUSED else words.LOOK_SLOPE.format(column=column)
    return Verdict(words.QUESTION, column, str(row["call"]), told + _left_out(row), numbers, step, Act.DECIDE)


def _not_told(
    column: str, reason: str, rows: pd.DataFrame, tables: Mapping[str, pd.DataFrame], tolerance: Mapping[str, float]
) -> Verdict:
    descriptors = listing(rows[DESCRIPTOR])
    if reason:
        told = words.CANNOT[reason].format(column=column, descriptors=descriptors)
        return Verdict(words.QUESTION, column, CANNOT_TELL, told, {}, words.CURES[reason], Act.TASTE_AGAIN)
    kind = rows["kind"].iloc[0]
    far, step = _widest(column, rows, tables, kind), words.LOOK_SLOPE.format(column=column)
    if kind == SETTINGS_KIND:
        step = _more(rows, tables["means"], tolerance)
    told = words.OPEN.format(column=column, descriptors=descriptors, widest=far) + _left_out(rows.iloc[0].to_dict())
    return Verdict(words.QUESTION, column, CANNOT_TELL, told, {}, step, Act.TASTE_AGAIN)


def _widest(column: str, rows: pd.DataFrame, tables: Mapping[str, pd.DataFrame], kind: str) -> str:
    """The widest difference among descriptors on which nothing was shown."""
    if kind == SETTINGS_KIND:
        pairs = [widest(tables, column, name) for name in rows[DESCRIPTOR]]
        far = max(pairs, key=lambda pair: pair["difference"])
        size = sized(far["difference"], far["low"], far["high"])
        return words.WIDEST.format(descriptor=far[DESCRIPTOR], a=far["setting_a"], b=far["setting_b"], **size)
    slopes = tables["slopes"][tables["slopes"][DESCRIPTOR].isin(rows[DESCRIPTOR])]
    slopes = slopes if kind == TOGETHER_KIND else slopes[slopes[COLUMN] == column]
    found = slopes.iloc[int(slopes["per_range"].abs().argmax())]
    size = sized(*(float(found[name]) for name in ("per_range", "range_low", "range_high")))
    return words.WIDEST_SLOPE.format(descriptor=found[DESCRIPTOR], **size)


def _more(rows: pd.DataFrame, means: pd.DataFrame, tolerance: Mapping[str, float]) -> str:
    """How many lots of each setting would show the size that matters, on the descriptor that needs most."""
    row = rows.iloc[int(rows["lots_each"].argmax())]
    size = tolerance.get(str(row[DESCRIPTOR]), np.nan)
    size = size if np.isfinite(size) else float(row["lot_sd"])
    needed = float(row["lots_each"])
    fewest = int(_of(means, str(row[COLUMN]), str(row[DESCRIPTOR]))[LOTS].min())
    lots = count(int(needed), "lot") if np.isfinite(needed) else words.MORE_THAN.format(lots=count(MOST_OF_EACH, "lot"))
    points = (Phrase("{size} points") if size > 1 else Phrase("{size} point")).format(size=stated(size, ".2g"))
    template = words.ENOUGH if fewest >= needed else words.MAKE_MORE
    return template.format(lots=capital(lots), size=points, now=count(fewest, "lot"))


def word_verdicts(table: pd.DataFrame, level: float) -> list[Verdict]:
    """A verdict for each word that was said unevenly, one for all others of a column."""
    out = []
    for column, mine in table.groupby(COLUMN, sort=False):
        shown = mine[mine["p_adjusted"] < 1 - level]
        out += [
            Verdict(words.WORD_QUESTION, str(row["word"]), words.WENT_WITH, _said(row), {"p": row["p_adjusted"]},
                    words.LOOK.format(column=column), Act.DECIDE)
            for row in shown.to_dict("records")
        ]  # fmt: skip
        if not len(shown):
            told = words.WORDS_OPEN.format(column=column, words=count(mine["word"].nunique(), "word"))
            out.append(Verdict(words.WORD_QUESTION, str(column), CANNOT_TELL, told, {}, words.MORE_LOTS, Act.KNOW))
    return out


def _said(row: Record) -> str:
    return words.WORD.format(
        column=row[COLUMN], setting=row["setting"], word=row["word"], said=int(row["said"]),
        of=count(int(row[LOTS]), "lot"), rest_said=int(row["rest_said"]), rest_of=int(row["rest_lots"]),
    )  # fmt: skip
