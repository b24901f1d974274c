"""The lists of a day of many lots: class by class, word by word; and the lots by their marks where there is none."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from panelstats.lots.shortlist.listcalls import CANNOT
from panelstats.lots.worth import OVERALL
from panelstats.report.pages.daymarks import first_of_each, in_order, marks_told
from panelstats.report.pages.lotrows import Origin
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT
from panelstats.speech import Phrase
from panelstats.words import count, listing, number, percent, span

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.lots.shortlist.fit import Shortlist

_OPEN = {1: 10, 3: 5}  # lots of a list that stand open where there are so many lists at most; the rest unfold
_LEAST_OPEN = 3
_FIRST = 5  # lots to taste again that are named of several lists
_OUT_OF = Phrase("{right} of the {take} are expected to belong here; {out} of {lots} are out.")
_NO_LIST = Phrase("No list{on}: the lots spread no more than one look explains.")
_NOT_KNOWN = Phrase("No list{on}: {reason}.")
_WANTED = Phrase("all that is wanted")
_ON = Phrase(" on {words}")
_HIGHEST, _FARTHEST = Phrase("Highest marks first, no merit."), Phrase("Farthest from the class first, no merit.")
_RANGE = Phrase("{lots}: {what} {low} to {high}, half of them {middle}")


class Row(NamedTuple):
    """One lot of a list; its place is "" where there is no list."""

    rank: str
    lot: str
    origin: Origin
    chance: str
    marks: str
    said: str


class ShortList(NamedTuple):
    """The list of a class on a descriptor, or the lots of a class by their marks where there is none.

    `again` names what is to be tasted again, of several lists after a shorter line (`again_first`).
    """

    heading: str
    listed: bool
    rows: list[Row]
    rest: list[Row]
    sentence: str
    step: str = ""
    again: str = ""
    again_first: str = ""
    range: str = ""


class About(NamedTuple):
    """What is known of lots besides their marks, and those that get no place."""

    places: dict[str, Origin]
    said: dict[str, str]
    without: set[str]

    def row(self, lot: str, rank: str, chance: str, marks: str) -> Row:
        """A row of a list with all of it."""
        return Row(rank, lot, self.places.get(lot, Origin()), chance, marks, self.said.get(lot, ""))


def to_taste_again(found: Shortlist, lot_class: str, descriptor: str) -> list[str]:
    """The lots whose second look is expected to change a list most: as many as the list has places."""
    mine = _on(found.look_again, lot_class, descriptor)
    takes = _on(found.classes, lot_class, descriptor)["take"]
    return [str(lot) for lot in mine.loc[mine["gain"] > 0, LOT].head(int(takes.iloc[0]))]


def _on(table: pd.DataFrame, lot_class: str, descriptor: str) -> pd.DataFrame:
    """What a table says of a class on a descriptor."""
    return table[(table[CLASS] == lot_class) & (table[DESCRIPTOR] == descriptor)]


def leads(found: Shortlist) -> list[str]:
    """The descriptors that have a list on the first screen: overall alone where the room said what it wants."""
    names = list(dict.fromkeys(found.table[DESCRIPTOR].astype(str)))
    return [OVERALL] if OVERALL in names else names


def day_lists(found: Shortlist, about: About) -> list[ShortList]:
    """Class by class the lists there are, then why there is no more; a class without any shows its lots by marks."""
    classes = list(dict.fromkeys(found.table[CLASS].astype(str)))
    out = []
    for name in classes:
        heading = name if len(classes) > 1 else ""
        mine = found.table[found.table[CLASS] == name]
        passed = set(mine.loc[mine["listed"], DESCRIPTOR])
        lists = [_list(found, name, word, about, heading) for word in leads(found) if word in passed]
        rest = [word for word in leads(found) if word not in passed]
        out += lists
        if rest:
            out.append(_without(found, name, rest, about, heading) if not lists else _why(found, name, rest, heading))
    return _said_once(_opened(out, found))


def _list(found: Shortlist, name: str, word: str, about: About, heading: str) -> ShortList:
    table = _on(found.table, name, word)
    table = table[~table[LOT].isin(list(about.without))]
    chosen, marked = table[table["listed"]], _marked(found.table[found.table[CLASS] == name])
    rows = [
        about.row(str(lot), str(at + 1), percent(chance), marked.get(str(lot), ""))
        for at, (lot, chance) in enumerate(zip(chosen[LOT], chosen["chance_best"], strict=True))
    ]
    again = to_taste_again(found, name, word)
    first, more = ", ".join(again[:_FIRST]), len(again) - _FIRST
    first = Phrase("{again} and {first} more").format(again=first, first=more) if more > 1 else ""
    return ShortList(
        ", ".join(filter(None, (heading, "" if word == OVERALL else word))), True, rows, [],
        _right(found, name, word), again=listing(sorted(again)), again_first=first, range=_range(table),
    )  # fmt: skip


def _without(found: Shortlist, name: str, words: list[str], about: About, heading: str) -> ShortList:
    """The lots of a class of which nothing can be ranked."""
    marked = marks_told(found, name)
    rows = [about.row(lot, "", "", marked.get(lot, "")) for lot in in_order(found, name, about.without)]
    table = found.table[(found.table[CLASS] == name) & found.table[DESCRIPTOR].isin(words)]
    why = _why(found, name, words, heading)
    order = _HIGHEST if OVERALL in words else _FARTHEST
    lots = count(int(table[LOT].nunique()), "lot") if heading else ""
    return why._replace(rows=rows, sentence=f"{why.sentence} {order}" if rows else why.sentence, range=lots)


def _why(found: Shortlist, name: str, words: list[str], heading: str) -> ShortList:
    """Why there is no list on some words, and what would give one."""
    reasons: dict[str, list[str]] = {}
    ps = dict(found.classes.loc[found.classes[CLASS] == name, [DESCRIPTOR, "p"]].to_numpy())
    every = found.table[found.table[CLASS] == name].drop_duplicates(DESCRIPTOR).set_index(DESCRIPTOR)["reason"]
    for word in words:
        p = float(ps[word])
        alike = np.isfinite(p) and p > 1 - found.level
        reasons.setdefault("" if alike else str(every.get(word, "")), []).append(word)
    whole = len(reasons) == 1 and len(words) == len(leads(found))
    told = []
    for reason, some in reasons.items():
        on = "" if whole else _ON.format(words=listing(_WANTED if word == OVERALL else word for word in some))
        told.append((_NOT_KNOWN if reason else _NO_LIST).format(on=on, reason=reason))
    step = next((v.next_step for v in found.verdicts if v.call == CANNOT and v.next_step), "")
    return ShortList(heading, False, [], [], " ".join(told), step)


def _opened(lists: list[ShortList], found: Shortlist) -> list[ShortList]:
    """The fewer lists there are, the more of each stands open; of lots in no order only the first are shown."""
    shown = next((open_ for most, open_ in _OPEN.items() if len(lists) <= most), _LEAST_OPEN)
    takes = int(found.classes["take"].max())
    several = sum(one.listed for one in lists) > 1
    return [
        one._replace(rows=one.rows[:shown], rest=one.rows[shown:] if one.listed else one.rows[shown:][:takes],
                     again_first=one.again_first if several else "")
        for one in lists
    ]  # fmt: skip


def _said_once(lists: list[ShortList]) -> list[ShortList]:
    """The lists, what is said and asked for where there is none said of the first that it holds for."""
    out: list[ShortList] = []
    for one in lists:
        told = {each.sentence for each in out if not each.listed}, {each.step for each in out}
        sentence = "" if not one.listed and one.sentence in told[0] else one.sentence
        out.append(one._replace(sentence=sentence, step="" if one.step in told[1] else one.step))
    return [one for one in out if one.rows or one.sentence]


def _right(found: Shortlist, name: str, word: str) -> str:
    """How much of the list is right."""
    line, every = _on(found.classes, name, word).iloc[0], _on(found.table, name, word)
    right, out = float(every.loc[every["listed"], "chance_best"].sum()), int((every["call"] == "out").sum())
    return _OUT_OF.format(right=round(right), take=int(line["take"]), out=out, lots=int(line["lots"]))


def _range(table: pd.DataFrame) -> str:
    """Where the marks of a class lie."""
    if not len(table):
        return ""
    overall = bool((table[DESCRIPTOR] == OVERALL).any())
    if overall and table["merit"].isna().all():
        return count(len(table), "lot")  # a sum of words has no scale of its own
    values = table["merit"] if overall else table["score"]
    low, high = (number(float(end), 1, sign=overall) for end in (values.min(), values.max()))
    middle = span(values.quantile([0.25, 0.75]), 1)
    what = Phrase("merit") if overall else Phrase("marks")
    return _RANGE.format(lots=count(len(table), "lot"), what=what, low=low, high=high, middle=middle)


def _marked(mine: pd.DataFrame) -> dict[str, str]:
    """What marks each lot out: the words on which its merit is shown to lie beside its class, the largest first."""
    words = mine[(mine[DESCRIPTOR] != OVERALL) & mine["merit"].notna() & ((mine["low"] > 0) | (mine["high"] < 0))]
    words = words.sort_values("merit", key=np.abs, ascending=False, kind="stable")
    return first_of_each(words, words["merit"])
