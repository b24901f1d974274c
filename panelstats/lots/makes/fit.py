"""What went with the making of lots: each make held against the scatter of the lots within it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import from_one
from panelstats.arguments.wording import one_of
from panelstats.errors import DesignError
from panelstats.lots.makes import words
from panelstats.lots.makes.layout import Tasted
from panelstats.lots.makes.makecalls import make_verdicts, word_verdicts
from panelstats.lots.makes.tables import COLUMN, MOST_AS_SETTINGS, Asked, found_tables
from panelstats.lots.makes.wordcounts import WORDS, word_counts
from panelstats.lots.plaintables import tolerances
from panelstats.result import Chart, Mark, Result, chart_rows, in_order, of_descriptor
from panelstats.scores.cells import DESCRIPTOR, Cells, cells_from
from panelstats.speech import Phrase
from panelstats.words import count, stated_percent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from panelstats.scores.table import Scores


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class MakeEffects(Result):
    """Answer of `compare_makes`.

    Attributes
    ----------
    table : DataFrame
        column, descriptor, kind (settings, slope, together), lots, days (on which they were made; NaN where not
        written), left_out (lots without it), statistic (F), df, df_error, p, p_adjusted, lot_sd (SD of a lot's mean
        about its make, points), lots_each (of each setting, to show the tolerance with power 80 %), call (went with,
        caused, cannot tell, cannot tell which), reason (why there is no test).
    means : DataFrame
        column, descriptor, setting, lots, days, mean, se, df, low, high. Where all tasters scored all lots the mean is
        that of these tasters; else their levels are part of its error.
    pairs : DataFrame
        column, descriptor, setting_a, setting_b, difference, se, df, low, high (each at `level`), p, p_adjusted,
        lots_each, wording.
    slopes : DataFrame
        column, descriptor, lots, seen_low, seen_high, usual_low, usual_high (10 and 90 % points), slope (points per
        unit, with the other slopes in the model), se, df, low, high, per_range, range_low, range_high, p, alone,
        alone_low, alone_high (its slope without the others), inflation, p_joint.
    words : DataFrame
        column, setting, word, said, lots (said of, of how many), rest_said, rest_lots, p, p_adjusted.
    level : float
    """

    table: pd.DataFrame
    means: pd.DataFrame
    pairs: pd.DataFrame
    slopes: pd.DataFrame
    words: pd.DataFrame
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for every pair of settings and every slope over its usual range."""
        asked = set(of_descriptor(self.table, descriptor)[DESCRIPTOR])
        pairs, slopes = (table[table[DESCRIPTOR].isin(asked)] for table in (self.pairs, self.slopes))
        if not len(pairs) + len(slopes):
            raise DesignError("nothing to draw", where="no make could be compared", do="read the verdicts")
        every = pd.concat([_pair_rows(pairs), _slope_rows(slopes, self.table)]).sort_values("group", kind="stable")
        marks = [
            Mark.OPEN if note not in (words.WENT_WITH, words.CAUSED) else Mark.HIGHER if value > 0 else Mark.LOWER
            for note, value in zip(every["note"], every["value"], strict=True)
        ]
        rows = chart_rows(every["label"], marks=marks, notes=every["note"], groups=every["group"], value=every["value"],
                          low=every["low"], high=every["high"])  # fmt: skip
        sure = stated_percent(self.level)
        return Chart(
            Phrase("What went with the making"),
            Phrase("difference (points)"),
            rows,
            Phrase("each with its {sure} interval").format(sure=sure),
            0.0,
        )


_DRAWN = ["label", "group", "value", "low", "high", "note"]


def _pair_rows(pairs: pd.DataFrame) -> pd.DataFrame:
    label = pairs[COLUMN].astype(str) + " " + pairs["setting_a"].astype(str) + " less " + pairs["setting_b"].astype(str)
    named = {DESCRIPTOR: "group", "difference": "value", "wording": "note"}
    return pairs.rename(columns=named).assign(label=label)[_DRAWN]


def _slope_rows(slopes: pd.DataFrame, table: pd.DataFrame) -> pd.DataFrame:
    calls = slopes.merge(table, on=[COLUMN, DESCRIPTOR], how="left")["call"].fillna(words.WHICH)
    drawn = slopes[[DESCRIPTOR, "per_range", "range_low", "range_high"]].set_axis(_DRAWN[1:5], axis=1)
    return drawn.assign(label=slopes[COLUMN].astype(str) + Phrase(" over its usual range"), note=calls.to_numpy())[
        _DRAWN
    ]


@checked(across=one_of("holm", "bh", "none"), searches=from_one)
def compare_makes(
    scores: Scores | Cells,
    by: str | Sequence[str],
    *,
    across: str | None = None,
    searches: int = 1,
    tolerance: float | Mapping[str, float] | None = None,
    level: float = 0.95,
) -> MakeEffects:
    """What went with the making of lots, the lots within a make as the error.

    Parameters
    ----------
    scores : Scores or Cells
        One session or several; trainees, controls and standards do not count.
    by : str or sequence of str
        Columns of the lots register. One alone is a declared question (Holm over descriptors); several are a search
        (Benjamini and Hochberg over columns and descriptors). A column of more than five numbers is a slope, any other
        has settings.
    across : {"holm", "bh", "none"}, optional
        How p-values are adjusted, where it is not to follow from `by`.
    searches : int
        Searches like this one that are made together, one a garden for instance: p-values are multiplied by it.
    tolerance : float or mapping of descriptor to float, optional
        Smallest difference that matters, in points: `lots_each` is for it. By default the register's.
    level : float in (0, 1)
        Coverage of the intervals; a test is at 1 - level.

    Raises
    ------
    DesignError
        No such column in the lots register, or nothing but controls and standards was tasted.

    Notes
    -----
    Where all tasters scored all lots: one-way analysis of variance of the lots' means. Else REML with taster, lot (and
    day within make, where the lots register says when lots were made) random, Satterthwaite degrees of freedom. Lots
    of several classes or sessions are compared within them.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"lot": list("abcdef"), "taster": "elm", "brisk": [6, 5.5, 6.5, 4, 4.5, 3.5]})
    >>> lots = pd.DataFrame({"lot": list("abcdef"), "rolling": ["long"] * 3 + ["short"] * 3})
    >>> print(compare_makes(pst.read_scores(sheet, room={"lots": lots}), "rolling").verdicts[0].sentence)
    rolling long against short went with brisk +2.0 (+0.9 to +3.1), over 6 lots.
    """
    cells = cells_from(scores)
    columns = [by] if isinstance(by, str) else list(dict.fromkeys(by))
    tasted = Tasted.of(cells)
    if tasted.scores.empty:
        raise DesignError("no lot to compare", where="all that was tasted is a control or a standard",
                          do="taste lots whose making is known")  # fmt: skip
    sizes = {str(name): float(size) for name, size in tolerances(cells.descriptors, tolerance).items()}
    asked, rule = Asked(tasted, level, sizes), across or ("holm" if len(columns) == 1 else "bh")
    tables = found_tables(asked, columns, rule, searches=searches)
    settings = [name for name in columns if not asked.is_slope(name)]
    said = pd.DataFrame(columns=WORDS) if isinstance(scores, Cells) else word_counts(scores, asked, settings, rule)
    return MakeEffects(
        **tables,
        words=said,
        level=level,
        verdicts=in_order([*make_verdicts(tables, sizes), *word_verdicts(said, level)]),
        method=words.METHOD.format(most=MOST_AS_SETTINGS, family=_family(tables["table"], rule, searches, level)),
    )


def _family(table: pd.DataFrame, rule: str, searches: int, level: float) -> str:
    """How many tests stand together, and how that was allowed for."""
    sizes = {"tests": count(int(table["p"].notna().sum()), "test"), "columns": count(table[COLUMN].nunique(), "column"),
             "by": count(table[DESCRIPTOR].nunique(), "descriptor")}  # fmt: skip
    more = words.SEARCHES.format(n=searches) if searches > 1 else ""
    template = {"holm": words.DECLARED, "bh": words.SEARCH}.get(rule, words.UNADJUSTED)
    return template.format(**sizes, searches=more, share=stated_percent(1 - level))
