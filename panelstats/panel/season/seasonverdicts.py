"""The verdicts on a season, from its tables: who moved and since when first, then who is steady and what is open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.season import words
from panelstats.panel.season.tables import (
    AGREEMENT,
    CALL,
    CHANGE,
    CHART,
    CONTROLS,
    HIGH,
    LEVEL_CHART,
    LOW,
    MORE,
    MOVES,
    NOISE,
    REASON,
    SINCE,
    SINCE_HIGH,
    SINCE_LOW,
)
from panelstats.panel.season.words import BASELINE_ONLY, CANNOT_TELL, NOT_TOGETHER, SPLIT, STEADY
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.speech import Phrase, said
from panelstats.words import count, decimals, interval, listing, number

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from panelstats.panel.season.firstsessions import MovingBaseline

# More descriptors than this are counted, not listed.
LISTED = 5


def since_said(row: pd.Series) -> str:
    """The session of a move, and between which it lies where that is not sure."""
    template = words.SINCE_EXACTLY if row[SINCE_LOW] == row[SINCE_HIGH] else words.SINCE_BETWEEN
    return template.format(since=row[SINCE], low=row[SINCE_LOW], high=row[SINCE_HIGH])


def moved_verdicts(
    table: pd.DataFrame, orders: dict[str, tuple[float, float]], crossed: pd.DataFrame, *, size: int, noise: str
) -> list[Verdict]:
    """A verdict for each move: levels first, the largest before the rest.

    Parameters
    ----------
    table : DataFrame
    orders : dict of str to (float, float)
        Correlation with the others before and since, of whom agreement fell.
    crossed : DataFrame
        Words that are crossed: the reason of what moved on them on the same controls.
    size : int
        Tasters who sat together.
    noise : str
        What tells of noise: repeats or scatter.
    """
    moved = table[table[CALL].isin(MOVES) & (table[TASTER] != "")]
    level = moved[moved[CHART] == LEVEL_CHART]
    if size == 2:  # what one moved up, the other moved down: told once
        level = level.drop_duplicates(DESCRIPTOR)
    told = set(zip(level[TASTER], level[DESCRIPTOR], strict=True))
    told |= {
        (who, word) for word in (DESCRIPTOR, "other") for who, word in zip(crossed[TASTER], crossed[word], strict=True)
    }
    controls = moved[moved[CHART] == CONTROLS]
    same = [pair in told for pair in zip(controls[TASTER], controls[DESCRIPTOR], strict=True)]
    confirmed = set(zip(controls[TASTER], controls[DESCRIPTOR], strict=True))
    rest = controls[~np.array(same, bool)]
    everyone = [str(name) for name in dict.fromkeys(table[TASTER]) if name]
    out = [_level(row, confirmed, everyone, size) for _, row in _largest_first(level).iterrows()]
    out += [_level(row, set(), everyone, 0, words.ON_CONTROLS) for _, row in _largest_first(rest).iterrows()]
    for _, row in moved[moved[CHART] == NOISE].iterrows():
        what = words.REPEATED if noise == "repeats" else words.KEPT
        sentence = words.NOISIER.format(
            taster=row[TASTER], what=what, since=since_said(row), **_numbers(row, sign=False)
        )
        out.append(_verdict(row, sentence, words.REST.format(taster=row[TASTER])))
    for _, row in moved[moved[CHART] == AGREEMENT].iterrows():
        before, after = (number(r, 2) for r in orders[row[TASTER]])
        sentence = words.LESS_AGREED.format(taster=row[TASTER], since=since_said(row), before=before, after=after)
        out.append(_verdict(row, sentence, words.RELEARN.format(taster=row[TASTER])))
    return out


def _largest_first(rows: pd.DataFrame) -> pd.DataFrame:
    return rows.reindex(rows[CHANGE].abs().sort_values(ascending=False, kind="stable").index)


def _numbers(row: pd.Series, *, sign: bool) -> dict[str, str]:
    places = decimals(float(row[HIGH] - row[LOW]) / 4)
    return {"change": number(row[CHANGE], places, sign=sign),
            "interval": interval(row[LOW], row[HIGH], places, sign=sign)}  # fmt: skip


def _level(
    row: pd.Series, confirmed: set[tuple[str, str]], everyone: list[str], size: int, opening: str = ""
) -> Verdict:
    shape = row["shape"]
    template = {"jumped": words.JUMPED, "drifting": words.DRIFTED}.get(shape, words.MOVED)
    sentence = opening + template.format(
        taster=row[TASTER], descriptor=row[DESCRIPTOR], way=words.WAYS[shape][int(row[CHANGE] < 0)],
        since=since_said(row), last=row["last"], **_numbers(row, sign=True),
    )  # fmt: skip
    others = [name for name in everyone if name != row[TASTER]]
    if (row[TASTER], row[DESCRIPTOR]) in confirmed:
        sentence = f"{sentence} {words.ON_CONTROLS_TOO}"
    elif size == 3:
        sentence = f"{sentence} {words.TWO_AGAINST_ONE.format(others=listing(others))}"
    elif size == 2:
        sentence = f"{sentence} {words.PAIR.format(other=others[0] if others else '')}"
    return _verdict(row, sentence, words.TRAIN.format(descriptor=row[DESCRIPTOR]))


def _verdict(row: pd.Series, sentence: str, step: str) -> Verdict:
    numbers = {name: float(row[name]) for name in (CHANGE, LOW, HIGH)}
    question = {NOISE: words.NOISE_QUESTION, AGREEMENT: words.AGREEMENT_QUESTION}.get(row[CHART], words.QUESTION)
    return Verdict(question, str(row[TASTER]), str(row[CALL]), sentence, numbers, step, Act.DECIDE)


def crossed_verdicts(crossed: pd.DataFrame) -> list[Verdict]:
    """Words that a taster has come to swap or confuse."""
    out = []
    for _, row in crossed.iterrows():
        template = words.SWAPPED if row["kind"] == "swapped" else words.FOLLOWS
        sentence = template.format(taster=row[TASTER], word=row[DESCRIPTOR], other=row["other"], since=since_said(row))
        step = words.ASK_WORDS.format(taster=row[TASTER])
        numbers = {"own": float(row["own"]), "across": float(row["across"])}
        out.append(
            Verdict(words.WORDS_QUESTION, str(row[TASTER]), words.SWAPPED_WORDS, sentence, numbers, step, Act.DECIDE)
        )
    return out


def split_verdicts(table: pd.DataFrame) -> list[Verdict]:
    """Alarms that cannot be told of anybody."""
    out = []
    rows = table[table[REASON].isin([SPLIT, NOT_TOGETHER])]
    for (_, descriptor), some in rows.groupby([CHART, DESCRIPTOR], sort=False):
        chart = str(some[CHART].iloc[0])
        what = descriptor or words.NOISE_NAMES[chart]
        sentence = words.SPLIT_SAID.format(
            what=what, reason=said(str(some[REASON].iloc[0])), tasters=listing(some[TASTER])
        )
        out.append(Verdict(words.QUESTION, str(what), CANNOT_TELL, sentence, {}, words.ASK_CONTROL, Act.TASTE_AGAIN))
    return out


def baseline_verdicts(found: Sequence[MovingBaseline], tasters: Sequence[str], columns: Sequence[str]) -> list[Verdict]:
    """Whose first sessions were themselves moving, a verdict for each taster."""
    out = []
    for taster in dict.fromkeys(each.taster for each in found):
        mine = [each for each in found if each.taster == taster]
        which = [
            words.MOVING_WORD.format(
                descriptor=columns[each.column], change=number(each.change, 1, sign=True), se=number(each.se, 1)
            )
            for each in mine
        ]
        sentence = words.MOVING_BASELINE.format(
            taster=tasters[taster], which=listing(which), sessions=count(mine[0].sessions, "session")
        )
        numbers = {"change": max((each.change for each in mine), key=abs)}
        out.append(Verdict(words.BASELINE_QUESTION, tasters[taster], CANNOT_TELL, sentence, numbers,
                           words.LATER_BASELINE, Act.DECIDE))  # fmt: skip
    return out


def steady_verdict(
    taster: str, rows: pd.DataFrame, *, noise: str, needed: int, moved: bool, away: str = ""
) -> Verdict | None:
    """What is steady of a taster and what is open, moves left out; None where only moves are left.

    `away` is the session since which nothing was seen of the taster; "" of who still comes.
    """
    gone = words.AWAY.format(last=away) if away else ""
    sessions = count(int(rows["attended"].max()), "session")
    rest = rows[~rows[CALL].isin(MOVES) & (rows[CHART] != CONTROLS)]
    if rest.empty:
        return None
    if (rest[REASON] == BASELINE_ONLY).all():
        sentence = words.NO_BASELINE.format(taster=taster, sessions=sessions, needed=count(needed, "session"))
        more = words.MORE_SESSIONS.format(more=count(int(rest[MORE].max()), "more session"))
        return Verdict(words.QUESTION, taster, CANNOT_TELL, sentence + gone, {}, more, Act.KNOW)
    steady, left = (rest[rest[CALL] == call] for call in (STEADY, CANNOT_TELL))
    open_said = _things(left, rest, noise)
    if steady.empty:
        sentence = words.NOTHING_TOLD.format(taster=taster, open=open_said, sessions=sessions)
    else:
        open_ = words.OPEN_SAID.format(open=open_said) if len(left) else ""
        sentence = words.STEADY_SAID.format(
            taster=taster, steady=_things(steady, rest, noise), sessions=sessions, open=open_
        )
    call = STEADY if len(steady) * 2 >= len(rest) else CANNOT_TELL
    question = words.REST_QUESTION if moved else words.QUESTION
    return Verdict(question, taster, call, sentence + gone, {"steady": len(steady), "open": len(left)},
                   _step(left), Act.KNOW if call == STEADY else Act.TASTE_AGAIN)  # fmt: skip


def _step(left: pd.DataFrame) -> str:
    if left.empty:
        return ""
    more = left[MORE].to_numpy(float)
    more = more[np.isfinite(more)]
    return (
        words.MORE_SESSIONS.format(more=count(int(np.max(more)), "more session")) if len(more) else words.OUT_OF_REACH
    )


def _things(some: pd.DataFrame, whole: pd.DataFrame, noise: str) -> str:
    """Descriptors and pooled charts, listed or counted."""
    level = [str(name) for name in some.loc[some[CHART] == LEVEL_CHART, DESCRIPTOR]]
    total = int((whole[CHART] == LEVEL_CHART).sum())
    parts = []
    if level and (len(level) > LISTED or len(level) == total > 1):
        parts.append(
            Phrase("the level of {part} descriptors").format(
                part=Phrase("all {total}").format(total=total)
                if len(level) == total
                else Phrase("{level} of {total}").format(level=len(level), total=total)
            )
        )
    elif level:
        parts.append(Phrase("the level of {level}").format(level=listing(level)))
    names = words.NOISE_NAMES | ({} if noise == "repeats" else {NOISE: words.SCATTER_NAME})
    parts += [names[chart] for chart in (NOISE, AGREEMENT) if (some[CHART] == chart).any()]
    return listing(parts)


def panel_verdicts(table: pd.DataFrame, controls: list[str], unlinked: list[str]) -> list[Verdict]:
    """Whether all tasters together have moved, as far as hidden controls show."""
    question, rows = words.PANEL_QUESTION, table[table[TASTER] == ""]
    out = []
    if unlinked:
        out.append(Verdict(question, listing(unlinked), CANNOT_TELL, words.UNLINKED.format(controls=listing(unlinked)),
                           {}, words.OVERLAP, Act.TASTE_AGAIN))  # fmt: skip
    if rows.empty:
        return [Verdict(question, "", CANNOT_TELL, words.PANEL_UNSEEN, {}, words.SERVE_CONTROLS, Act.KNOW), *out]
    for _, row in rows[rows[CALL].isin(MOVES)].iterrows():
        sentence = words.PANEL_MOVED.format(
            descriptor=row[DESCRIPTOR], since=since_said(row), **_numbers(row, sign=True)
        )
        numbers = {name: float(row[name]) for name in (CHANGE, LOW, HIGH)}
        out.append(Verdict(question, "the panel", CANNOT_TELL, sentence, numbers, words.FRESH_CONTROL, Act.DECIDE))
    steady, left = (rows[rows[CALL] == call] for call in (STEADY, CANNOT_TELL))
    told, open_said = ([str(name) for name in some[DESCRIPTOR]] for some in (steady, left))
    if told:
        open_ = words.OPEN_SAID.format(open=_some(open_said, len(rows))) if open_said else ""
        sentence = words.PANEL_STEADY.format(controls=listing(controls), steady=_some(told, len(rows)), open=open_)
        out.append(Verdict(question, "the panel", STEADY, sentence, {"steady": len(told)}, _step(left), Act.KNOW))
    elif open_said:
        sentence = words.PANEL_OPEN.format(controls=listing(controls), open=_some(open_said, len(rows)))
        out.append(Verdict(question, "the panel", CANNOT_TELL, sentence, {}, _step(left), Act.TASTE_AGAIN))
    return out


def _some(names: list[str], total: int) -> str:
    if len(names) == total:
        return Phrase("all {total} descriptors").format(total=total) if total > 1 else names[0]
    return (
        listing(names)
        if len(names) <= LISTED
        else Phrase("{names} of {total} descriptors").format(names=len(names), total=total)
    )


def alone_verdict(taster: str, *, followed: bool) -> Verdict:
    """A taster without company."""
    sentence = words.ALONE.format(taster=taster, controls=words.ALONE_CONTROLS if followed else "")
    return Verdict(words.QUESTION, taster, CANNOT_TELL, sentence, {}, words.COMPANY, Act.TASTE_AGAIN)
