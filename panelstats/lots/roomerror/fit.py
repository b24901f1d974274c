"""How far one look may be off in this room: from repeats, controls and several tasters of its sessions."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from panelstats.arguments import checked
from panelstats.errors import DesignError
from panelstats.lots.looksquares import PARTS, joined_error, look_squares
from panelstats.lots.roomerror import words
from panelstats.result import Act, Chart, Result, Verdict, chart_rows, joined, of_descriptor
from panelstats.scores.cells import CLASS, DESCRIPTOR, SESSION, Cells, cells_from
from panelstats.speech import Phrase
from panelstats.words import count, number, span

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.scores.table import Scores

BREWING = ("vessel", "grams", "millilitres", "minutes", "milk")
MONTHS = 12  # how far the room's past reaches back (ours)
TASTERS = (1, 2, 3)
ENOUGH_DF = 6


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class RoomError(Result):
    """Answer of `room_error`.

    Attributes
    ----------
    table : DataFrame
        class, descriptor, tasters (1 to 3, one shared pot), pots, pot_sd, taster_lot_sd, look_sd (points; NaN where
        not known), df, half_width (of one lot), least_difference (of two lots before they are called different),
        source (room / borrowed / this taster only / nothing).
    squares : DataFrame
        session, class, descriptor, source, df, mean_square, and what it expects of each variance: pot, taster_lot,
        look. What `shortlist_lots` and `compare_lots` take from it.
    sessions : DataFrame
        session, used, reason: which sessions speak for this room as it brews now.
    level : float
    """

    table: pd.DataFrame
    squares: pd.DataFrame
    sessions: pd.DataFrame
    level: float

    def chart(self, descriptor: str | None = None) -> Chart:
        """How far one look may be off, a row per descriptor and number of tasters."""
        table = of_descriptor(self.table, descriptor)
        table = table[table["half_width"].notna()]
        if not len(table):
            raise DesignError("nothing to draw", where="nothing is known of the room's error", do="read the verdicts")
        named = [f"{name}, {count(n, 'taster')}" for name, n in zip(table[DESCRIPTOR], table["tasters"], strict=True)]
        return Chart(
            Phrase("How far one look may be off"),
            Phrase("half-width of the interval of a lot tasted once (points)"),
            chart_rows(named, value=table["half_width"], groups=joined(table, [CLASS])),
            words=Phrase("half-width for one lot, one shared pot"),
            ends=(0.0, float(table["half_width"].max()) * 1.05),
        )


@checked()
def room_error(
    scores: Scores | Cells, *, pots: str | Mapping[str, str] | None = None, level: float = 0.95
) -> RoomError:
    """Say how far one look may be off, from all sessions that brewed as the latest one did.

    Parameters
    ----------
    scores : Scores or Cells
        The room's sessions; the last is the latest by date. Sessions of another vessel, mass, volume, time or milk,
        and those more than 12 months older, are left out and named. Trainees do not count.
    level : float in (0, 1)
        Of half-widths.

    Notes
    -----
    Mean squares of repeats and controls within a session, of lots tasted by several, and of cups looked at twice are
    joined as `panelstats.models.lookerror` says; few degrees of freedom borrow from other classes and descriptors.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.row()
    >>> found = pst.room_error(pst.read_scores(room.frame, room=room.registers))
    >>> found.table.query("descriptor == 'brisk'")[["tasters", "half_width"]].round(1).values.tolist()
    [[1.0, 1.4], [2.0, 1.1], [3.0, 1.0]]
    """
    cells = cells_from(scores, pots)
    sessions = _used(cells)
    kept = set(sessions.loc[sessions["used"], SESSION])
    squares = look_squares(cells, None if isinstance(scores, Cells) else scores)
    squares = squares[squares[SESSION].isin(kept)].reset_index(drop=True)
    table = _table(cells, squares, level)
    left_out = sessions.loc[~sessions["used"], SESSION]
    return RoomError(
        table=table,
        squares=squares,
        sessions=sessions,
        level=level,
        verdicts=_verdicts(table, len(kept)),
        method=words.METHOD.format(
            sessions=count(len(kept), "session"),
            left=words.LEFT_OUT.format(sessions=count(len(left_out), "session")) if len(left_out) else "",
        ),
    )


def _used(cells: Cells) -> pd.DataFrame:
    """Which sessions speak for the room as it brews now."""
    tasted = set(map(str, cells.frame[SESSION].unique()))
    table = cells.sessions[cells.sessions[SESSION].astype(str).isin(tasted)]
    last = table.iloc[-1]
    reason = np.full(len(table), "", dtype=object)
    for name in BREWING:
        if name in table:
            other = table[name].notna() & (table[name].astype(str) != str(last[name])) & pd.notna(last[name])
            reason[other.to_numpy() & (reason == "")] = words.OTHER_BREWING.format(name=name)
    days = pd.to_datetime(table["date"], errors="coerce") if "date" in table else pd.Series(pd.NaT, index=table.index)
    old = days < days.iloc[-1] - pd.DateOffset(months=MONTHS)
    reason[old.to_numpy() & (reason == "")] = words.TOO_OLD
    return pd.DataFrame({SESSION: table[SESSION].astype(str).to_numpy(), "used": reason == "", "reason": reason})


def _table(cells: Cells, squares: pd.DataFrame, level: float) -> pd.DataFrame:
    """Half-widths of one look for 1 to 3 tasters at one shared pot."""
    lots = set(map(str, cells.frame["lot"].unique()))
    classes = [str(name) for name in dict.fromkeys(cells.lots.loc[cells.lots["lot"].astype(str).isin(lots), CLASS])]
    names = [str(name) for name in cells.frame[DESCRIPTOR].unique()]
    error, own = joined_error(squares, classes, names)
    rows = []
    for tasters in TASTERS:
        share = np.tile([1.0, 1 / tasters, 1 / tasters], (len(own), 1))
        whole = error.knows(share)
        share[~whole, 1] = 0.0
        value, df = error.of(share)
        reach = stdtrit(df, (1 + level) / 2) * np.sqrt(value)
        source = np.where(
            np.isnan(value), "nothing", np.where(~whole, "this taster only", np.where(own, "room", "borrowed"))
        )
        rows.append(pd.DataFrame({
            CLASS: np.repeat(classes, len(names)), DESCRIPTOR: names * len(classes), "tasters": tasters, "pots": 1,
            **{f"{part}_sd": sd for part, sd in zip(PARTS, error.sds.T, strict=True)},
            "df": df, "half_width": reach, "least_difference": np.sqrt(2) * reach, "source": source,
        }))  # fmt: skip
    return pd.concat(rows, ignore_index=True)


def _verdicts(table: pd.DataFrame, sessions: int) -> tuple[Verdict, ...]:
    known = table[table["half_width"].notna()]
    out = []
    if not len(known):
        step = words.SERVE.format(repeats=12)
        out.append(Verdict(words.QUESTION, "", "cannot tell", words.NO_RECORD, {}, step, Act.TASTE_AGAIN))
    for tasters, rows in known.groupby("tasters"):
        df = float(rows["df"].min())
        sentence = words.REACH.format(
            tasters=count(int(str(tasters)), "taster"),
            half=span(rows["half_width"], 1),
            least=span(rows["least_difference"], 1),
            df=number(df, 0),
            sessions=count(sessions, "session"),
        )
        weak = words.WEAK if df < ENOUGH_DF else ""
        numbers = {"half_width": float(rows["half_width"].max()), "df": df}
        out.append(Verdict(words.QUESTION, "", "known", sentence + weak, numbers, "", Act.KNOW))
    return tuple(out)
