"""The verdicts of hidden controls on who has moved, where the scores alone cannot say."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.panel.season import words
from panelstats.panel.season.moved import MOVED
from panelstats.panel.season.ruling import BOUND, Z
from panelstats.panel.season.tables import CHANGE, HIGH, LOW, SINCE
from panelstats.panel.season.words import CANNOT_TELL
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.words import decimals, interval, listing, number

if TYPE_CHECKING:
    import pandas as pd


def ruling_verdicts(rulings: pd.DataFrame) -> list[Verdict]:
    """One verdict for each descriptor on which tasters have moved apart."""
    return [_ruled(str(word), rows) for word, rows in rulings.groupby(DESCRIPTOR, sort=False)]


def _ruled(descriptor: str, rows: pd.DataFrame) -> Verdict:
    beyond = rows[rows[Z].abs() > rows[BOUND]]
    fields = {"descriptor": descriptor, "since": rows[SINCE].iloc[0]}
    if len(beyond) == 1 and len(rows) > 1:
        return _named(beyond.iloc[0], fields)
    if beyond.empty:
        sentence, step = words.RULED_NONE.format(**fields), str(words.MORE_CONTROLS)
    elif len(beyond) == len(rows):
        sentence, step = words.RULED_ALL.format(**fields), str(words.FRESH_CONTROL)
    else:
        sentence = words.RULED_SOME.format(tasters=listing(beyond[TASTER]), **fields)
        step = words.TRAIN.format(descriptor=descriptor)
    act = Act.TASTE_AGAIN if beyond.empty else Act.DECIDE
    return Verdict(words.RULING_QUESTION, descriptor, CANNOT_TELL, sentence, {}, step, act)


def _named(row: pd.Series, fields: dict[str, str]) -> Verdict:
    places = decimals(float(row[HIGH] - row[LOW]) / 4)
    sentence = words.RULED.format(
        taster=row[TASTER], change=number(row[CHANGE], places, sign=True),
        interval=interval(row[LOW], row[HIGH], places, sign=True), **fields,
    )  # fmt: skip
    numbers = {name: float(row[name]) for name in (CHANGE, LOW, HIGH)}
    step = words.TRAIN.format(descriptor=fields["descriptor"])
    return Verdict(words.RULING_QUESTION, str(row[TASTER]), MOVED, sentence, numbers, step, Act.DECIDE)
