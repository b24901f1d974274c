"""What was tasted, by whom and how: the head of every page, its account and its last line."""

from __future__ import annotations

from importlib.metadata import version
from typing import TYPE_CHECKING, NamedTuple, Protocol

import pandas as pd

from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, POTS, ROLE, SESSION, STAGE, TASTER
from panelstats.words import count, listing

if TYPE_CHECKING:
    from panelstats.scores.table import Scores

SET_ASIDE = "set_aside"
ACCOUNT = ("scores", "blanks", "faults", "words", "facts", SET_ASIDE)
_COUNTED = {name: (name.removesuffix("s"), name) for name in ACCOUNT} | {SET_ASIDE: ("set aside", "set aside")}
_NAMED = 6  # classes or tasters that are named, not only counted
_POTS = {
    "shared": "shared: every taster met the same brew of a lot",
    "own": "own: a brew for each taster",
    "same": "one pot of each lot, tasted more than once",
}


class Sitting(Protocol):
    """What the head of a page is about: a session, and the scores it is part of."""

    @property
    def session(self) -> str:
        """Its name."""

    @property
    def scores(self) -> Scores:
        """All that was read."""


class Fact(NamedTuple):
    """One line at the head of a page."""

    name: str
    words: str


def facts(review: Sitting) -> tuple[Fact, ...]:
    """What was tasted, by how many, blind or not, from which pots; and the account of the cells read."""
    return (
        Fact("Lots", _lots(review)),
        Fact("Tasters", _tasters(review)),
        Fact("Descriptors", _descriptors(review)),
        Fact("Blind", _declared(review, "blind", "not declared: knowing a lot can move a score")),
        Fact("Pots", _pots(review)),
        Fact("Order", _declared(review, "order", "not declared")),
        Fact("Account", _account(review)),
    )


def lede(review: Sitting) -> str:
    """The sentence under the title."""
    here, when = _here(review), date(review)
    parts = [count(here[name].nunique(), word) for name, word in ((LOT, "lot"), (TASTER, "taster"))]
    tasted = f" on {when}" if when else ""
    return f"{parts[0]}, tasted{tasted} by {parts[1]}: what their scores show, and what they cannot tell."


def date(review: Sitting) -> str:
    """The date the session carries; "" where it has none."""
    value = _session(review).get("date")
    if value is None or pd.isna(value):
        return ""
    return pd.Timestamp(value).strftime("%Y-%m-%d") if not isinstance(value, str) else value


def _account(review: Sitting) -> str:
    """The account in one line: what was seen is what was used, or is said to be left out."""
    table = review.scores.account
    sums = {name: int(table[name].sum()) for name in ("seen", *ACCOUNT)}
    parts = [count(sums[name], *_COUNTED[name]) for name in ACCOUNT if sums[name] or name == "scores"]
    files = len(table["file"].unique())
    seen = count(sums["seen"], "cell") + (f" in {files} files" if files > 1 else "")
    return f"{seen} = {' + '.join(parts)}"


def provenance(review: Sitting) -> str:
    """The last line: digest of the input, version, date of the session (not of the run, so that bytes repeat)."""
    when = date(review)
    dated = f"session dated {when}" if when else "session without a date"
    return f"Input {review.scores.digest or 'without digest'} · panelstats {version('panelstats')} · {dated}"


def _session(review: Sitting) -> pd.Series:
    table = review.scores.sessions
    rows = table[table[SESSION].astype(str) == review.session]
    return rows.iloc[0] if len(rows) else pd.Series(dtype=object)


def _here(review: Sitting) -> pd.DataFrame:
    frame = review.scores.frame
    return frame[frame[SESSION].astype(str) == review.session]


def _lots(review: Sitting) -> str:
    names = _here(review)[LOT].astype(str).unique()
    register = review.scores.lots
    classes = register.loc[register[LOT].astype(str).isin(names), CLASS].fillna("").astype(str)
    sizes = classes[classes != ""].value_counts(sort=False)
    if len(sizes) < 2:
        return f"{len(names):,}"
    if len(sizes) > _NAMED:
        return f"{len(names):,} in {len(sizes)} classes"
    return f"{len(names):,}: {listing(f'{n:,} {name}' for name, n in sizes.items())}"


def _tasters(review: Sitting) -> str:
    names = [str(name) for name in _here(review)[TASTER].unique()]
    register = review.scores.tasters
    learning = set(register.loc[register[ROLE] == "trainee", TASTER].astype(str)) if ROLE in register else set()
    trainees = [name for name in names if name in learning]
    words = str(len(names)) if len(names) > _NAMED else f"{len(names)}: {listing(names)}"
    return words + (f" ({count(len(trainees), 'trainee')}: {listing(trainees)})" if trainees else "")


def _descriptors(review: Sitting) -> str:
    names = set(_here(review)[DESCRIPTOR].astype(str))
    register = review.scores.descriptors
    found = list(register.loc[register[DESCRIPTOR].astype(str).isin(names), STAGE]) if STAGE in register else []
    stages = [stage for stage in dict.fromkeys(found) if isinstance(stage, str) and stage]
    return str(len(names)) + (f", over {listing(stages)}" if stages else "")


def _declared(review: Sitting, name: str, otherwise: str) -> str:
    value = _session(review).get(name)
    return otherwise if value is None or pd.isna(value) or str(value) == "" else str(value)


def _pots(review: Sitting) -> str:
    table = review.scores.pots
    table = table[table[SESSION].astype(str) == review.session]
    if not len(table):
        return "not declared"
    kinds = table.drop_duplicates(POTS)
    lines = []
    for _, row in kinds.iterrows():
        stages = [str(s) for s in table.loc[table[POTS] == row[POTS], STAGE] if str(s)] if len(kinds) > 1 else []
        words = _POTS.get(str(row[POTS]), str(row[POTS]))
        taken = "" if row["declared"] else f" (taken so: {row['reason']})"
        lines.append((f"{listing(stages)} " if stages else "") + words + taken)
    return "; ".join(lines)
