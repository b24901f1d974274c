"""Drawings for a notebook: one axes for any result, dots with intervals, a word beside every shape."""

from __future__ import annotations

from functools import singledispatch
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from matplotlib.ticker import MaxNLocator

from panelstats.difference.counts.outcome import DifferenceTest
from panelstats.difference.counts.planning import AnswersNeeded
from panelstats.difference.screening.fit import Screening
from panelstats.errors import DesignError
from panelstats.lots.compare.fit import LotComparison
from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.panel.agreement.fit import PanelAgreement
from panelstats.panel.tasters.fit import TasterAssessment
from panelstats.panel.training.fit import TraineeAssessment
from panelstats.report.charts.marks import CANNOT_TELL
from panelstats.report.charts.rows import INK, QUIET, axes, dotted, end_rows, name_rows, rows
from panelstats.report.pages.sheet import ASPECTS, read_mark
from panelstats.result import Result
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, SESSION, TASTER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_TEXT_COLUMNS = ("call", "reason")


def draw(result: Result, ax: Axes | None = None, *, descriptor: str | None = None) -> Axes:
    """Draw any result: a dot and an interval a row, a word wherever something was judged.

    A filled dot was shown within what is tolerated, a triangle points the way of what was shown outside it, a line
    without a dot cannot be told.

    Parameters
    ----------
    result : Result
        From any analysis.
    ax : matplotlib Axes, optional
        Where to; by default a new figure of fitting height (`ax.figure` shows or saves it).
    descriptor : str, optional
        Of a lot comparison, which one; by default that with the largest share of variance between lots.

    Returns
    -------
    Axes

    Raises
    ------
    DesignError
        The result holds nothing that can be drawn, or not this descriptor.

    Examples
    --------
    >>> import panelstats as pst
    >>> ax = pst.draw(pst.difference_test("triangle", correct=20, answers=36))
    >>> ax.get_xlabel()
    'share who can tell'
    """
    if isinstance(result, LotComparison):
        return _draw_lots(result, ax, descriptor)
    return _draw(result, ax)


@singledispatch
def _draw(result: Result, ax: Axes | None) -> Axes:
    """Any other result: the first table in which a number has its interval."""
    for table in result.tables().values():
        names = [str(name) for name in table.columns]
        if len(table) and {"low", "high"} <= set(names) and names.index("low") > 0:
            value = names[names.index("low") - 1]
            words = table["call"].astype(str) if "call" in table else None
            found = rows(_named(table), table[value], table["low"], table["high"], words)
            return dotted(found, ax, value.replace("_", " "))
    raise DesignError("nothing to draw", where=type(result).__name__, do="read its tables or its verdicts")


def _named(table: pd.DataFrame) -> list[str]:
    """Rows are called by their text columns."""
    texts = [n for n in table if n not in _TEXT_COLUMNS and not pd.api.types.is_numeric_dtype(table[n])]
    if not texts:
        return [str(at + 1) for at in range(len(table))]
    return [", ".join(str(part) for part in row if part) for row in table[texts].itertuples(index=False)]


def _draw_lots(result: LotComparison, ax: Axes | None, descriptor: str | None) -> Axes:
    means = result.means[result.means["deviation"].notna()]
    known = list(dict.fromkeys(means[DESCRIPTOR].astype(str)))
    if not known:
        raise DesignError("nothing to draw", where="no lot has a mean", do="read the verdicts")
    if descriptor is not None and descriptor not in known:
        raise DesignError("no such descriptor", where=f"descriptor={descriptor!r}", do=f"choose one of {known}")
    shares = result.components[result.components["source"] == "lot"].sort_values("share", ascending=False)
    ranked = [name for name in shares[DESCRIPTOR].astype(str) if name in known]
    chosen = descriptor or (ranked or known)[0]
    groups = [name for name in (SESSION, CLASS) if name in means]
    table = means[means[DESCRIPTOR].astype(str) == chosen]
    table = table.sort_values([*groups, "deviation"], ascending=[True] * len(groups) + [False], kind="stable")
    names = table[LOT].astype(str)
    for name in reversed(groups):
        names = table[name].astype(str) + ", " + names if len(table[name].unique()) > 1 else names
    found = rows(list(names), table["deviation"], table["deviation_low"], table["deviation_high"])
    ax = dotted(found, ax, f"{chosen}: lot less the mean of its class (points)")
    ax.axvline(0, color=QUIET, lw=0.8, ls=":", zorder=0)
    return ax


@_draw.register(PanelAgreement)
def _agreement(result: PanelAgreement, ax: Axes | None) -> Axes:
    table = result.table
    words = table["call"].replace("too alike to judge", CANNOT_TELL)
    found = rows(_named(table[[DESCRIPTOR]]), table["icc_mean"], table["icc_mean_low"], table["icc_mean_high"], words)
    return dotted(found, ax, "share of the spread of the panel's marks that is the lots' own")


@_draw.register(FaultsNoticed)
def _faults(result: FaultsNoticed, ax: Axes | None) -> Axes:
    table = result.table
    share = table["noticed"] / table["asked"].astype(float)
    asked = [f" of {n:.0f}" if np.isfinite(n) else " in a remark" for n in table["asked"].astype(float)]
    words = [f"noticed by {n}{of}" for n, of in zip(table["noticed"], asked, strict=True)]
    names = [f"{lot}: {fault}" for lot, fault in zip(table[LOT], table["fault"], strict=True)]
    ax = dotted(rows(names, share, table["low"], table["high"], words), ax, "share of tasters who noticed")
    ax.set_xlim(0, 1)
    return ax


@_draw.register(TasterAssessment)
def _tasters(result: TasterAssessment, ax: Axes | None) -> Axes:
    """A narrow column per aspect, over all descriptors; a row per taster with his word at its end."""
    table = result.table
    whole = table[(table[DESCRIPTOR] == "") & table["estimate"].notna() & (table["call"] != "")]
    names = [str(name) for name in result.summary[TASTER]]
    columns = [column for column in ASPECTS if (whole["aspect"] == column.key).any()]
    ax = axes(ax, len(names) + 2)
    ax.set_xticks([])
    ax.spines["bottom"].set_visible(False)
    name_rows(ax, names)
    end_rows(ax, [str(word) for word in result.summary["call"]])
    if not columns:
        ax.set_xlabel("nobody could be judged over all descriptors")
    for at, column in enumerate(columns):
        inner = ax.inset_axes((at / len(columns), 0, 0.85 / len(columns), 1))
        _column(inner, whole[whole["aspect"] == column.key].set_index(TASTER).reindex(names), column.heading)
    return ax


def _column(ax: Axes, found: pd.DataFrame, heading: str) -> None:
    calls = found["call"].fillna(CANNOT_TELL)
    limits = {"floor": found["floor"], "ceiling": found["ceiling"]}
    table = rows(list(found.index), found["estimate"], found["low"], found["high"], calls, **limits)
    dotted(table, ax, heading.replace(" ", "\n", 1), worded=False)
    ax.set_yticks([])
    ax.xaxis.set_major_locator(MaxNLocator(2))


@_draw.register(TraineeAssessment)
def _trainees(result: TraineeAssessment, ax: Axes | None) -> Axes:
    table = result.table
    one = len(table["trainee"].unique()) == 1
    names = _named(table[[DESCRIPTOR] if one else ["trainee", DESCRIPTOR]])
    level, low, high, limit = (table[name].to_numpy(float) for name in ("difference", "low", "high", "tolerance"))
    marks = [read_mark(*each) for each in zip(low, high, -limit, limit, strict=True)]  # of the level alone
    found = rows(names, level, low, high, table["call"], mark=marks, floor=-limit, ceiling=limit)
    return dotted(found, ax, "level: trainee less the seniors (points; strip: tolerance)")


@_draw.register(DifferenceTest)
def _difference(result: DifferenceTest, ax: Axes | None) -> Axes:
    table = result.table[result.table["quantity"] == "share who can tell"]
    names = [result.kind] if len(table) == 1 else [f"{result.kind} {at}" for at in table["test"]]
    words = np.atleast_1d(result.call).ravel()
    ax = dotted(rows(names, table["estimate"], table["low"], table["high"], words), ax, "share who can tell")
    ax.set_xlim(0, 1)
    return ax


@_draw.register(AnswersNeeded)
def _needed(result: AnswersNeeded, ax: Axes | None) -> Axes:
    """From the first number of answers that can succeed to the number from which all do."""
    table = result.table[result.table["first"].notna()]
    if not len(table):
        raise DesignError("nothing to draw", where="no number of answers is enough", do="read its verdicts")
    found = rows(
        list(table["claim"]),
        table["served"],
        table["first"],
        table["settled"],
        table["served"].map("{:g} answers".format),
    )
    return dotted(found, ax, "answers: first that can succeed, to settled")


@_draw.register(Screening)
def _screening(result: Screening, ax: Axes | None) -> Axes:
    """Right answers so far between the two lines."""
    ax = axes(ax, 10)
    table = result.table
    for line, word in (("pass_at_or_above", "pass"), ("fail_at_or_below", "fail")):
        known = table[table[line].notna()]
        ax.step(known["trial"], known[line], where="mid", color=QUIET, lw=1)
        if len(known):
            ax.annotate(
                word, (known["trial"].iloc[-1], known[line].iloc[-1]), xytext=(6, 0), textcoords="offset points"
            )
    ax.plot(table["trial"], table["right_so_far"], "o-", color=INK, ms=4, lw=1)
    ax.set(xlabel="trial", ylabel="right so far", title=str(result.call))
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    return ax
