"""How a trainee came nearer to the seniors, session by session."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from panelstats.report.charts.svg import figure, path, short, tag, wrapped
from panelstats.words import interval, number

if TYPE_CHECKING:
    from collections.abc import Iterable

    import pandas as pd
    from markupsafe import Markup

_WIDTH, _HEIGHT, _LEFT, _LINE = 340.0, 102.0, 34.0, 12.0
_TICKS = (0.5, 1.0, 2.0, 4.0, 8.0)


def curve(rows: pd.DataFrame) -> Markup | None:
    """Distance from the reference over the seniors' own, by session, on a scale where twice is one step.

    Parameters
    ----------
    rows : DataFrame
        session, ratio, low, high of one trainee, in order of time.

    Returns
    -------
    Markup or None
        None where fewer than two sessions have a ratio.
    """
    rows = rows[rows["ratio"] > 0]
    if len(rows) < 2:
        return None
    top = max(2.0, float(rows["high"].replace(math.inf, math.nan).max()), float(rows["ratio"].max()))
    bottom = min(0.5, float(rows["ratio"].min()))
    unit = (_HEIGHT - 8) / math.log(top / bottom)

    def y(ratio: float) -> float:
        return 6 + unit * math.log(top / min(max(ratio, bottom), top))

    step = (_WIDTH - _LEFT - 12) / max(len(rows) - 1, 1)
    places = [
        (_LEFT + 4 + at * step, *map(float, row)) for at, row in enumerate(rows[["ratio", "low", "high"]].to_numpy())
    ]
    ticks = [ratio for ratio in _TICKS if bottom <= ratio <= top]
    first, last = (rows.iloc[at] for at in (0, -1))
    words = f"First session {_one(first)}, last session {_one(last)}; 1 is as near as the seniors are."
    height = _HEIGHT + _LINE * max(len(_lines(str(row["session"]))) for row in (first, last))
    return figure(
        path([f"M{short(_LEFT)} {short(y(1))}H{short(_WIDTH)}"], class_="zero"),
        path([f"M{short(x)} {short(y(low))}V{short(y(high))}" for x, _, low, high in places], class_="interval"),
        path([f"M{short(x)} {short(y(ratio))}h0" for x, ratio, _, _ in places], class_="dot"),
        tag("g", *(tag("text", f"{t:g}", x=_LEFT - 8, y=y(t) + 3.5) for t in ticks), class_="ticks", text_anchor="end"),
        *_ends(str(first["session"]), str(last["session"])),
        title="Distance from the seniors, session by session",
        words=words,
        key="c",
        width=_WIDTH,
        height=height,
    )


def _lines(name: str) -> list[str]:
    return wrapped(name, (_WIDTH - _LEFT) / 2 - 8, 10.5)


def _ends(first: str, last: str) -> Iterable[Markup]:
    """The names of the first and the last session, each in its half."""
    for name, x, anchor in ((first, _LEFT, "start"), (last, _WIDTH - 3, "end")):
        lines = [tag("text", line, x=x, y=_HEIGHT + 8 + at * _LINE) for at, line in enumerate(_lines(name))]
        yield tag("g", *lines, class_="ticks", text_anchor=anchor)


def _one(row: pd.Series) -> str:
    between = interval(row["low"], row["high"], 1)
    return f"{row['session']}: {number(row['ratio'], 1)} times as far as the seniors ({between})"
