"""What a room may want to know, in its words: what each question needs, and the review that answers it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import panelstats as pst

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

Facts = dict[str, Any]
Given = dict[str, str]


class Entry(NamedTuple):
    """Something that is asked back: its name, in words, and the fact that lists its choices, else its default."""

    name: str
    words: str
    choices: str = ""
    default: str = ""
    number: bool = False
    needed: bool = False


class Source(NamedTuple):
    """What a review is made from: the room's folder, and its scores, read when first wanted."""

    folder: Path
    read: Callable[[], pst.Scores]
    tell: Callable[[str], None]


class Ask(NamedTuple):
    """A question: the words, what it says it tells, what the data lack for it, what it asks back, and its review."""

    words: str
    tells: str
    ending: str
    lacks: Callable[[Facts], str]
    review: Callable[[Source, Given], pst.Review]
    entries: tuple[Entry, ...] = ()


def _scores(facts: Facts) -> str:
    return "" if facts["lots"] else "sheets with scores"


def _people(facts: Facts) -> str:
    return _scores(facts) or ("" if len(facts["tasters"]) > 1 else "a second taster beside the first")


def _trainees(facts: Facts) -> str:
    return _people(facts) or (
        "" if facts["trainees"] else "a taster whose role in room.xlsx, sheet tasters, is trainee"
    )


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


def _differ(source: Source, _: Given) -> pst.Review:
    return pst.review_answers(pst.read_answers(source.folder))


_WHICH = Entry("session", "Session", "sessions")
_STANDARD = Entry("standard", "Standard", "standards", needed=True)
ASKS: dict[str, Ask] = {
    "session": Ask("How were the lots?", "which differ, which carry a fault, how sure that is", "room", _lots, _session,
                   (_WHICH,)),
    "shortlist": Ask("Which to taste again?", "the likely best of each class, and which need a second look",
                     "shortlist", _lots, lambda s, g: _session(s, g, shortlist=True),
                     (_WHICH, Entry("take", "Places", number=True))),
    "tasters": Ask("Can each taster be relied on?", "for what, over all sheets", "tasters", _people,
                   lambda s, _: pst.review_tasters(s.read(), progress=s.tell)),
    "trainees": Ask("May the trainees' scores count?", "word by word, and what is missing", "trainees", _trainees,
                    lambda s, _: pst.review_trainees(s.read(), progress=s.tell)),
    "season": Ask("Has a taster changed over the season?", "who has moved, since when and by how much", "season",
                  _sessions, lambda s, _: pst.review_season(s.read(), progress=s.tell)),
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
    "garden": Ask("A letter to a garden", "its lots beside their class, and what to look at first", "garden", _gardens,
                  lambda s, g: pst.review_garden(s.read(), g["garden"], progress=s.tell),
                  (Entry("garden", "Garden", "gardens", needed=True),)),
    "summary": Ask("A page for the buyer", "the lots for somebody who was not in the room, and only what is sure",
                   "summary", _lots,
                   lambda s, g: pst.review_summary(s.read(), session=g.get("session") or None, progress=s.tell),
                   (_WHICH,)),
    "pack": Ask("Will it fit the pack?", "the chance that a pack overflows or looks slack", "pack",
                _table("densities", "weighings of the leaf: a sheet with mass, volume, lot and grade"), _pack,
                (Entry("grams", "Grams in a pack", default="250", number=True, needed=True),
                 Entry("millilitres", "Millilitres it holds", default="900", number=True, needed=True))),
    "blend": Ask("A trial recipe", "the blends of what is here that come nearest to the standard", "recipes", _lots,
                 lambda s, g: pst.review_recipes(s.read(), g.get("standard") or None, progress=s.tell), (_STANDARD,)),
}  # fmt: skip
