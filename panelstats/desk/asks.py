"""What a room may want to know, in its words: what each question needs, and the review that answers it."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Any, NamedTuple

import panelstats as pst

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    import pandas as pd

Facts = dict[str, Any]
Given = dict[str, str]


EACH = "each of them"


class Entry(NamedTuple):
    """Something that is asked back: its name and words; its choices, or the fact that lists them; else its default."""

    name: str
    words: str
    choices: str | tuple[str, ...] = ""
    default: str = ""
    number: bool = False
    needed: bool = False
    each: bool = False  # all choices may be asked for at once
    listed: str = ""  # the fact whose names stand there at first


class Source(NamedTuple):
    """What a review is made from: the room's folder, its scores, read when first wanted, and the lists beside them."""

    folder: Path
    read: Callable[[], pst.Scores]
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
    more: Callable[[pst.Review, Path, Source], None] | None = None  # writes into the folder that belongs to the page


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
    take = int(_size(given, "take")) if given.get("take") else None
    return pst.review_session(
        source.read(), session=given.get("session") or None, shortlist=shortlist, take=take, progress=source.tell
    )


def _match(source: Source, given: Given) -> pst.Review:
    scores = source.read()
    answers = pst.answers_in(source.folder)
    return pst.review_blends(scores, given.get("standard") or None, answers=answers, progress=source.tell)


def _size(given: Mapping[str, str], name: str) -> float:
    try:
        return float(given[name].replace(",", "."))
    except ValueError:
        raise pst.DesignError(
            f"{given[name]!r} is no number", where=name, do="go back and write a number such as 250"
        ) from None


def _pack(source: Source, given: Given) -> pst.Review:
    grams, millilitres = (_size(given, name) for name in ("grams", "millilitres"))
    return pst.review_packs(pst.read_densities(source.folder), grams=grams, millilitres=millilitres)


def _summary(source: Source, given: Given) -> pst.Review:
    asked: dict[str, Any] = {"densities": source.densities, **_pack_of(given)}
    return pst.review_summary(source.read(), session=given.get("session") or None, progress=source.tell, **asked)


def _blend(source: Source, given: Given) -> pst.Review:
    batch = _size(given, "batch") if given.get("batch") else None
    asked: dict[str, Any] = {"stock": source.stock, "densities": source.densities, "batch": batch, **_pack_of(given)}
    return pst.review_recipes(source.read(), given.get("standard") or None, progress=source.tell, **asked)


def _pack_of(given: Given) -> dict[str, float]:
    """The pack, where it is told."""
    return {name: _size(given, name) for name in ("grams", "millilitres") if given.get(name)}


def _people(review: pst.Review, folder: Path, _: Source) -> None:
    """A sheet for everybody who was assessed."""
    pst.write_sheets(review, folder)


def _lots_of(text: str) -> list[str]:
    """Lots by their names, or so many."""
    names = [each.strip() for each in text.replace("\n", ",").split(",") if each.strip()]
    return [str(n + 1) for n in range(int(names[0]))] if len(names) == 1 and names[0].isdecimal() else names


def _plan(source: Source, given: Given) -> pst.Review:
    from panelstats.review import as_review

    error = None
    with suppress(pst.PanelError):  # no past, or none that tells how far a look may be off
        error = pst.room_error(source.read())
    whole: dict[str, Any] = {
        name: int(_size(given, name)) for name in ("limit", "pots_per_lot", "repeats") if given.get(name)
    }
    return as_review(pst.plan_session(
        _lots_of(given["lots"]), _names(given["tasters"]), service=given.get("service") or "bench", error=error,
        controls=_names(given.get("controls", "")), sessions=_names(given.get("session", "")) or None, **whole,
    ))  # fmt: skip


def _plates(_: Source, given: Given) -> pst.Review:
    from panelstats.review import as_review

    products: Any = tuple(_names(given["products"]))
    trials = int(_size(given, "trials")) if given.get("trials") else 1
    return as_review(pst.plan_difference(
        given["kind"], _names(given["tasters"]), products=products, trials=trials, session=given.get("session") or "1"
    ))  # fmt: skip


def _names(text: str) -> list[str]:
    return [each.strip() for each in text.split(",") if each.strip()]


def _sheets(review: pst.Review, folder: Path, source: Source) -> None:
    """Sheets and lists of a plan; its key joins what the room knows."""
    for _, plan in review.results:
        if isinstance(plan, pst.ServingPlan | pst.PlatePlan):
            plan.write(folder, room=source.folder, overwrite=True)


def _differ(source: Source, _: Given) -> pst.Review:
    return pst.review_answers(pst.read_answers(source.folder))


_WHICH = Entry("session", "Session", "sessions")
_PACK = (Entry("grams", "Grams in a pack", number=True), Entry("millilitres", "Millilitres it holds", number=True))
_STANDARD = Entry("standard", "Standard", "standards", needed=True)
ASKS: dict[str, Ask] = {
    "session": Ask("How were the lots?", "which differ, which carry a fault, how sure that is", "room", _lots, _session,
                   (_WHICH,)),
    "shortlist": Ask("Which to taste again?", "the likely best of each class, and which need a second look",
                     "shortlist", _lots, lambda s, g: _session(s, g, shortlist=True),
                     (_WHICH, Entry("take", "Places", number=True))),
    "tasters": Ask("Can each taster be relied on?", "for what, over all sheets", "tasters", _two,
                   lambda s, _: pst.review_tasters(s.read(), progress=s.tell), more=_people),
    "trainees": Ask("May the trainees' scores count?", "word by word, and what is missing", "trainees", _trainees,
                    lambda s, _: pst.review_trainees(s.read(), progress=s.tell), more=_people),
    "season": Ask("Has a taster changed over the season?", "who has moved, since when and by how much", "season",
                  _sessions, lambda s, _: pst.review_season(s.read(), progress=s.tell), more=_people),
    "match": Ask("Do the blends match the standard?",
                 "word by word and overall, with difference tests among the sheets",
                 "match", _lots, _match, (_STANDARD,)),
    "differ": Ask("Do two teas differ?", "what triangle and other difference tests among the sheets prove", "differ",
                  _table("answers", "a sheet of answers to a triangle or another difference test"), _differ),
    "map": Ask("What does a map show?", "which lots lie near one another, and along which words", "map", _lots,
               lambda s, g: pst.review_map(s.read(), session=g.get("session") or None, progress=s.tell), (_WHICH,)),
    "value": Ask("Which words carry the price?", "whether scores carry the price, and which lots went far from theirs",
                 "value", _money, lambda s, g: pst.review_value(s.read(), g.get("by") or None, progress=s.tell),
                 (Entry("by", "Money", "money"),)),
    "garden": Ask("A letter to a garden, or to each", "its lots beside their class, and what to look at first",
                  "garden", _gardens,
                  lambda s, g: pst.review_garden(s.read(), g["garden"], progress=s.tell),
                  (Entry("garden", "Garden", "gardens", needed=True, each=True),)),
    "summary": Ask("A page for the buyer", "the lots for somebody who was not in the room, and only what is sure",
                   "summary", _lots, _summary, (_WHICH, *_PACK)),
    "pack": Ask("Will it fit the pack?", "the chance that a pack overflows or looks slack", "pack",
                _table("densities", "weighings of the leaf: a sheet with mass, volume, lot and grade"), _pack,
                (Entry("grams", "Grams in a pack", default="250", number=True, needed=True),
                 Entry("millilitres", "Millilitres it holds", default="900", number=True, needed=True))),
    "blend": Ask("A trial recipe", "the blends of the stock, or of all lots, that come nearest to the standard",
                 "recipes", _lots, _blend, (_STANDARD, Entry("batch", "Kilograms to make", number=True), *_PACK)),
    "plan": Ask("Plan the next tasting", "sheets with blind codes in fair orders, and what they will prove", "plan",
                lambda _: "", _plan,
                (Entry("lots", "Lots: how many, or their names", needed=True),
                 Entry("tasters", "Tasters", needed=True, listed="tasters"),
                 Entry("limit", "Most pots for a taster in a session", number=True, needed=True),
                 Entry("service", "Served on a", ("bench", "tray")),
                 Entry("pots_per_lot", "Pots of each lot", default="1", number=True),
                 Entry("controls", "Hidden controls"), Entry("repeats", "Hidden repeats", number=True),
                 Entry("session", "Session")), more=_sheets),
    "plates": Ask("Plan a difference test", "sets in balanced orders with codes, a sheet for each taster", "plates",
                  lambda _: "", _plates,
                  (Entry("kind", "Kind", ("triangle", "duo-trio", "paired", "tetrad", "two-out-of-five", "2-afc",
                                          "3-afc", "a-not-a", "same-different"), needed=True),
                   Entry("tasters", "Tasters", needed=True, listed="tasters"),
                   Entry("products", "The two teas", default="A, B", needed=True),
                   Entry("trials", "Sets for each", default="1", number=True),
                   Entry("session", "Session")), more=_sheets),
}  # fmt: skip
