"""The verdicts of a letter to a garden: what to look at first, and where it stands beside its class."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.garden import words
from panelstats.lots.garden.ownlots import FEWEST_OTHERS
from panelstats.lots.garden.words import ABOVE, BELOW, CANNOT_TELL, WITH
from panelstats.models.lotsneeded import MOST_LOTS, settling_lots
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR
from panelstats.speech import Phrase, said
from panelstats.words import count, listing, sized

if TYPE_CHECKING:
    from collections.abc import Hashable, Mapping, Sequence
    from typing import Any

    from panelstats.lots.makes.fit import MakeEffects

    Record = Mapping[Hashable, Any]


def unwanted(row: Record) -> bool:
    """Whether a descriptor lies off its class on the side that is not wanted."""
    return (row["call"], row["wanted"]) in ((ABOVE, "less"), (BELOW, "more"))


def standing_verdicts(summary: pd.DataFrame, *, charted: bool) -> list[Verdict]:
    """One for each descriptor off its class, one for those with it, one for those left open, one without a class."""
    rows = summary.to_dict("records")
    out = [_apart(row, charted=charted) for row in rows if row["call"] in (ABOVE, BELOW)]
    alike = summary[summary["call"] == WITH]
    if len(alike):
        told = words.ALIKE.format(descriptors=listing(alike[DESCRIPTOR]), furthest=_furthest(alike))
        out.append(Verdict(words.QUESTION, listing(alike[DESCRIPTOR]), WITH, told))
    rest = summary[summary["call"] == CANNOT_TELL]
    known = rest["difference"].notna()
    if known.any():
        some = rest[known]
        told = words.OPEN.format(descriptors=listing(some[DESCRIPTOR]), furthest=_furthest(some))
        out.append(Verdict(words.QUESTION, listing(some[DESCRIPTOR]), CANNOT_TELL, told, {}, _more(some),
                           Act.TASTE_AGAIN))  # fmt: skip
    if (~known).any():
        names = listing(rest.loc[~known, DESCRIPTOR])
        told = words.NO_CLASS.format(descriptors=names, fewest=FEWEST_OTHERS)
        out.append(Verdict(words.QUESTION, names, CANNOT_TELL, told, {}, words.MORE_OTHERS, Act.TASTE_AGAIN))
    return out


def _apart(row: Record, *, charted: bool) -> Verdict:
    off = unwanted(row) or row["wanted"] not in ("more", "less")
    told = words.APART.format(
        descriptor=row[DESCRIPTOR],
        call=said(str(row["call"])),
        now=said(words.NOW if charted else words.OVERALL),
        since=words.SINCE.format(since=Phrase("the week of {since}").format(since=row["since"]))
        if row["since"]
        else "",
        lots=count(int(row["lots"]), "lot"),
        wanted=_wanted(row),
        **sized(row["difference"], row["low"], row["high"]),
    )
    numbers = {"deviation": row["difference"], "low": row["low"], "high": row["high"]}
    step = _look(row) if off else ""
    act = Act.DECIDE if off else Act.KNOW
    return Verdict(words.QUESTION, row[DESCRIPTOR], row["call"], told, numbers, step, act)


def _wanted(row: Record) -> str:
    return words.WANTED.format(wanted=row["wanted"]) if row["wanted"] in ("more", "less") else ""


def _look(row: Record) -> str:
    if row["tells"]:
        return words.LOOK.format(tells=said(row["tells"]))
    return words.LOOK_STAGE.format(tells=said(row["stage"])) if row["stage"] else ""


def _furthest(rows: pd.DataFrame) -> str:
    row = rows.iloc[int(rows["difference"].abs().argmax())]
    return words.FURTHEST.format(descriptor=row[DESCRIPTOR], **sized(row["difference"], row["low"], row["high"]))


def _more(rows: pd.DataFrame) -> str:
    """Lots with which the widest open interval would lie within the tolerance, were there no difference."""
    known = rows[rows["tolerance"] > 0]
    if known.empty:
        return words.NO_TOLERANCE
    needed = settling_lots(known["lot_sd"].to_numpy(float), known["tolerance"].to_numpy(float)).max()
    if not np.isfinite(needed):
        return words.MANY_LOTS.format(lots=MOST_LOTS)
    return words.MORE_LOTS.format(lots=int(needed)) if needed > known["lots"].min() else words.MORE_WEEKS


def first_verdict(
    summary: pd.DataFrame, changes: pd.DataFrame, makes: Sequence[MakeEffects], faulty: list[str]
) -> Verdict:
    """What the factory should look at first: a change that something went with, else what lies off its class."""
    faults = words.FAULTY.format(lots=listing(faulty)) if faulty else ""
    change = _change(changes, makes)
    if change:
        return Verdict(words.FIRST_QUESTION, "", words.OFTEN, faults + change, {}, words.BOTH_SETTINGS, Act.DECIDE)
    rows = [row for row in summary.to_dict("records") if row["call"] in (ABOVE, BELOW)]
    off, either = [row for row in rows if unwanted(row)], [row for row in rows if row["wanted"] not in ("more", "less")]
    if off or either:
        told = _off(off, words.UNWANTED) if off else _off(either, words.EITHER)
        return Verdict(words.FIRST_QUESTION, "", words.OFTEN, faults + told, {}, "", Act.DECIDE)
    step = "" if makes else words.WRITE_MAKING
    return Verdict(words.FIRST_QUESTION, "", words.NOTHING, faults + words.NOTHING_FOUND, {}, step, Act.KNOW)


def _change(changes: pd.DataFrame, makes: Sequence[MakeEffects]) -> str:
    """The column with which most went, dated where it was changed on a day; "" where nothing did."""
    shown = [each.pairs[each.pairs["wording"] != CANNOT_TELL] for each in makes]
    shown = [each for each in shown if len(each)]
    if not shown:
        return ""
    return _told(changes, pd.concat(shown))


def _told(changes: pd.DataFrame, shown: pd.DataFrame) -> str:
    column = str(shown["column"].value_counts().index[0])
    mine, dated = shown[shown["column"] == column], changes[changes["column"] == column]
    template, told = words.DIFFERED, {"column": column}
    if len(dated):
        row = dated.iloc[-1]
        template, before, after = words.CHANGED, str(row["before"]), str(row["after"])
        told |= {
            "since": str(row["since"]),
            **{name: count(int(row[name]), "lot") for name in ("lots_before", "lots_after")},
        }
    else:
        before, after = str(mine.iloc[0]["setting_b"]), str(mine.iloc[0]["setting_a"])
    effects = [
        _turned(row, after)
        for row in mine.to_dict("records")
        if {row["setting_a"], row["setting_b"]} == {before, after}
    ]
    return template.format(before=before, after=after, effects=listing(effects), **told) if effects else ""


def _turned(row: Record, after: str) -> str:
    """The difference of a pair, the setting `after` less the other."""
    way = 1 if row["setting_a"] == after else -1
    low, high = sorted((way * row["low"], way * row["high"]))
    return words.EFFECT.format(descriptor=row[DESCRIPTOR], **sized(way * row["difference"], low, high))


def _off(rows: Sequence[Record], template: str) -> str:
    """The step of the making that most descriptors off their class tell of."""
    names = [row["tells"] or row["stage"] or "the making" for row in rows]
    most = max(dict.fromkeys(names), key=names.count)
    effects = [
        words.EFFECT.format(descriptor=row[DESCRIPTOR], **sized(row["difference"], row["low"], row["high"]))
        for row, name in zip(rows, names, strict=True)
        if name == most
    ]
    return template.format(tells=said(most), effects=listing(effects))
