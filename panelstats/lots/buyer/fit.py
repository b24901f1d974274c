"""Lots as a buyer may be told of them: words before numbers, and no word that an interval does not support."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.lots.buyer import words
from panelstats.lots.buyer.earlier import earlier_classes
from panelstats.lots.buyer.profiles import profile_rows
from panelstats.lots.plaintables import ASIDE
from panelstats.result import Act, Chart, Result, Verdict, chart_rows, in_order, of_descriptor
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, ROLE, SESSION, STAGE
from panelstats.speech import Phrase, said
from panelstats.words import capital, count, decimals, listing, number, stated, stated_percent

if TYPE_CHECKING:
    from collections.abc import Collection

    from panelstats.scores.table import Scores

# Words told of a lot, for what it has more and less of (ours); the picture shows all.
MOST_MORE, MOST_LESS = 3, 2
SAID = "said"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class LotProfiles(Result):
    """Answer of `describe_lots`.

    Attributes
    ----------
    lots : DataFrame
        lot, class, others (lots of its class tasted beside it), tasters, looks (a taster's at it, on average), said
        (what sets it apart, in words), trust (how far a word may be off), not_tasted.
    table : DataFrame
        lot, stage, descriptor, mean, difference (from the mean of its class, points), low, high (at `level`, each by
        itself), sure_low, sure_high (allowed for all words of the lot), said (more, less or ""), standard (where the
        standard lies, NaN if none), last_season (where the class lay, NaN where nothing joins the seasons).
    level : float
    """

    lots: pd.DataFrame
    table: pd.DataFrame
    level: float

    def of_lot(self, lot: str) -> pd.DataFrame:
        """The rows of `table` on one lot."""
        return self.table[self.table[LOT] == lot]

    def chart(self, descriptor: str | None = None) -> Chart:
        """Lots less the mean of their class on one descriptor; by default all of the first lot."""
        if descriptor is not None:
            table = of_descriptor(self.table, descriptor)
            return _chart(
                Phrase("{descriptor}: lots against their class").format(descriptor=descriptor), table, LOT, self.level
            )
        if not len(self.table):
            raise DesignError("nothing to draw", where="no lot was described", do="name a lot that was tasted")
        lot = str(self.table[LOT].iloc[0])
        return _chart(Phrase("{lot} against its class").format(lot=lot), self.of_lot(lot), DESCRIPTOR, self.level)

    def stage_charts(self) -> dict[str, list[Chart]]:
        """By lot, a chart for each stage in which it was tasted, all on one scale."""
        charts: dict[str, list[Chart]] = {lot: [] for lot in self.lots[LOT]}
        known = self.table.dropna(subset=["difference"])
        for (lot, stage), rows in known.groupby([LOT, STAGE], sort=False):
            charts[str(lot)].append(_chart(said(str(stage) or "all words"), rows, DESCRIPTOR, self.level))
        return charts


def _chart(title: str, table: pd.DataFrame, label: str, level: float) -> Chart:
    rows = chart_rows(table[label], notes=table[SAID], value=table["difference"], low=table["low"], high=table["high"],
                      standard=table["standard"], earlier=table["last_season"])  # fmt: skip
    return Chart(
        title,
        Phrase("lot less the mean of its class (points)"),
        rows,
        Phrase("with its {level} interval").format(level=stated_percent(level)),
        0.0,
    )


@checked()
def describe_lots(
    scores: Scores, found: Result, *, lots: Collection[str] | None = None, session: str | None = None
) -> LotProfiles:
    """What may be told of lots to somebody who was not in the room.

    Parameters
    ----------
    scores : Scores
        All sessions that were read: earlier ones say where a class lay last season.
    found : LotComparison or Shortlist
        Of the session told of.
    lots : collection of str, optional
        Which ones; by default all but controls and standards.
    session : str, optional
        Which one; by default the last that was tasted.

    Raises
    ------
    DesignError
        `found` compares no lots, or a lot was not tasted.

    Notes
    -----
    A word is used where the lot's interval, widened by Bonferroni over the words asked of the lot, excludes the mean of
    its class.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.bench()
    >>> scores = pst.read_scores(room.frame, room=room.registers)
    >>> told = pst.describe_lots(scores, pst.compare_lots(scores), lots=["411"])
    >>> print(told.lots["said"].iloc[0])
    More brisk, coppery and bright, less even and black than its class (black broken; 11 other lots).
    """
    when = session or str([s for s in scores.sessions[SESSION] if s in set(scores.frame[SESSION])][-1])
    rows = profile_rows(scores, found, when)
    asked = _asked(scores, rows, lots)
    earlier, joined = earlier_classes(scores, when)
    table = _table(rows[rows[LOT].isin(asked)], rows, earlier)
    level = float(getattr(found, "level", 0.95))
    table = _sure(table, level)
    told = _lots(scores, table, rows, asked, when)
    apart = set(table.loc[table[SAID] != words.NOT_SHOWN, LOT])
    rule = words.RULE.format(level=stated_percent(level), n=table[DESCRIPTOR].nunique())
    return LotProfiles(
        lots=told,
        table=table,
        level=level,
        verdicts=in_order([
            Verdict(words.QUESTION, lot, words.SET_APART if lot in apart else words.NOT_SET_APART,
                    f"{lot}: {said[:1].lower()}{said[1:]}", {}, "", Act.KNOW)
            for lot, said in zip(told[LOT], told[SAID], strict=True)
        ]),
        method=words.METHOD.format(rule=rule, joined=listing(joined) or words.NO_JOIN),
    )  # fmt: skip


def _asked(scores: Scores, rows: pd.DataFrame, lots: Collection[str] | None) -> list[str]:
    aside = set(scores.lots.loc[scores.lots[ROLE].isin(ASIDE), LOT].astype(str))
    tasted = list(dict.fromkeys(rows[LOT]))
    if lots is None:
        return [lot for lot in tasted if lot not in aside]
    missing = [str(lot) for lot in lots if str(lot) not in tasted]
    if missing:
        raise DesignError("no such lot was tasted", where=f"lot {missing[0]!r}", do=f"choose of {listing(tasted[:6])}")
    return [str(lot) for lot in lots]


def _table(mine: pd.DataFrame, every: pd.DataFrame, earlier: pd.DataFrame) -> pd.DataFrame:
    """Rows of the lots asked for, with where the standard and the class last season lie."""
    standards = every[every[ROLE] == "standard"].groupby([CLASS, DESCRIPTOR])["mean"].mean()
    level = every[~every[ROLE].isin(ASIDE)].groupby([CLASS, DESCRIPTOR])["mean"].mean()
    key = pd.MultiIndex.from_frame(mine[[CLASS, DESCRIPTOR]])
    of_any = every[every[ROLE] == "standard"].groupby(DESCRIPTOR)["mean"].mean()
    standard = standards.reindex(key).to_numpy(float)
    standard = np.where(np.isnan(standard), of_any.reindex(mine[DESCRIPTOR]).to_numpy(float), standard)
    middle = level.reindex(key).to_numpy(float)
    before = earlier.set_index([CLASS, DESCRIPTOR])["mean"].reindex(key).to_numpy(float) if len(earlier) else np.nan
    return mine.assign(standard=standard - middle, last_season=before - middle).reset_index(drop=True)


def _sure(table: pd.DataFrame, level: float) -> pd.DataFrame:
    """Intervals allowed for all words of a lot, and what they let one say."""
    asked = table.groupby(LOT)["difference"].transform("count").clip(lower=1).to_numpy(float)
    df = table["df"].fillna(1e9).clip(1, 1e9).to_numpy(float)
    wider = stdtrit(df, 1 - (1 - level) / 2 / asked) / stdtrit(df, (1 + level) / 2)
    low = table["difference"] - wider * (table["difference"] - table["low"])
    high = table["difference"] + wider * (table["high"] - table["difference"])
    said = np.select([low > 0, high < 0], [words.MORE, words.LESS], words.NOT_SHOWN)
    table = table.assign(sure_low=low, sure_high=high, said=said)
    return table[[LOT, CLASS, STAGE, DESCRIPTOR, "mean", "difference", "low", "high", "sure_low", "sure_high", SAID,
                  "standard", "last_season"]]  # fmt: skip


def _lots(scores: Scores, table: pd.DataFrame, every: pd.DataFrame, asked: list[str], when: str) -> pd.DataFrame:
    frame = scores.frame[scores.frame[SESSION].astype(str) == when]
    lot, taster = frame[LOT].astype(str), frame["taster"].astype(str)
    tasters = taster.groupby(lot).nunique()
    cups = (
        frame.assign(lot=lot, taster=taster)[["lot", "taster", "pot", "look"]].drop_duplicates().groupby("lot").size()
    )
    ranked = every[~every[ROLE].isin(ASIDE)]
    size = ranked.groupby(CLASS)[LOT].nunique()
    by_lot, stages = dict(list(table.groupby(LOT, sort=False))), _words_by_stage(scores)
    out = []
    for name in asked:
        mine = by_lot[name]
        others = int(size.get(mine[CLASS].iloc[0], 1)) - 1
        people, looks = int(tasters.get(name, 0)), cups.get(name, 0) / max(tasters.get(name, 1), 1)
        out.append({
            LOT: name, CLASS: mine[CLASS].iloc[0], "others": others, "tasters": people, "looks": looks,
            SAID: _said(mine, others), "trust": _trust(mine, people, looks), "not_tasted": _not_tasted(mine, stages),
        })  # fmt: skip
    return pd.DataFrame(out, columns=[LOT, CLASS, "others", "tasters", "looks", SAID, "trust", "not_tasted"])


def _said(mine: pd.DataFrame, others: int) -> str:
    """What sets a lot apart, the largest first; nothing that its interval does not support."""
    if others < 1:
        return words.BY_ITSELF
    name = str(mine[CLASS].iloc[0])
    of = words.THE_CLASS.format(name=f"{name}; " if name else "", n=count(others, "other lot"))
    order = mine.sort_values("difference", key=np.abs, ascending=False, kind="stable")
    more, less = (list(order.loc[order[SAID] == side, DESCRIPTOR]) for side in (words.MORE, words.LESS))
    parts = [words.MORE_OF.format(words=listing(more[:MOST_MORE]))] if more else []
    parts += [words.LESS_OF.format(words=listing(less[:MOST_LESS]))] if less else []
    if not parts:
        return words.LIKE_CLASS.format(lot_class=of)
    if len(parts) == 2:
        return words.BOTH.format(more=capital(parts[0]), less=parts[1], lot_class=of)
    return words.ONE.format(one=capital(parts[0]), lot_class=of)


def _trust(mine: pd.DataFrame, tasters: int, looks: float) -> str:
    half = ((mine["high"] - mine["low"]) / 2).dropna()
    if not len(half):
        return ""
    places = max(1, decimals(float(half.min()) / 2))
    low, high = number(half.min(), places), number(half.max(), places)
    people = count(tasters, "taster")
    each = "one look each" if looks < 1.5 else Phrase("about {looks} looks each").format(looks=stated(looks, ".0f"))
    return words.TRUST.format(
        tasters=people, looks=each, reach=low if low == high else Phrase("{low} to {high}").format(low=low, high=high)
    )


def _words_by_stage(scores: Scores) -> dict[str, list[str]]:
    """What the room scores, stage by stage."""
    register = scores.descriptors.drop_duplicates(DESCRIPTOR)
    known = register[register["kind"].astype(str).isin(["score", "nan", ""])] if "kind" in register else register
    names = known[DESCRIPTOR].astype(str).groupby(known[STAGE].fillna("").astype(str), sort=False)
    return {str(stage): list(some) for stage, some in names}


def _not_tasted(mine: pd.DataFrame, stages: dict[str, list[str]]) -> str:
    seen = set(mine.loc[mine["mean"].notna(), DESCRIPTOR])
    missing = []
    for stage, names in stages.items():
        gone = [name for name in names if name not in seen]
        if gone and len(gone) == len(names) and stage:
            missing.append(words.WHOLE_STAGE.format(stage=stage))
        else:
            missing += gone
    return words.NOT_TASTED.format(what=listing(missing)) if missing else ""
