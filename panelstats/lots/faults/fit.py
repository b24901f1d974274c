"""Faults noticed: a taint is a fact to find, not a score to average."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.objects import scores_whole
from panelstats.errors import DesignError
from panelstats.lots.faults import words
from panelstats.models.binomial import limits
from panelstats.result import Act, Chart, Mark, Result, Verdict, chart_rows, of_descriptor
from panelstats.scores.cells import LOT, TASTER
from panelstats.sheets.content.faultwords import FAULT_WORDS
from panelstats.speech import Phrase
from panelstats.words import count, listing, percent, stated

if TYPE_CHECKING:
    from collections.abc import Hashable

    from panelstats.scores.table import Scores

# Suspected mould is not tasted again (common practice; food-safety calls belong to a laboratory).
NEVER_AGAIN = ("mouldy",)
COLUMNS = [LOT, "fault", "noticed", "asked", "low", "high", "remarks"]


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class FaultsNoticed(Result):
    """Answer of `faults_noticed`.

    Attributes
    ----------
    table : DataFrame
        lot, fault, noticed (tasters), asked (tasters; missing where it was named in a free remark), low, high (exact
        interval of the share who would notice), remarks. Only lots on which somebody noticed something, largest share
        first.
    """

    table: pd.DataFrame

    def chart(self, descriptor: str | None = None) -> Chart:
        """A row for each lot and fault: the share of those asked who noticed it."""
        table = of_descriptor(self.table, descriptor)
        if not len(table):
            raise DesignError("nothing to draw", where="no fault was noticed", do="read the verdict")
        asked = table["asked"].astype(float)
        said = [
            Phrase("{n} of {of}").format(n=stated(n, ".0f"), of=stated(of, ".0f"))
            if np.isfinite(of)
            else Phrase("{n}, in a remark").format(n=stated(n, ".0f"))
            for n, of in zip(table["noticed"], asked, strict=True)
        ]
        return Chart(
            Phrase("Faults noticed"),
            Phrase("share of the tasters asked who noticed it (%)"),
            chart_rows([f"{lot}: {fault}" for lot, fault in zip(table[LOT], table["fault"], strict=True)],
                       value=table["noticed"] / asked, low=table["low"], high=table["high"],
                       marks=[Mark.FAULT] * len(table), notes=said),
            words=Phrase("the share who noticed, with the exact interval of the share who would"),
            ends=(0.0, 1.0),
            percent=True,
        )  # fmt: skip


@checked(scores=scores_whole)
def faults_noticed(scores: Scores, *, level: float = 0.95) -> FaultsNoticed:
    """Every lot on which a taster marked a fault or named one in a remark.

    Parameters
    ----------
    scores : Scores
        Trainees' marks count here: the only one who smells smoke may be the youngest.

    Examples
    --------
    >>> import pandas as pd, panelstats as pst
    >>> sheet = pd.DataFrame({"lot": ["12", "12", "14", "14"], "taster": ["elm", "yew"] * 2, "brisk": [6, 5, 4, 4],
    ...                       "remarks": ["", "slight smoke", "", ""]})
    >>> print(pst.faults_noticed(pst.read_scores(sheet)).verdicts[0].sentence)
    12: smoky, named by 1 taster in a remark ("slight smoke").
    """
    table = _counted(scores, level)
    share = (table["noticed"] / table["asked"]).fillna(0.0)
    table = table.assign(share=share).sort_values(["share", "noticed", LOT], ascending=[False, False, True])
    table = table.reset_index(drop=True)
    verdicts = tuple(_verdict(lot, rows) for lot, rows in table.groupby(LOT, sort=False)) or (_nothing(scores, level),)
    return FaultsNoticed(table=table[COLUMNS], verdicts=verdicts, method=words.METHOD)


def _counted(scores: Scores, level: float) -> pd.DataFrame:
    """Tasters who noticed each fault of each lot, of those asked; a remark asks nobody."""
    faults = scores.faults.assign(asked=scores.faults["said"] == "").astype({LOT: str, "fault": str, TASTER: str})
    by_taster = faults.groupby([LOT, "fault", TASTER])[["noticed", "asked"]].any().reset_index()
    groups = by_taster.groupby([LOT, "fault"])
    counts = groups.agg(noticed=("noticed", "sum"), tasters=("noticed", "count"), asked=("asked", "any")).reset_index()
    counts = counts[counts["noticed"] > 0].reset_index(drop=True)
    asked = np.where(counts["asked"], counts["tasters"], np.nan)
    tail = (1 - level) / 2
    low, high = limits(counts["noticed"], asked, below=tail, above=tail)
    remarks = [_remarks(scores, lot, fault) for lot, fault in zip(counts[LOT], counts["fault"], strict=True)]
    return counts.assign(asked=asked, low=low, high=high, remarks=remarks)


def _remarks(scores: Scores, lot: str, fault: str) -> str:
    """The remarks on a lot that name the fault, as written."""
    forms = FAULT_WORDS.get(fault, (fault,))
    said = scores.remarks.loc[scores.remarks[LOT].astype(str) == str(lot), "remark"].astype(str)
    return "; ".join(dict.fromkeys(text for text in said if any(form in text.lower() for form in forms)))


def _verdict(lot: object, rows: pd.DataFrame) -> Verdict:
    sentence = words.LOT.format(lot=lot, faults=listing([_part(row) for row in rows.to_dict("records")]))
    mouldy = bool(rows["fault"].isin(NEVER_AGAIN).any())
    numbers = {f"noticed {row['fault']}": float(row["noticed"]) for row in rows.to_dict("records")}
    step = words.NEVER_AGAIN if mouldy else words.TASTE_AGAIN
    return Verdict(words.QUESTION, str(lot), "set aside", sentence, numbers, step, Act.NOW)


def _part(row: dict[Hashable, Any]) -> str:
    noticed, fault = int(row["noticed"]), row["fault"]
    if pd.isna(row["asked"]):
        said = words.REMARK.format(remark=row["remarks"]) if row["remarks"] else ""
        return words.NAMED.format(fault=fault, tasters=count(noticed, "taster"), remark=said)
    reach = {"low": percent(row["low"]), "high": percent(row["high"])}
    return words.NOTICED.format(fault=fault, noticed=noticed, tasters=count(int(row["asked"]), "taster"), **reach)


def _nothing(scores: Scores, level: float) -> Verdict:
    tasters = scores.frame[TASTER].nunique()
    high = float(limits(0, tasters, below=0.5, above=(1 - level) / 2)[1])
    sentence = words.NOTHING.format(tasters=count(tasters, "taster"), high=percent(high))
    return Verdict(words.QUESTION, "", "not noticed", sentence, {"high": high}, "", Act.KNOW)
