"""The verdicts on the row over a season: who is swayed by it, who was not shown to be, where it cannot be told."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from panelstats.panel.season import rowwords as words
from panelstats.panel.season.alongrow import AFTER, ALONG, LEVEL, SPREAD, RowEffects
from panelstats.result import Act, Verdict
from panelstats.scores.cells import DESCRIPTOR, TASTER
from panelstats.words import count, decimals, interval, listing, number, stated

if TYPE_CHECKING:
    import pandas as pd

SHOWN = 0.05


def row_verdicts(row: RowEffects) -> list[Verdict]:
    """One verdict for each sway that is shown, one for all that is not, one where orders were one."""
    table = row.table
    shown = table[table["p_adjusted"] < SHOWN]
    out = [_shown(line) for _, line in _told(shown).sort_values("p", kind="stable").iterrows()]
    quiet = [str(name) for name in dict.fromkeys(table[TASTER]) if name and name not in set(shown[TASTER])]
    if quiet:
        out.append(_not_shown(table[table[TASTER].isin(quiet)], quiet))
    if row.one_order:
        sentence = words.ONE_ORDER.format(sessions=count(len(row.one_order), "session"))
        numbers = {"sessions": float(len(row.one_order))}
        out.append(Verdict(words.QUESTION, "", words.OPEN, sentence, numbers, words.OWN_ORDERS, Act.KNOW))
    return out


def _told(shown: pd.DataFrame) -> pd.DataFrame:
    """Without the lines of tasters that tell no more than the panel's own on the same descriptor."""
    panel = shown[shown[TASTER] == ""].set_index([DESCRIPTOR, "effect"])["estimate"]
    common = np.array([panel.get(key, np.nan) for key in zip(shown[DESCRIPTOR], shown["effect"], strict=True)])
    return shown[(shown[TASTER] == "") | ~((shown["low"] <= common) & (common <= shown["high"]))]


def _shown(line: pd.Series) -> Verdict:
    size, low, high = (float(line[name]) for name in ("estimate", "low", "high"))
    places = max(decimals((high - low) / 4), 1)
    fields = {
        "who": line[TASTER] or words.PANEL,
        "descriptor": line[DESCRIPTOR],
        "size": number(abs(size), places),
        "level": f"{stated(100 * LEVEL, '.0f')} %",
        "interval": interval(*((low, high) if size > 0 else (-high, -low)), places),
        "sessions": count(int(line["sessions"]), "session"),
    }
    if line["effect"] == SPREAD:
        sentence = words.SPREAD.format(**fields)
        step = words.REST if size > 1 else ""
    elif line["effect"] == ALONG:
        sentence = words.ALONG.format(move=words.RISE if size > 0 else words.FALL, **fields)
        step = words.REST
    else:
        sentence = words.AFTER.format(way=words.HIGHER if size > 0 else words.LOWER, **fields)
        step = words.RINSE
    numbers = {"estimate": size, "low": low, "high": high, "p": float(line["p_adjusted"])}
    return Verdict(words.QUESTION, str(line[TASTER]), words.SHOWN, sentence, numbers, step, Act.KNOW)


def _not_shown(table: pd.DataFrame, quiet: list[str]) -> Verdict:
    """What would have had to be there to be seen."""
    half = {name: float(np.median((mine["high"] - mine["low"]) / 2)) for name, mine in table.groupby("effect")}
    fields = {"along": number(half.get(ALONG, np.nan), 1), "after": number(half.get(AFTER, np.nan), 1)}
    sentence = words.NOTHING.format(who=listing(quiet), **fields)
    spread = table[table["effect"] == SPREAD]
    if len(spread):
        times = float(np.median(spread["high"] / spread["estimate"]))
        sentence = f"{sentence} {words.NOTHING_SPREAD.format(times=number(times, 1))}"
    subject = quiet[0] if len(quiet) == 1 else ""
    return Verdict(words.QUESTION, subject, words.NOT_SHOWN, sentence, {}, "", Act.KNOW)
