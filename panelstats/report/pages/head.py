"""What was tasted, by whom and how: the head of every page, its account and its last line."""

from __future__ import annotations

from importlib.metadata import version
from typing import TYPE_CHECKING, NamedTuple

from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, POTS, ROLE, SESSION, STAGE, TASTER
from panelstats.scores.dates import day_before
from panelstats.speech import Phrase, heard, said
from panelstats.words import FROM_TO, count, listing, stated

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.review import Review
    from panelstats.scores.table import Scores

SET_ASIDE = "set_aside"
ACCOUNT = ("scores", "blanks", "faults", "words", "facts", SET_ASIDE)
_NAMED = 6  # classes or tasters that are named, not only counted
_POTS = {
    "shared": Phrase("shared: every taster met the same brew of a lot"),
    "own": Phrase("own: a brew for each taster"),
    "same": Phrase("one pot of each lot, tasted more than once"),
}


class Fact(NamedTuple):
    """One line at the head of a page."""

    name: str
    words: str


def facts(scores: Scores, session: str) -> tuple[Fact, ...]:
    """What was tasted, by how many, blind or not, from which pots; when a key was opened; the account of the cells.

    Parameters
    ----------
    scores : Scores
    session : str
        Which one; "" for all.
    """
    here, not_blind = _of(scores.frame, session), Phrase("not declared: knowing a lot can move a score")
    return (
        Fact(Phrase("Lots"), _lots(here, scores)),
        Fact(Phrase("Tasters"), _tasters(here, scores)),
        Fact(Phrase("Descriptors"), _descriptors(here, scores)),
        Fact(Phrase("Blind"), _declared(scores, session, "blind", not_blind)),
        *_key_opened(scores, session),
        Fact(Phrase("Pots"), _pots(_of(scores.pots, session))),
        Fact(Phrase("Order"), _declared(scores, session, "order", Phrase("not declared"))),
        Fact(Phrase("Account"), _account(scores.account)),
    )


def _key_opened(scores: Scores, session: str) -> tuple[Fact, ...]:
    """When the key to the codes was opened, where sheets carry codes or the room wrote it down."""
    table = _of(scores.sessions, session)
    coded = (scores.headers["word"] == "code").any()
    if not coded and not _declared(scores, session, "opened", ""):
        return ()
    when = _declared(scores, session, "opened", Phrase("nobody wrote down when (opened, in the sheet sessions)"))
    early = "opened" in table and any(
        day_before(str(row["opened"]), str(day)) for row in table.to_dict("records")
        for day in (row.get("date", ""), row[SESSION])
    )  # fmt: skip
    told = Phrase("{when}: before the day of the tasting").format(when=when) if early else when
    return (Fact(Phrase("Key opened"), told),)


def lede(review: Review) -> str:
    """The sentence under the title."""
    if review.scores is None:
        return said(review.question)
    here, when = _of(review.scores.frame, review.session), date(review.scores, review.session)
    parts = [count(here[name].nunique(), word) for name, word in ((LOT, "lot"), (TASTER, "taster"))]
    when = when or _span(review)
    return ", ".join([*parts, *([when] if when and when not in review.title else [])])


def date(scores: Scores, session: str) -> str:
    """The date a session carries; "" where it has none."""
    told = _declared(scores, session, "date", "") if session else ""
    return told.removesuffix(" 00:00:00")


def _span(review: Review) -> str:
    """How many sessions there are, and from when to when; "" of one that carries no date."""
    assert review.scores is not None  # noqa: S101 - asked only where there are scores
    names = [str(name) for name in review.scores.sessions[SESSION]]
    if review.session or len(names) < 2:
        return date(review.scores, names[0]) if names else ""
    span = FROM_TO.format(low=names[0], high=names[-1])
    return count(len(names), "session") + ("" if span in review.title else f", {span}")


def from_first_to_last(names: list[str]) -> str:
    """How many sessions, and the first and the last of them."""
    return Phrase("{sessions}, {names} to {names_2}").format(
        sessions=count(len(names), "session"), names=names[0], names_2=names[-1]
    )


def provenance(review: Review) -> str:
    """The last line: digest of the input, version, date of the session (not of the run, so that bytes repeat)."""
    program = Phrase("panelstats {part}").format(part=version("panelstats"))
    if review.scores is None:
        return Phrase("Input {part} · {program}").format(part=review.source or Phrase("as given"), program=program)
    names = [str(name) for name in review.scores.sessions[SESSION]]
    if not review.session and len(names) > 1:
        dated = from_first_to_last(names)
    else:
        when = date(review.scores, review.session or "".join(names))
        dated = Phrase("session dated {when}").format(when=when) if when else str(Phrase("session without a date"))
    return Phrase("Input {part} · {program} · {dated}").format(
        part=review.scores.digest or Phrase("without digest"), program=program, dated=dated
    )


def _of(table: pd.DataFrame, session: str) -> pd.DataFrame:
    """The rows of a session; all of them for ""."""
    return table[table[SESSION].astype(str) == session] if session else table


def _account(table: pd.DataFrame) -> str:
    """The account in one line: what was seen is what was used, or is said to be left out."""
    sums = {name: int(table[name].sum()) for name in ("seen", *ACCOUNT)}
    parts = [_counted(sums[name], name) for name in ACCOUNT if sums[name] or name == "scores"]
    files = len(table["file"].unique())
    seen = count(sums["seen"], "cell") + (Phrase(" in {files} files").format(files=files) if files > 1 else "")
    return f"{seen} = {' + '.join(parts)}"


def _counted(n: int, kind: str) -> str:
    """So many cells of one kind."""
    told = {
        "scores": count(n, "score"), "blanks": count(n, "blank"), "faults": count(n, "fault"),
        "words": count(n, "word"), "facts": count(n, "fact"), SET_ASIDE: count(n, "set aside", "set aside"),
    }  # fmt: skip
    return told[kind]


def _lots(here: pd.DataFrame, scores: Scores) -> str:
    names = here[LOT].astype(str).unique()
    classes = scores.lots.loc[scores.lots[LOT].astype(str).isin(names), CLASS].fillna("").astype(str)
    sizes = classes[classes != ""].value_counts(sort=False)
    if len(sizes) < 2:
        return stated(len(names), ",")
    if len(sizes) > _NAMED:
        return Phrase("{names} in {sizes} classes").format(names=stated(len(names), ","), sizes=len(sizes))
    sized = listing(f"{stated(n, ',')} {name}" for name, n in sizes.items())
    return f"{stated(len(names), ',')}: {sized}"


def _tasters(here: pd.DataFrame, scores: Scores) -> str:
    names, register = [str(name) for name in here[TASTER].unique()], scores.tasters
    learning = set(register.loc[register[ROLE] == "trainee", TASTER].astype(str)) if ROLE in register else set()
    trainees = [name for name in names if name in learning]
    words = str(len(names)) if len(names) > _NAMED else f"{len(names)}: {listing(names)}"
    return words + (f" ({count(len(trainees), 'trainee')}: {listing(trainees)})" if trainees else "")


def _descriptors(here: pd.DataFrame, scores: Scores) -> str:
    names, register = set(map(str, here[DESCRIPTOR].unique())), scores.descriptors
    found = list(register.loc[register[DESCRIPTOR].astype(str).isin(names), STAGE]) if STAGE in register else []
    stages = [stage for stage in dict.fromkeys(found) if isinstance(stage, str) and stage]
    return str(len(names)) + (Phrase(", over {stages}").format(stages=listing(map(said, stages))) if stages else "")


def _declared(scores: Scores, session: str, name: str, otherwise: str) -> str:
    """What the register of sessions says; several answers are listed."""
    table = _of(scores.sessions, session)
    told = [str(value) for value in table[name].dropna().unique() if str(value)] if name in table else []
    return listing(map(said, told)) or str(otherwise)


def _pots(table: pd.DataFrame) -> str:
    if not len(table):
        return str(Phrase("not declared"))
    kinds = table.drop_duplicates(POTS)
    lines = []
    for _, row in kinds.iterrows():
        stages = dict.fromkeys(str(s) for s in table.loc[table[POTS] == row[POTS], STAGE] if str(s))
        words = str(_POTS.get(str(row[POTS]), str(row[POTS])))
        taken = "" if row["declared"] else Phrase(" (taken so: {reason})").format(reason=heard(str(row["reason"])))
        lines.append((f"{listing(stages)} " if len(kinds) > 1 and stages else "") + words + taken)
    return "; ".join(lines)
