"""What a room may want to know, in its words: what each question needs, and the review that answers it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import panelstats as pst
from panelstats.desk import plans
from panelstats.desk.entries import COUNT, NUMBER, Entry, Facts, Given, names

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import pandas as pd


class Source(NamedTuple):
    """What a review is made from: the room's folder, its scores, read when first wanted, and the lists beside them.

    `known` gives the scores without what stands open, None where there are none: who sat, which sessions there were.
    """

    folder: Path
    read: Callable[[], pst.Scores]
    known: Callable[[], pst.Scores | None]
    tell: Callable[[str], None]
    lists: frozenset[str] = frozenset()  # answers, densities, stock

    @property
    def densities(self) -> pd.DataFrame | None:
        """Weighings of the leaf, where there are some."""
        return pst.read_densities(self.folder) if "densities" in self.lists else None

    @property
    def stock(self) -> pd.DataFrame | None:
        """The list of the stock, where there is one."""
        return pst.read_stock(self.folder) if "stock" in self.lists else None


class Ask(NamedTuple):
    """A question: the words, what it says it tells, what the data lack, its review, what it asks back, more pages."""

    words: str
    tells: str
    ending: str
    lacks: Callable[[Facts], str]
    review: Callable[[Source, Given], pst.Review]
    entries: tuple[Entry, ...] = ()
    more: Callable[[pst.Review, Path, Source, Given], None] | None = None  # writes into the folder beside the page


def _scores(facts: Facts) -> str:
    return "" if facts["lots"] else "sheets with scores"


def _two(facts: Facts) -> str:
    return _scores(facts) or ("" if len(facts["tasters"]) > 1 else "a second taster beside the first")


def _trainees(facts: Facts) -> str:
    return _two(facts) or ("" if facts["trainees"] else "a taster whose role in room.xlsx, sheet tasters, is trainee")


def _sessions(facts: Facts) -> str:
    return _scores(facts) or ("" if len(facts["sessions"]) > 1 else "sheets of more than one session")


def _lots(facts: Facts) -> str:
    return _scores(facts) or ("" if len(facts["lots"]) > 1 else "a second lot beside the first")


def _gardens(facts: Facts) -> str:
    return _scores(facts) or (
        "" if facts["gardens"] else "a column garden beside the lots, or in room.xlsx, sheet lots"
    )


def _money(facts: Facts) -> str:
    return _scores(facts) or ("" if facts["money"] else "a column of prices or valuations beside the lots")


def _table(name: str, what: str) -> Callable[[Facts], str]:
    return lambda facts: "" if facts[name] else what


def _session(source: Source, given: Given, *, shortlist: bool | None = None) -> pst.Review:
    take = int(given["take"]) if given.get("take") else None
    return pst.review_session(
        source.read(), session=given.get("session") or None, shortlist=shortlist, take=take, progress=source.tell
    )


def _match(source: Source, given: Given) -> pst.Review:
    scores = source.read()
    answers = pst.answers_in(source.folder)
    return pst.review_blends(scores, given.get("standard") or None, answers=answers, progress=source.tell)


def _pack(source: Source, given: Given) -> pst.Review:
    return pst.review_packs(
        pst.read_densities(source.folder), grams=float(given["grams"]), millilitres=float(given["millilitres"]),
        state=given.get("state") or None,
    )  # fmt: skip


def _summary(source: Source, given: Given) -> pst.Review:
    asked: dict[str, Any] = {"densities": source.densities, **_pack_of(given)}
    scores = source.read()
    said = given.get("lots", "")
    lots = [said] if said in set(scores.lots["lot"].astype(str)) else names(said)  # a lot may have a comma in its name
    return pst.review_summary(
        scores, lots=lots or None, session=given.get("session") or None, progress=source.tell, **asked
    )


def _blend(source: Source, given: Given) -> pst.Review:
    batch = float(given["batch"]) if given.get("batch") else None
    asked: dict[str, Any] = {"stock": source.stock, "densities": source.densities, "batch": batch, **_pack_of(given)}
    return pst.review_recipes(source.read(), given.get("standard") or None, progress=source.tell, **asked)


def _pack_of(given: Given) -> dict[str, float]:
    """The pack, where it is told."""
    return {name: float(given[name]) for name in ("grams", "millilitres") if given.get(name)}


def _map(source: Source, given: Given) -> pst.Review:
    joined = given.get("joined") == JOINED
    return pst.review_map(
        source.read(), session=None if joined else given.get("session") or None, joined=joined,
        standard=given.get("standard") or None, lots=names(given.get("lots", "")), progress=source.tell,
    )  # fmt: skip


def _season(source: Source, given: Given) -> pst.Review:
    return pst.review_season(
        source.read(), until=given.get("until") or None, controls=names(given.get("controls", "")) or None,
        progress=source.tell,
    )  # fmt: skip


def _trainees_of(source: Source, given: Given) -> pst.Review:
    return pst.review_trainees(source.read(), reference=given.get("reference") or None, progress=source.tell)


def _people(review: pst.Review, folder: Path, *_: object) -> None:
    """A sheet for everybody who was assessed."""
    pst.write_sheets(review, folder)


def _differ(source: Source, _: Given) -> pst.Review:
    return pst.review_answers(pst.read_answers(source.folder))


def _counted(_: Source, given: Given) -> pst.Review:
    from panelstats.review import as_review

    counts: dict[str, Any] = {name: int(given[name]) for name in ("correct", "answers") if given.get(name)}
    return as_review(pst.difference_test(given["kind"], **counts))


ALONE = "one alone"
_KINDS = ("triangle", "duo-trio", "paired", "tetrad", "two-out-of-five", "2-afc", "3-afc")
JOINED = "all of them, joined by lots met again"
_WHICH = Entry("session", "Session", "sessions", usual="the latest", named=True)
_PACK = (Entry("grams", "Grams in a pack", kind=NUMBER), Entry("millilitres", "Millilitres it holds", kind=NUMBER))
_STANDARD = Entry("standard", "Standard", "standards", needed=True, named=True)
_TASTERS = Entry("tasters", "Tasters, with commas between", needed=True, listed="tasters")
ASKS: dict[str, Ask] = {
    "session": Ask("How were the lots?", "which differ, which carry a fault, how sure that is", "room", _lots, _session,
                   (_WHICH,)),
    "shortlist": Ask("Which to taste again?", "the likely best of each class, and which need a second look",
                     "shortlist", _lots, lambda s, g: _session(s, g, shortlist=True),
                     (_WHICH, Entry("take", "How many of a class to keep", kind=COUNT))),
    "tasters": Ask("Can each taster be relied on?", "for what, over all sheets; a sheet for each to take home",
                   "tasters", _two, lambda s, _: pst.review_tasters(s.read(), progress=s.tell), more=_people),
    "trainees": Ask("May the trainees' scores count?", "word by word, and what is missing", "trainees", _trainees,
                    _trainees_of,
                    (Entry("reference", "Held against", "tasters", usual="all seniors who sat", named=True),),
                    more=_people),
    "season": Ask("Has a taster changed over the season?", "who has moved, since when and by how much", "season",
                  _sessions, _season, (Entry("until", "As it stood at", "sessions", usual="the end", named=True),
                                       Entry("controls", "Hidden controls")), more=_people),
    "match": Ask("Do the blends match the standard?",
                 "word by word and overall, with difference tests among the sheets",
                 "match", _lots, _match, (_STANDARD,)),
    "differ": Ask("Do two teas differ?", "what triangle and other difference tests among the sheets prove", "differ",
                  _table("answers", "a sheet of answers to a triangle or another difference test"), _differ),
    "counted": Ask("Do two teas differ, from counts?", "the same from two numbers that somebody counted", "counted",
                   lambda _: "", _counted,
                   (Entry("kind", "Kind", _KINDS, needed=True, named=True),
                    Entry("correct", "Right answers", kind=COUNT, needed=True, named=True, least=0),
                    Entry("answers", "Answers in all", kind=COUNT, needed=True, named=True))),
    "map": Ask("What does a map show?", "which lots lie near one another, and along which words", "map", _lots, _map,
               (_WHICH, Entry("joined", "Sessions", "ways", usual="one alone", named=True),
                Entry("standard", "How far from", "standards", usual="no lot in particular", named=True),
                Entry("lots", "Lots to point out"))),
    "value": Ask("Which words carry the price?", "whether scores carry the price, and which lots went far from theirs",
                 "value", _money, lambda s, g: pst.review_value(s.read(), g.get("by") or None, progress=s.tell),
                 (Entry("by", "Money", "money", usual="the only one", named=True),)),
    "garden": Ask("A letter to a garden, or to each", "its lots beside their class, and what to look at first",
                  "garden", _gardens,
                  lambda s, g: pst.review_garden(s.read(), g["garden"], progress=s.tell),
                  (Entry("garden", "Garden", "gardens", needed=True, each=True, named=True),)),
    "summary": Ask("A page for the buyer", "the lots for somebody who was not in the room, and only what is sure",
                   "summary", _lots, _summary, (_WHICH, Entry("lots", "Lots, or empty for all"), *_PACK)),
    "pack": Ask("Will it fit the pack?", "the chance that a pack overflows or looks slack", "pack",
                _table("densities", "weighings of the leaf: a sheet with mass, volume, lot and grade"), _pack,
                (Entry("grams", "Grams in a pack", default="250", kind=NUMBER, needed=True),
                 Entry("millilitres", "Millilitres it holds", default="900", kind=NUMBER, needed=True),
                 Entry("state", "Leaf as it is closed in", ("loose", "tapped"), usual="each way it was weighed",
                       named=True))),
    "blend": Ask("A trial recipe", "the blends of the stock, or of all lots, that come nearest to the standard",
                 "recipes", _lots, _blend, (_STANDARD, Entry("batch", "Kilograms to make", kind=NUMBER), *_PACK)),
    "plan": Ask("Plan the next tasting", "sheets with blind codes in fair orders, and what they will prove", "plan",
                lambda _: "", plans.tasting,
                (Entry("lots", "Lots: how many, or their names", needed=True), _TASTERS,
                 Entry("limit", "Most pots for a taster in a session", kind=COUNT, needed=True),
                 Entry("service", "Served", ("bench", "tray"), usual="on a bench, one row for all"),
                 Entry("pots_per_lot", "Pots of each lot", default="1", kind=COUNT, most=100),
                 Entry("controls", "Hidden controls"), Entry("repeats", "Hidden repeats", kind=COUNT),
                 Entry("session", "Name of the session"),
                 Entry("descriptors", "Words to score, or empty for the room's own"),
                 Entry("excluded", "Never served, as elm=411"), Entry("warm_up", "Tea to warm up with")),
                more=plans.sheets),
    "plates": Ask("Plan a difference test", "sets in balanced orders with codes, a sheet for each taster", "plates",
                  lambda _: "", plans.plates,
                  (Entry("kind", "Kind", (*_KINDS, "a-not-a", "same-different"), needed=True), _TASTERS,
                   Entry("products", "The two teas", default="A, B", needed=True),
                   Entry("trials", "Sets for each taster", default="1", kind=COUNT, most=200),
                   Entry("session", "Name of the session")), more=plans.sheets),
}  # fmt: skip
