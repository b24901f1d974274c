"""The same comparison without the pots that stand apart, beside the one with all of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.classfit import class_fits
from panelstats.lots.compare import words
from panelstats.lots.compare.pairs import compared_pairs
from panelstats.lots.compare.standing import STANDING, Tested, named, standings
from panelstats.lots.compare.tables import anova_lines, mean_lines, pair_lines, stacked
from panelstats.result import Chart, Mark, Result, Verdict, chart_rows, joined, of_descriptor
from panelstats.scores.cells import BREW, CLASS, DESCRIPTOR, LOT, SESSION, STAGE
from panelstats.speech import Phrase
from panelstats.words import listing, shortened

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.lots.compare.fit import LotComparison
    from panelstats.scores.cells import Cells

PLACE, WITHOUT = "place", "_without"
_TOLD = 3  # lots named one by one; more are counted
# Lots of which both comparisons put less between them are near ties, in steps of the sheet: ours.
NEAR = 0.5


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class WithoutPots(Result):
    """Answer of `compare_without`. Columns that end in _without leave the pots in doubt out.

    Attributes
    ----------
    table : DataFrame
        class, descriptor, lot, mean, low, high, mean_without, low_without, high_without: NaN where no pot is left.
    alone : DataFrame
        descriptor, lot, pot, mean: each pot of a lot of two that disagree, by itself and in no order.
    tests : DataFrame
        class, descriptor, p_adjusted, p_adjusted_without, pairs (shown different), pairs_without.
    order : DataFrame
        class, lot, place, standing, place_without, standing_without; lots without a pot left have no place.
    """

    table: pd.DataFrame
    alone: pd.DataFrame
    tests: pd.DataFrame
    order: pd.DataFrame

    def chart(self, descriptor: str | None = None) -> Chart:
        """Lots without the pots in doubt, highest first, each of two pots that disagree by itself among them."""
        chosen = descriptor or str((self.alone if len(self.alone) else self.table)[DESCRIPTOR].iloc[0])
        lots = of_descriptor(self.table, chosen).dropna(subset=["mean" + WITHOUT])
        alone = self.alone[self.alone[DESCRIPTOR].astype(str) == chosen]
        pots = [
            Phrase("{lot}, pot {pot} alone").format(lot=lot, pot=pot)
            for lot, pot in zip(alone[LOT], alone["pot"], strict=True)
        ]
        rows = pd.DataFrame({
            "label": [*lots[LOT], *pots],
            "value": [*lots["mean" + WITHOUT], *alone["mean"]],
            "low": [*lots["low" + WITHOUT], *[np.nan] * len(alone)],
            "high": [*lots["high" + WITHOUT], *[np.nan] * len(alone)],
            "group": [*joined(lots, [CLASS]), *[""] * len(alone)],
            "mark": [None] * len(lots) + [Mark.AGAIN] * len(alone),
        }).sort_values(["group", "value"], ascending=[True, False], kind="stable")  # fmt: skip
        return Chart(
            Phrase("Lots without the pots in doubt, on {chosen}").format(chosen=chosen),
            Phrase("{chosen}: mean without the pots in doubt (points)").format(chosen=chosen),
            chart_rows(rows["label"], value=rows["value"], low=rows["low"], high=rows["high"], groups=rows["group"],
                       marks=rows["mark"].where(rows["mark"].notna(), None)),
            words=Phrase("a lot: its mean with the interval; a pot alone has none"),
        )  # fmt: skip


def compare_without(
    cells: Cells,
    doubtful: pd.DataFrame,
    differences: pd.DataFrame,
    whole: LotComparison,
    *,
    tolerance: float | Mapping[str, float] | None = None,
) -> WithoutPots:
    """Compare the lots of a session again without the pots that stand apart from their sister pots.

    Parameters
    ----------
    cells : Cells
        Of one session.
    doubtful : DataFrame
        session, stage, lot, pots (how many there are), pot (the one farthest out): a row for each lot in doubt.
    differences : DataFrame
        session, stage, lot, pot, descriptor, difference of that pot from its sister pots.
    whole : LotComparison
        With all pots.
    tolerance : float or mapping of descriptor to float, optional

    Returns
    -------
    WithoutPots
        An exploration: the lots were picked by their scores, so the comparison with all pots stands.
    """
    rest = _compared(_left(cells, doubtful), tolerance, whole.level)
    order = _both(_places(whole, cells.descriptors), _places(rest, cells.descriptors), [CLASS, LOT])
    tests = _both(_tests(whole), _tests(rest), [CLASS, DESCRIPTOR])
    table = _both(_means(whole), _means(rest), [CLASS, DESCRIPTOR, LOT])
    return WithoutPots(
        table=table,
        alone=_alone(table, doubtful, differences),
        tests=tests,
        order=order[[CLASS, LOT, PLACE, STANDING, PLACE + WITHOUT, STANDING + WITHOUT]],
        verdicts=(_verdict(doubtful, order, tests, near=_near(cells.descriptors)),),
        method=words.METHOD_WITHOUT,
    )


def _compared(cells: Cells, tolerance: float | Mapping[str, float] | None, level: float) -> Tested:
    """The comparison, as far as it is set beside that with all pots."""
    groups = class_fits(cells, tolerance=tolerance, across="holm", level=level)
    found = [compared_pairs(group, adjust="tukey", control=None, wanted=None) for group in groups]
    return Tested(
        anova=stacked(groups, map(anova_lines, groups)),
        means=stacked(groups, map(mean_lines, groups, found)),
        pairs=stacked(groups, map(pair_lines, groups, found)),
        level=level,
    )


def _left(cells: Cells, doubtful: pd.DataFrame) -> Cells:
    """What is left: of three pots or more the others, of two none, on the words of the stage."""
    frame, register = cells.frame, cells.descriptors
    text = {name: frame[name].astype(str) for name in (SESSION, LOT, BREW, DESCRIPTOR)}
    keep = np.ones(len(frame), bool)
    for row in doubtful.to_dict("records"):
        of_stage = register.loc[register[STAGE].astype(str) == row[STAGE], DESCRIPTOR].astype(str)
        here = (text[SESSION] == row[SESSION]) & (text[LOT] == row[LOT]) & text[DESCRIPTOR].isin(of_stage)
        keep &= ~(here if row["pots"] == 2 else here & (text[BREW] == row["pot"])).to_numpy()
    return cells.where(keep)


def _means(found: LotComparison | Tested) -> pd.DataFrame:
    return named(found.means)[[CLASS, DESCRIPTOR, LOT, "mean", "low", "high"]]


def _places(found: LotComparison | Tested, descriptors: pd.DataFrame) -> pd.DataFrame:
    order = standings(found, descriptors)
    place = order.groupby(CLASS, sort=False).cumcount() + 1.0
    return order.assign(**{PLACE: place.where(order[STANDING].notna())})


def _tests(found: LotComparison | Tested) -> pd.DataFrame:
    """The lot test of every descriptor, and how many pairs are shown different."""
    tests = named(found.anova)
    tests = tests.loc[tests["source"] == "lot", [CLASS, DESCRIPTOR, "p_adjusted"]]
    if not len(found.pairs):
        return tests.assign(pairs=0.0)
    pairs = named(found.pairs)
    sizes = pairs[pairs["p_adjusted"] < 1 - found.level].groupby([CLASS, DESCRIPTOR]).size()
    keys = pd.MultiIndex.from_frame(tests[[CLASS, DESCRIPTOR]])
    return tests.assign(pairs=sizes.reindex(keys).fillna(0).to_numpy(float))


def _both(whole: pd.DataFrame, rest: pd.DataFrame, keys: list[str]) -> pd.DataFrame:
    return whole.merge(rest, on=keys, how="left", suffixes=("", WITHOUT))


def _alone(table: pd.DataFrame, doubtful: pd.DataFrame, differences: pd.DataFrame) -> pd.DataFrame:
    """Each of two pots that disagree by itself: the mean of the lot, half the difference up or down."""
    two = doubtful.loc[doubtful["pots"] == 2, [SESSION, STAGE, LOT, "sisters"]]
    gaps = differences.merge(two, on=[SESSION, STAGE, LOT]).merge(
        table[[DESCRIPTOR, LOT, "mean"]], on=[DESCRIPTOR, LOT]
    )
    pots = [
        gaps.assign(pot=gaps[pot], mean=gaps["mean"] + half * gaps["difference"])
        for pot, half in (("pot", 0.5), ("sisters", -0.5))
    ]
    return pd.concat(pots, ignore_index=True)[[DESCRIPTOR, LOT, "pot", "mean"]]


def _near(descriptors: pd.DataFrame) -> float:
    """How far two lots may stand apart and be a near tie, in points."""
    steps = pd.to_numeric(descriptors.get("step", pd.Series(dtype=float)), errors="coerce").dropna()
    return NEAR * float(steps.median()) if len(steps) else 0.0


def _verdict(doubtful: pd.DataFrame, order: pd.DataFrame, tests: pd.DataFrame, *, near: float) -> Verdict:
    gone = set(doubtful.loc[doubtful["pots"] == 2, LOT].astype(str))
    moved = _moved(order[~order[LOT].isin(gone)], near)
    more = int(tests["pairs" + WITHOUT].sum() - tests["pairs"].sum())
    pairs = words.AS_MANY if not more else (words.MORE_PAIRS if more > 0 else words.FEWER_PAIRS)
    names = list(dict.fromkeys(doubtful[LOT].astype(str)))
    said = words.MOVED.format(lots=listing(shortened(moved, _TOLD))) if moved else words.KEPT
    sentence = words.WITHOUT.format(pots=listing(names), order=said, pairs=pairs.format(pairs=abs(more)))
    call = words.ORDER_CHANGES if moved else words.ORDER_STANDS
    numbers = {"pairs": float(more), "moved": float(len(moved))}
    return Verdict(words.QUESTION_WITHOUT, listing(names), call, sentence, numbers)


def _moved(order: pd.DataFrame, near: float) -> list[str]:
    """Lots that stand on the other side of another one than before, near ties aside."""
    found: list[str] = []
    for _, some in order.dropna(subset=[PLACE, PLACE + WITHOUT]).groupby(CLASS, sort=False):
        before, after = (np.subtract.outer(place, place) for place in some[[STANDING, STANDING + WITHOUT]].to_numpy().T)
        passed = (before * after < 0) & (np.maximum(abs(before), abs(after)) >= near)
        found += some.loc[passed.any(axis=1), LOT].tolist()
    return found
