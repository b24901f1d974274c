"""Large rooms and their pages, each drawn from a seed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

import panelstats as pst
from panelstats.report.pages.handed import people_of
from panelstats.report.pages.page import page_of

if TYPE_CHECKING:
    from collections.abc import Callable

MOST = 3_000_000  # bytes of a page, so that it can be mailed and opens at once (ours)


def sheet(
    lots: int, tasters: int, words: int, *, pots: int = 1, sessions: int = 1, again: bool = False
) -> pd.DataFrame:
    """Half points of a class of lots, new ones each week, or with `again` the same ones."""
    rng, weeks = np.random.default_rng(1), pd.date_range("2031-01-06", periods=sessions, freq="3D")
    at = np.indices((lots, tasters, pots)).reshape(3, -1)
    parts = []
    for week, day in enumerate(weeks):
        level = rng.normal(0, 1, (lots, 1, 1, words)) + rng.normal(0, 0.4, (1, tasters, 1, words))
        marks = np.round(2 * (5 + level + rng.normal(0, 0.6, (lots, tasters, pots, words))).clip(0, 10)) / 2
        named = {"lot": [f"{lot if again else week * lots + lot:05d}" for lot in at[0]],
                 "taster": [f"taster {taster + 1:03d}" for taster in at[1]], "pot": at[2] + 1}  # fmt: skip
        days = {"session": str(day.date())} if sessions > 1 else {}
        parts.append(pd.DataFrame(days | named | {f"word {n + 1:02d}": marks[(*at, n)] for n in range(words)}))
    return pd.concat(parts, ignore_index=True)


def day() -> pst.Review:
    """Two thousand lots of four classes, each tasted once by three."""
    table = sheet(2000, 3, 7)
    return pst.review_session(pst.read_scores(table.assign(**{"class": "class " + table["lot"].str[-1]})))


def crowd() -> pst.Review:
    """Two hundred tasters, a dozen lots."""
    return pst.review_session(pst.read_scores(sheet(12, 200, 7, pots=2)))


def tasters() -> pst.Review:
    """The same, asked who can be relied on."""
    return pst.review_tasters(pst.read_scores(sheet(12, 200, 7, pots=2)))


def weeks() -> pst.Review:
    """Five blends against the standard, 34 weeks."""
    table = sheet(6, 6, 8, pots=2, sessions=34, again=True)
    lots = sorted(table["lot"].unique())
    register = pd.DataFrame({"lot": lots, "role": ["standard"] + ["trial"] * 5})
    return pst.review_blends(pst.read_scores(table, room={"lots": register}), standard=lots[0])


def season() -> pst.Review:
    """Two hundred sessions of twenty lots and six tasters."""
    return pst.review_season(pst.read_scores(sheet(20, 6, 6, sessions=200)))


def garden() -> pst.Review:
    """A garden's ten thousand lots of 34 weeks."""
    return pst.review_garden(pst.read_scores(sheet(300, 2, 7, sessions=34).assign(garden="Hill")), "Hill")


def lot_map() -> pst.Review:
    """Two thousand lots on one map."""
    return pst.review_map(pst.read_scores(sheet(2000, 4, 8)))


def catalogue() -> pst.Review:
    """Two thousand lots for a buyer."""
    return pst.review_summary(pst.read_scores(sheet(2000, 4, 8)))


MADE: dict[str, Callable[[], pst.Review]] = {
    "day": day, "crowd": crowd, "tasters": tasters, "weeks": weeks, "season": season, "garden": garden, "map": lot_map,
    "catalogue": catalogue,
}  # fmt: skip


def pages_of(name: str) -> dict[str, bytes]:
    """The page of a large room, and one of those for its people."""
    review = MADE[name]()
    people = people_of(review) if name == "season" else {}
    return {name: page_of(review)} | {f"{name}, {who}": page for who, page in list(people.items())[:1]}
