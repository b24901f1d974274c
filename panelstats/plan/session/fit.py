"""A tasting planned: who gets which lot, when, under which code, and what that can prove."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import from_one, size
from panelstats.arguments.objects import room_record
from panelstats.arguments.wording import listed, one_of, switch, text, texts
from panelstats.plan.session.besidechance import how_joined, incidence, refuse_apart
from panelstats.plan.session.drawn import Drawn, told, with_id
from panelstats.plan.session.layout import laid_out
from panelstats.plan.session.plancalls import strong_verdicts
from panelstats.plan.session.proof import variances_of
from panelstats.plan.session.request import (
    BENCH,
    BY_CLASS,
    RANDOM,
    TRAY,
    brew_rule,
    codes_rule,
    excluded_rule,
    limit_rule,
    repeats_rule,
    requested,
    variances_rule,
)
from panelstats.plan.session.served import rows_of, servings_of, strong_beside
from panelstats.plan.session.servingplan import ServingPlan

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence


@checked(
    lots=listed, tasters=texts, service=one_of(BENCH, TRAY), pots_per_lot=from_one, limit=limit_rule, controls=texts,
    repeats=repeats_rule, tasters_per_lot=from_one, order=one_of(RANDOM, BY_CLASS), every=from_one, flight=from_one,
    joining=texts, error=room_record, stop=texts, earlier=codes_rule, variances=variances_rule, excluded=excluded_rule,
    brew=brew_rule, warm_up=text, zeros=switch, strong=texts, pot_minutes=size,
)  # fmt: skip
def plan_session(
    lots: pd.DataFrame | Sequence[str],
    tasters: Collection[str],
    *,
    service: str = BENCH,
    limit: int,
    pots_per_lot: int = 1,
    controls: Sequence[str] = (),
    repeats: float = 0,
    sessions: int | Sequence[str] | None = None,
    tasters_per_lot: int | None = None,
    order: str = RANDOM,
    every: int = 25,
    flight: int | None = None,
    joining: Collection[str] = (),
    earlier: pd.DataFrame | None = None,
    stop: Collection[str] = (),
    zeros: bool = True,
    strong: Collection[str] = (),
    pot_minutes: float | None = None,
    error: object = None,
    variances: Mapping[str, float] | None = None,
    excluded: Mapping[str, Collection[str]] | None = None,
    brew: Mapping[str, object] | pd.DataFrame | None = None,
    warm_up: str = "",
    level: float = 0.95,
    seed: int = 0,
) -> ServingPlan:
    """Plan a tasting: orders, hidden controls and repeats, blind codes, and what it will be able to prove.

    Parameters
    ----------
    lots : list of str, or DataFrame
        Names, or a register with the column lot and, where known, class and role.
    tasters : list of str
    service : {"bench", "tray"}
        bench: one row of pots, all walk along it, codes are shared. tray: every taster gets own cups in an own order,
        under own codes.
    limit : int
        Most pots for a taster in a session, controls and repeats among them. The head taster rules: no default.
    pots_per_lot : int
        Pots of each lot (tray: for each taster); each round has an order of its own.
    controls : list of str
        Lots served hidden in every session; by default those of that role in the register.
    repeats : int or float
        Lots served once more, hidden, on each sheet: a number, or a share of the lots.
    sessions : int or list of str, optional
        How many, or their names; by default as many as the limit asks for.
    tasters_per_lot : int, optional
        Tray: how many taste each lot. By default all; where sessions are given, as many as they hold.
    order : {"random", "class"}
        Bench: rows drawn at random, or in class order with a control first and every so many places.
    every : int
        Class order: from one control to the next.
    flight : int, optional
        Pots between two breaks.
    joining : list of str
        Tasters who joined when the plan was made, in the order in which they did: no other sheet changes.
    earlier : DataFrame, optional
        Registers of codes of past sessions: no lot gets a code again.
    stop : list of str
        Numbers that mean something here, never used as codes.
    zeros : bool
        Codes with the digit 0; without it none that a hand could take for a letter.
    strong : list of str
        Lots known to be strong, as by an earlier score: in a row they are kept from the places beside a control.
    pot_minutes : float, optional
        Minutes that a taster takes over a pot, for the time that a session lasts.
    error : RoomError, optional
        The room's record, from `room_error`.
    variances : mapping, optional
        Or variances in points squared: pot, taster_lot, look.
    excluded : mapping, optional
        {taster: lots that are never served to them}, as those that hold what they are allergic to.
    brew : mapping or DataFrame, optional
        vessel, grams, millilitres, minutes, milk: of all sessions, or a row for each. Scores of different brews are
        never pooled.
    warm_up : str
        A tea that all taste before the first pot; it has no code and is not scored.
    level : float in (0, 1)
        Coverage of half-widths; differences are found by a test at 1 - level.

    Raises
    ------
    DesignError
        A name twice or empty, or what the limit cannot hold, with the smallest change that would do; lots that nothing
        would connect.

    Notes
    -----
    Williams 1949; Patterson & Williams 1976, Biometrika 63: 83; positions, neighbours, connectedness and efficiency are
    counted on what is served. The same names in any order give the same plan. Where all take all lots, everybody has
    wishes of their own for an order, so that one taster more in `tasters` changes few other sheets; in `joining`, none.

    Examples
    --------
    >>> import panelstats as pst
    >>> plan = pst.plan_session(["1", "2", "3", "4"], ["elm", "yew"], service="tray", limit=6, controls=["S"])
    >>> plan.servings[["taster", "position", "lot", "role"]].head(3)
      taster  position lot     role
    0    elm         1   2      lot
    1    elm         2   S  control
    2    elm         3   4      lot
    """
    asked = requested(
        lots, tasters, joining, controls, repeats, sessions, excluded, strong, service=service, limit=limit,
        pots=pots_per_lot, per_lot=tasters_per_lot, order=order, every=every, flight=flight or limit, seed=seed,
        pot_minutes=pot_minutes, zeros=zeros, stop=frozenset(stop), had=_had(earlier),
    )  # fmt: skip
    sheets, way = laid_out(asked)
    rows = rows_of(asked, sheets)
    servings, codes, safe = servings_of(asked, rows)
    served = incidence(asked, servings)
    refuse_apart(asked, served, how_joined(asked, served))
    said = strong_verdicts(asked, strong_beside(asked, rows) if asked.strong else 0)
    known = variances_of(asked, error, variances)
    plan = told(Drawn(asked, way, safe, level), servings, codes, known, said)
    return with_id(plan, brew, warm_up.strip())


def _had(earlier: pd.DataFrame | None) -> frozenset[tuple[str, str]]:
    """What each lot was called before."""
    if earlier is None:
        return frozenset()
    return frozenset(zip(earlier["lot"].astype(str), earlier["code"].astype(str), strict=True))
