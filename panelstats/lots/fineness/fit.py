"""Does a mark rise or fall from the coarse grades to the fine ones?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.lots.fineness import words
from panelstats.lots.plaintables import ASIDE, senior_marks
from panelstats.models.additive import fit_additive
from panelstats.models.multiplicity import holm
from panelstats.models.trend import jonckheere
from panelstats.result import Act, Chart, Mark, Result, Verdict, chart_rows, in_order, of_descriptor
from panelstats.scores.cells import DESCRIPTOR, LOT, ROLE, SESSION, TASTER, cells_from
from panelstats.speech import Phrase
from panelstats.words import count, sized, stated

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping, Sequence
    from typing import Any

    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

GRADE, STEP = "grade", "step"
COLUMNS = [DESCRIPTOR, "lots", "fewest", "statistic", "z", "p", "p_adjusted", "slope", "low", "high", "df", "call"]


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class GradeTrend(Result):
    """Answer of `grade_trend`.

    Attributes
    ----------
    table : DataFrame
        descriptor, lots, fewest (lots of a grade), statistic (J), z, p (two-sided), p_adjusted (over descriptors),
        slope (points from one grade to the next finer), low, high, df, call (rises, falls, cannot tell).
    grades : DataFrame
        descriptor, grade, step (its place, from coarse), lots, mean.
    level : float
    """

    table: pd.DataFrame
    grades: pd.DataFrame
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:
        """Change from one grade to the next finer, a row for each descriptor."""
        table = of_descriptor(self.table, descriptor).dropna(subset=["slope"])
        if not len(table):
            raise DesignError("nothing to draw", where="lots of one grade only", do="read the verdicts")
        marks = [{words.RISES: Mark.HIGHER, words.FALLS: Mark.LOWER}.get(call, Mark.OPEN) for call in table["call"]]
        rows = chart_rows(table[DESCRIPTOR], marks=marks, notes=table["call"], value=table["slope"], low=table["low"],
                          high=table["high"])  # fmt: skip
        return Chart(Phrase("From grade to finer grade"), Phrase("change for one grade finer (points)"), rows,
                     Phrase("with its {level} % interval").format(level=stated(100 * self.level)), 0.0)  # fmt: skip


@checked()
def grade_trend(
    scores: Scores | Cells,
    grades: Sequence[str],
    *,
    descriptors: str | Sequence[str] | None = None,
    level: float = 0.95,
    seed: int = 0,
) -> GradeTrend:
    """Test whether marks rise or fall with the fineness of the leaf.

    Parameters
    ----------
    scores : Scores or Cells
        Lots whose register names their grade; several kinds of tea are compared within each.
    grades : sequence of str
        In their order, coarse to fine, as the room calls them: letters of the trade have no order of their own.
    descriptors : str or sequence of str, optional
        By default all that were scored.

    Raises
    ------
    DesignError
        No grades in the lots register, or none of those named.

    Notes
    -----
    Jonckheere 1954 (Biometrika 41: 133) on lot means; the lot is the unit, never the mark. With several sessions or
    kinds, means are freed of theirs first.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"lot": range(9), "taster": "elm", "colour": [3, 4, 3.5, 5, 4.5, 5.5, 6, 7, 6.5]})
    >>> lots = pd.DataFrame({"lot": range(9), "grade": ["leaf"] * 3 + ["broken"] * 3 + ["dust"] * 3})
    >>> found = pst.grade_trend(pst.read_scores(sheet, room={"lots": lots}), ["leaf", "broken", "dust"])
    >>> print(found.table["call"][0], found.table["slope"][0])
    rises 1.5
    """
    cells = cells_from(scores)
    order = {str(name).casefold(): at for at, name in enumerate(grades)}
    lots = _graded(cells, order, list(grades))
    means = _means(cells, lots, [descriptors] if isinstance(descriptors, str) else descriptors)
    rng = np.random.default_rng(seed)
    rows = [_row(name, mine, level, rng) for name, mine in means.groupby(DESCRIPTOR, sort=False)]
    table = pd.DataFrame(rows, columns=[name for name in COLUMNS if name not in ("p_adjusted", "call")])
    table["p_adjusted"] = holm(table["p"].to_numpy(float))
    shown = table["p_adjusted"] <= 1 - level
    table["call"] = np.where(shown, np.where(table["slope"] > 0, words.RISES, words.FALLS), words.CANNOT_TELL)
    of_grade = means.groupby([DESCRIPTOR, GRADE, STEP], sort=False)["raw"].agg(["size", "mean"]).reset_index()
    of_grade = of_grade.rename(columns={"size": "lots"}).sort_values(
        [DESCRIPTOR, STEP], kind="stable", ignore_index=True
    )
    family = words.FAMILY.format(column="kind") if len(means["kind"].unique()) > 1 else ""
    return GradeTrend(
        table=table[COLUMNS], grades=of_grade, level=level,
        verdicts=in_order([_verdict(row, lots) for row in table[COLUMNS].to_dict("records")]),
        method=words.METHOD.format(family=family, test=words.JONCKHEERE),
    )  # fmt: skip


def _graded(cells: Cells, order: dict[str, int], named: list[str]) -> pd.DataFrame:
    """kind, grade and its step of each lot, controls and standards left out."""
    if GRADE not in cells.lots:
        raise DesignError("no grades", where="the lots have no column grade", do="write it in the lots register")
    register = cells.lots[~cells.lots[ROLE].isin(ASIDE)].astype({LOT: str})
    grade = register[GRADE].fillna("").astype(str)
    step = grade.str.casefold().map(order)
    found = pd.DataFrame({LOT: register[LOT], GRADE: grade, STEP: step})
    found["kind"] = register["kind"].fillna("").astype(str) if "kind" in register else ""
    found = found[step.notna()].astype({STEP: int})
    if not len(found):
        have = [name for name in dict.fromkeys(grade) if name]
        raise DesignError("no lot of these grades", where=f"grades={named!r}", do=f"name them as the room does: {have}")
    return found.drop_duplicates(LOT).set_index(LOT)


def _means(cells: Cells, lots: pd.DataFrame, descriptors: Sequence[str] | None) -> pd.DataFrame:
    """Lot means by descriptor, freed of tasters' levels in each session; `mean` freed of session and kind too."""
    plain = senior_marks(cells)
    plain = plain[plain[LOT].isin(lots.index)]
    if descriptors is not None:
        plain = plain[plain[DESCRIPTOR].isin(list(descriptors))]
    if plain.empty:
        raise DesignError("no score on lots of these grades", where=f"grades={list(dict.fromkeys(lots[GRADE]))!r}",
                          do="taste them; trainees do not count")  # fmt: skip
    parts = []
    for (session, name), mine in plain.groupby([SESSION, DESCRIPTOR], sort=False):
        table = mine.pivot_table(index=LOT, columns=TASTER, values="score", aggfunc="mean")
        marks = table.to_numpy()[:, :, None]
        fit = fit_additive(marks, np.isfinite(marks))
        parts.append(pd.DataFrame({SESSION: session, DESCRIPTOR: name, LOT: table.index, "raw": fit.row[:, 0]}))
    out = pd.concat(parts, ignore_index=True).join(lots, on=LOT)
    key = [DESCRIPTOR, SESSION, "kind"]
    out["stratum"] = out.groupby(key, sort=False).ngroup()
    out["mean"] = (
        out["raw"] - out.groupby(key)["raw"].transform("mean") + out.groupby(DESCRIPTOR)["raw"].transform("mean")
    )
    return out


def _row(name: object, mine: pd.DataFrame, level: float, rng: np.random.Generator) -> dict[str, object]:
    y, step = mine["mean"].to_numpy(float), mine[STEP].to_numpy(int)
    fewest = int(mine[STEP].value_counts().min())
    row: dict[str, object] = {DESCRIPTOR: str(name), "lots": len(mine), "fewest": fewest}
    blank = dict.fromkeys(["statistic", "z", "p", "slope", "low", "high", "df"], np.nan)
    within = step - mine.groupby("stratum")[STEP].transform("mean").to_numpy(float)
    square, df = float((within**2).sum()), len(mine) - mine["stratum"].nunique() - 1
    if square <= 0 or df < 1 or np.ptp(y) == 0:
        return row | blank
    found = jonckheere(y, np.unique(step, return_inverse=True)[1], rng)
    slope = float(within @ y / square)
    own = mine.groupby("stratum")["raw"].transform("mean").to_numpy(float)
    left = mine["raw"].to_numpy(float) - own - slope * within
    reach = float(stdtrit(df, (1 + level) / 2) * np.sqrt((left**2).sum() / df / square))
    return row | {"statistic": found.statistic, "z": found.z, "p": found.p, "slope": slope, "low": slope - reach,
                  "high": slope + reach, "df": df}  # fmt: skip


def _verdict(row: Mapping[Hashable, Any], lots: pd.DataFrame) -> Verdict:
    word, question = row[DESCRIPTOR], words.QUESTION.format(word=row[DESCRIPTOR])
    ends = lots.sort_values(STEP, kind="stable")[GRADE].iloc[[0, -1]].tolist()
    if np.isnan(row["p"]):
        one = lots[STEP].nunique() < 2
        told, step = (words.ONE_GRADE, words.ONE_GRADE_STEP) if one else (words.ALIKE, words.ALIKE_STEP)
        return Verdict(question, word, words.CANNOT_TELL, told.format(word=word), {}, step, Act.TASTE_AGAIN)
    size = sized(row["slope"], row["low"], row["high"])
    fields = {
        "first": ends[0], "last": ends[1], "word": word, "slope": size["difference"], "interval": size["interval"],
        "lots": count(int(row["lots"]), "lot"),
    }  # fmt: skip
    numbers = {"change": row["slope"], "low": row["low"], "high": row["high"], "p": row["p_adjusted"]}
    if row["call"] == words.CANNOT_TELL:
        return Verdict(question, word, words.CANNOT_TELL, words.OPEN.format(**fields), numbers,
                       words.MORE.format(fewest=row["fewest"]), Act.TASTE_AGAIN)  # fmt: skip
    return Verdict(question, word, row["call"], words.TOLD.format(call=row["call"], **fields) + words.STEPS, numbers)
