"""Does a charge of leaf fit its pack, grade by grade and lot by lot?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import rest_of_share
from panelstats.arguments.wording import text
from panelstats.errors import DesignError
from panelstats.lots.packs import words
from panelstats.lots.packs.packcalls import mixture_verdict, name_of, pack_verdicts, settling_verdicts
from panelstats.lots.packs.readings import DENSITY, GRADE, STATE, readings_of
from panelstats.lots.packs.tables import Pack, pack_tables
from panelstats.models.mixing import mixture_bounds
from panelstats.result import Chart, Mark, Result, chart_rows, in_order
from panelstats.speech import Phrase
from panelstats.words import listing, number, stated, stated_percent

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.result import Verdict

DRAWS = 20_000
_SHAPES = {words.FITS: Mark.WITHIN, words.OVERFLOWS: Mark.LOWER, words.SLACK: Mark.HIGHER}


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class PackFit(Result):
    """Answer of `fit_pack`.

    Attributes
    ----------
    table : DataFrame
        grade, state, lots, readings, density (g/ml), between_sd, within_sd, over (share of packs of new lots that
        overflow), over_low, over_high, over_lots_only (where weighing makes up all that readings of one lot differ by),
        lots_over (share of lots most packs of which overflow), slack, slack_low, slack_high, largest_grams (charge of
        which at most the allowed share overflows, at `level`), least_millilitres, density_low, density_high
        (one-sided tolerance limits), cpk, cpk_low, cpk_high (capability
        of the density between the two lines), plain_high (of lots that overflow, by their number alone, where none of
        those weighed does; NaN else), call (fits, overflows, slack, cannot tell), lots_needed, reason.
    lots : DataFrame
        lot, grade, state, readings, density, expected (drawn towards its grade), sd (of a new reading), over, over_low,
        over_high, slack, slack_low, slack_high, call.
    mixture : DataFrame
        grade, share, density; empty where none was asked.
    grams, millilitres, level : float
    line, top : float
        Densities below which a pack overflows and above which it is slack, g/ml.
    """

    table: pd.DataFrame
    lots: pd.DataFrame
    mixture: pd.DataFrame
    grams: float
    millilitres: float
    line: float
    top: float
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:  # noqa: ARG002 - a pack has no descriptors
        """Where new lots of each grade lie against the densities that fit."""
        sd = np.sqrt(self.table["between_sd"] ** 2 + self.table["within_sd"].fillna(0) ** 2)
        marks = [_SHAPES.get(call, Mark.OPEN) for call in self.table["call"]]
        rows = chart_rows(
            [name_of(row) for row in self.table.to_dict("records")], marks=marks, notes=self.table["call"],
            value=self.table[DENSITY], low=self.table[DENSITY] - 2 * sd, high=self.table[DENSITY] + 2 * sd,
            floor=self.line, ceiling=self.top,
        )  # fmt: skip
        pack = Phrase("{grams} g in {millilitres} ml").format(
            grams=stated(self.grams), millilitres=stated(self.millilitres)
        )
        told = Phrase("where 95 of 100 new readings lie (mean, 2 SD)")
        return Chart(
            Phrase("Densities against {pack}").format(pack=pack),
            Phrase("density (g/ml)"),
            rows,
            told,
            band=Phrase("densities that fit"),
        )


@checked(state=text, charge_cv=rest_of_share, capacity_cv=rest_of_share)
def fit_pack(
    densities: pd.DataFrame,
    *,
    grams: float,
    millilitres: float,
    fill: float = 0.9,
    allowed: float = 0.01,
    state: str | None = None,
    mix: Mapping[str, float] | None = None,
    charge_cv: float = 0.0,
    capacity_cv: float = 0.0,
    level: float = 0.95,
    seed: int = 0,
) -> PackFit:
    """Chance that a charge of leaf overflows its pack, or leaves it slack.

    Parameters
    ----------
    densities : DataFrame
        Weighings as `read_densities` gives them: mass (g), volume (ml), and of lot, grade, state, replicate, taps what
        there is.
    grams : float
        Charge of a pack.
    millilitres : float
        Capacity to the seal.
    fill : float in (0, 1]
        Share of the capacity that must be full for a pack not to look slack; the packer's word rules (0.9 is ours).
    allowed : float in (0, 1)
        Share of packs that may overflow or be slack.
    state : str, optional
        loose or tapped, the state of the leaf when the pack is closed; by default each state is judged.
    mix : mapping of grade to share of mass, optional
        Shares are scaled to 1.
    charge_cv, capacity_cv : float
        Relative standard deviations of what is charged and of what packs hold, from pack to pack, such as 0.01.

    Raises
    ------
    DesignError
        No weighing of that state or grade, or a mass or volume that is not above 0.

    Notes
    -----
    Generalised pivots for lots and readings in them (Krishnamoorthy & Mathew 2004, Technometrics 46: 44); noncentral t
    for one reading a lot; tolerance limits as NIST/SEMATECH e-Handbook 7.2.6.3.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> weighed = pd.DataFrame({"lot": list("aabbccddee"), "grade": "broken", "volume": 500.0,
    ...                         "mass": [166, 168, 160, 161, 170, 172, 163, 165, 168, 167]})
    >>> found = pst.fit_pack(weighed, grams=250, millilitres=900)
    >>> print(found.table["call"][0], found.table["density"].round(3)[0])
    slack 0.332
    """
    readings = readings_of(densities, state)
    pack = Pack(grams, millilitres, fill, allowed, level, seed, DRAWS, charge_cv, capacity_cv)
    grades, lots = pack_tables(readings, pack)
    mixture, told = _mixture(grades, mix or {}, state)
    states = listing(dict.fromkeys(str(name) for name in grades[STATE] if name)) or "in one state"
    return PackFit(
        table=grades,
        lots=lots,
        mixture=mixture,
        grams=grams,
        millilitres=millilitres,
        line=pack.line,
        top=pack.top,
        level=level,
        verdicts=in_order([*pack_verdicts(grades, lots, pack), *told, *settling_verdicts(readings)]),
        method=_method(pack, states),
    )


def _method(pack: Pack, states: str) -> str:
    told = words.METHOD.format(
        state=states, grams=stated(pack.grams), millilitres=stated(pack.millilitres), line=number(pack.line, 3),
        top=number(pack.top, 3), fill=stated_percent(pack.fill), draws=stated(DRAWS, ","), seed=pack.seed,
    )  # fmt: skip
    if not pack.varies:
        return told
    charge, capacity = map(stated_percent, (pack.charge_cv, pack.capacity_cv))
    return told + words.VARIES.format(charge=charge, capacity=capacity)


def _mixture(grades: pd.DataFrame, mix: Mapping[str, float], state: str | None) -> tuple[pd.DataFrame, list[Verdict]]:
    """The grades of a mixture with their densities in one state, and what it can weigh."""
    empty = pd.DataFrame(
        {GRADE: pd.Series(dtype=str), "share": pd.Series(dtype=float), DENSITY: pd.Series(dtype=float)}
    )
    if not mix:
        return empty, []
    states = [
        name for name in dict.fromkeys(grades[STATE]) if set(mix) <= set(grades.loc[grades[STATE] == name, GRADE])
    ]
    if not states:
        raise DesignError("no such grade in one state", where=f"mix={dict(mix)!r}",
                          do=f"name grades of {listing(dict.fromkeys(grades[GRADE]))}")  # fmt: skip
    mine = grades[grades[STATE] == (state or states[0])].set_index(GRADE).loc[list(mix)]
    parts = np.array(list(mix.values()), float) / sum(mix.values())
    found = pd.DataFrame({GRADE: list(mix), "share": parts, DENSITY: mine[DENSITY].to_numpy()})
    low, high = mixture_bounds(parts, found[DENSITY].to_numpy())
    return found, [mixture_verdict(dict(zip(mix, parts, strict=True)), low, high)]
