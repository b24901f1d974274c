"""A tasting planned: who gets which lot, when, under which code, and what that can prove."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import from_one, size, size_or_zero
from panelstats.arguments.objects import place, room_record, table
from panelstats.arguments.wording import listed, one_of, texts
from panelstats.errors import DesignError
from panelstats.plan.orders.audit import Audit, audit
from panelstats.plan.orders.efficiency import Efficiency, efficiency_of, incidence_of, resolvable_bound
from panelstats.plan.session import words
from panelstats.plan.session.layout import Sheet, laid_out
from panelstats.plan.session.plancalls import (
    codes_verdict,
    compare_verdict,
    load_verdict,
    order_verdicts,
    proof_verdict,
    repeat_verdict,
)
from panelstats.plan.session.proof import Looks, least_differences, room_variances, stated_variances
from panelstats.plan.session.request import (
    BENCH,
    BY_CLASS,
    RANDOM,
    TRAY,
    Request,
    lots_register,
    names_in_order,
    repeats_of,
)
from panelstats.plan.session.served import rows_of, servings_of
from panelstats.result import Chart, Result, chart_rows, in_order
from panelstats.words import percent

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence
    from pathlib import Path

DRAWN = 40  # lots in the picture, those farthest from the middle (ours)
CHANCE = 6  # stream of the draws of a plan made at random, for comparison


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class ServingPlan(Result):
    """Answer of `plan_session`.

    Attributes
    ----------
    servings : DataFrame
        session, taster, flight, position (in which the taster takes it), place (in the row, or on the tray), code, lot,
        pot (of the lot in the session: shared where all walk along one row, the taster's own on trays), look, role
        (lot, control, repeat).
    codes : DataFrame
        code, session, lot, pot, look, taster ("" where all share the codes): the register that `read_scores` takes.
        It is kept from the tasters.
    balance : DataFrame
        figure, plan, random: the plan beside one with orders and lots drawn at random.
    positions : DataFrame
        lot, servings, first, mean_position, position_gap.
    proof : DataFrame
        change (as planned, one more taster, pot, look), class, descriptor, brews and cups more, half_width (points) of
        a difference of two lots, least_80 and least_95 (least difference found with that power); empty where neither
        the room's record nor variances were given.
    lots : DataFrame
        lot, class, role and what else was told of it.
    tasters : tuple of str
    service : str
    randomised : bool
        Whether rows or trays have an order drawn at random.
    plan_id : str
    """

    servings: pd.DataFrame
    codes: pd.DataFrame
    balance: pd.DataFrame
    positions: pd.DataFrame
    proof: pd.DataFrame
    lots: pd.DataFrame
    tasters: tuple[str, ...]
    service: str
    randomised: bool
    plan_id: str

    def chart(self, descriptor: str | None = None) -> Chart:  # noqa: ARG002 - a plan has no descriptors
        """Where each lot stands on average: alike for all where positions are balanced."""
        far = (self.positions["mean_position"] - self.positions["mean_position"].mean()).abs()
        shown = self.positions.loc[far.sort_values(ascending=False, kind="stable").head(DRAWN).index.sort_values()]
        rows = chart_rows(shown["lot"], value=shown["mean_position"])
        told = "mean position over all tasters; lots that stand alike were served alike"
        return Chart("Where lots stand", "mean position in the order (number)", rows, told)

    @checked(folder=place, interval=size, descriptors=listed)
    def write(
        self,
        folder: str | Path,
        *,
        descriptors: pd.DataFrame | Sequence[str] | None = None,
        interval: float = 1.0,
        overwrite: bool = False,
    ) -> list[Path]:
        """Write a sheet for each taster, to fill in and to print, lists for the kitchen, and the room's registers.

        Parameters
        ----------
        folder : str or Path
            Made where it does not exist. With the filled sheets in it, `read_scores(folder)` reads them all.
        descriptors : DataFrame or list of str, optional
            Names, or a register: descriptor and, where known, stage, low, high, step, means. By default a short sheet
            of the three stages, 0 to 10 in halves.
        interval : float
            Minutes from one pot to the next, for the list of pouring.
        overwrite : bool
            Replace sheets and registers that are there.

        Returns
        -------
        list of Path
            room.xlsx (sessions, lots, descriptors, tasters, codes) and kitchen.html are kept from the tasters;
            sheet-NAME.xlsx and sheet-NAME.html are for each of them. All are written, or none.

        Raises
        ------
        DesignError
            Descriptors that no sheet can hold.
        PanelError
            A file stands in the way, or the folder cannot be written.
        """
        from panelstats.plan.blank.write import write_plan  # noqa: PLC0415 - the sheets need what a plan is

        return write_plan(self, folder, descriptors=descriptors, interval=interval, overwrite=overwrite)


def _repeats(name: str, value: object, _: Mapping[str, object]) -> None:
    size_or_zero(name, value)
    if float(value) >= 1 and float(value) != int(float(value)):  # type: ignore[arg-type]
        raise DesignError("repeats are a number or a share", where=f"{name}={value!r}",
                          do="give a whole number, or a share below 1")  # fmt: skip


def _register(name: str, value: object, _: Mapping[str, object]) -> None:
    table(name, value)
    if not {"lot", "code"} <= set(value.columns):  # type: ignore[attr-defined]
        raise DesignError("no register of codes", where=f"{name}: columns {list(map(str, value.columns))}",  # type: ignore[attr-defined]
                          do="give the columns lot and code")  # fmt: skip


def _mapping(name: str, value: object, _: Mapping[str, object]) -> None:
    if not hasattr(value, "items"):
        raise DesignError("variances are named", where=f"{name}={value!r}", do="give {'pot': ..., 'look': ...}")


def _limit(name: str, value: object, _: Mapping[str, object]) -> None:
    from_one(name, value)
    if value < 2:  # type: ignore[operator]
        raise DesignError("one pot a sitting joins nothing", where=f"{name}={value!r}", do="give 2 or more")


@checked(
    lots=listed, tasters=texts, service=one_of(BENCH, TRAY), pots_per_lot=from_one, limit=_limit, controls=texts,
    repeats=_repeats, tasters_per_lot=from_one, order=one_of(RANDOM, BY_CLASS), every=from_one, flight=from_one,
    joining=texts, error=room_record, stop=texts, earlier=_register, variances=_mapping,
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
    error: object = None,
    variances: Mapping[str, float] | None = None,
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
        Tasters who joined when the plan was made: no other sheet changes.
    earlier : DataFrame, optional
        Registers of codes of past sessions: no lot gets a code again.
    stop : list of str
        Numbers that mean something here, never used as codes.
    error : RoomError, optional
        The room's record, from `room_error`.
    variances : mapping, optional
        Or variances in points squared: pot, taster_lot, look.
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
    counted on what is served. The same names in any order give the same plan. Of tasters who take all lots, one who
    comes last by name changes no other sheet; any other is named in `joining`.

    Examples
    --------
    >>> import panelstats as pst
    >>> plan = pst.plan_session(["1", "2", "3", "4"], ["elm", "yew"], service="tray", limit=6, controls=["S"])
    >>> plan.servings[["taster", "position", "lot", "role"]].head(3)
      taster  position lot     role
    0    elm         1   3      lot
    1    elm         2   1      lot
    2    elm         3   S  control
    """
    asked = _request(
        lots, tasters, joining, controls, repeats, sessions, service=service, limit=limit, pots=pots_per_lot,
        per_lot=tasters_per_lot, order=order, every=every, flight=flight or limit, seed=seed,
    )  # fmt: skip
    sheets, way = laid_out(asked)
    rows = rows_of(asked, sheets)
    had = set() if earlier is None else set(zip(earlier["lot"].astype(str), earlier["code"].astype(str), strict=True))
    servings, codes, safe = servings_of(asked, rows, had, set(stop))
    found = _joined(asked, sheets)
    return _told(
        asked, sheets, way, servings, codes, found, _variances(asked, error, variances), safe=safe, level=level
    )


def _request(
    lots: pd.DataFrame | Sequence[str],
    tasters: Collection[str],
    joining: Collection[str],
    controls: Sequence[str],
    repeats: float,
    sessions: int | Sequence[str] | None,
    **rest: object,
) -> Request:
    """All that was asked for, in one order."""
    register, hidden = lots_register(lots, controls)
    own = [name for name in register["lot"] if name not in set(hidden)]
    if not own:
        raise DesignError("no lots to taste", where="lots=[]", do="name the lots beside the controls")
    asked = Request(
        lots=own, controls=hidden, register=register, tasters=names_in_order(tasters, joining),
        repeats=repeats_of(repeats, len(own)), sessions=_sessions(sessions), **rest,  # type: ignore[arg-type]
    )  # fmt: skip
    if asked.order == BY_CLASS and asked.service == TRAY:
        raise DesignError("trays have an order for each taster", where="order='class', service='tray'",
                          do="use order='random', or service='bench'")  # fmt: skip
    if asked.order == BY_CLASS and asked.every < 2:
        raise DesignError("controls leave no room between them", where=f"every={asked.every}", do="give 2 or more")
    if asked.service == BENCH and asked.per_lot is not None:
        raise DesignError("all walk along one row", where=f"tasters_per_lot={asked.per_lot}",
                          do="leave it out, or use service='tray'")  # fmt: skip
    return asked


def _sessions(sessions: int | Sequence[str] | None) -> list[str] | None:
    """Names of the sessions asked for."""
    if sessions is None:
        return None
    if isinstance(sessions, int):
        from_one("sessions", sessions)
        return [str(each + 1) for each in range(sessions)]
    texts("sessions", sessions)
    names = [str(name).strip() for name in sessions]
    if not names or "" in names or len(set(names)) < len(names):
        raise DesignError(
            "sessions need a name each", where=f"sessions={names}", do="give different names, or a number"
        )
    return names


def _incidence(asked: Request, sheets: list[Sheet]) -> np.ndarray:
    """How often each lot and control stands on each sheet."""
    controls = len(asked.lots) + np.arange(len(asked.controls))
    blocks = [np.tile(np.concatenate([sheet.lots, controls]), sheet.rounds) for sheet in sheets]
    return incidence_of(blocks, len(asked.names))


def _joined(asked: Request, sheets: list[Sheet]) -> Efficiency:
    """How well the plan tells its lots apart; refused where nothing joins some of them."""
    mine = np.arange(len(asked.names)) < len(asked.lots)
    found = efficiency_of(_incidence(asked, sheets), compared=mine)
    if found.parts > 1:
        raise DesignError(
            f"nothing joins the lots of different sheets: they fall into {found.parts} parts",
            where=f"limit={asked.limit}, {len(asked.lots)} lots, no controls",
            do="serve a control in every session (controls=[...]), better two, or plan more pots or tasters for lots",
        )
    return found


def _by_chance(asked: Request, sheets: list[Sheet]) -> float:
    """Efficiency of lots dealt at random to sheets of the same sizes, each lot as often."""
    rng, lots = asked.rng(CHANCE), len(asked.lots)
    drawn = np.concatenate([rng.permutation(lots) for _ in range(-(-sum(len(s.lots) for s in sheets) // lots))])
    ends = np.cumsum([0, *(len(sheet.lots) for sheet in sheets)])
    dealt = [
        Sheet(sheet.session, sheet.taster, drawn[a:b], sheet.rounds)
        for sheet, a, b in zip(sheets, ends[:-1], ends[1:], strict=True)
    ]
    mine = np.arange(len(asked.names)) < lots
    return efficiency_of(_incidence(asked, dealt), compared=mine, worst=False).efficiency


def _audits(asked: Request, servings: pd.DataFrame) -> tuple[Audit, Audit]:
    """The orders as served, and the same pots in orders drawn at random."""
    number = {name: at for at, name in enumerate(asked.names)}
    lot = servings["lot"].map(number).to_numpy(np.int64)
    group = servings.groupby(["taster", "session", "flight"] if asked.pots > 1 else ["taster", "session"], sort=False)
    orders = [lot[at] for at in group.indices.values()]
    rng = asked.rng(CHANCE, 1)
    return audit(orders, asked.names), audit([rng.permutation(order) for order in orders], asked.names)


def _balance(found: Audit, chance: Audit, joined: Efficiency, random: float) -> pd.DataFrame:
    figures = {
        "position_gap": (found.position_gap, chance.position_gap),
        "neighbours_most": (found.neighbours_most, chance.neighbours_most),
        "neighbours_least": (found.neighbours_least, chance.neighbours_least),
        "beside_itself": (found.beside_itself, chance.beside_itself),
        "efficiency": (joined.efficiency, random),
    }
    return pd.DataFrame(
        [(name, float(a), float(b)) for name, (a, b) in figures.items()], columns=["figure", "plan", "random"]
    )


def _variances(
    asked: Request, error: object, variances: Mapping[str, float] | None
) -> tuple[pd.DataFrame | None, str, bool]:
    """Variances, where they come from, and whether every part is known."""
    if error is not None and variances is not None:
        raise DesignError("two sources of the error", where="error=..., variances=...", do="give one of them")
    if variances is not None:
        return stated_variances(variances), words.STATED, True
    if error is not None:
        table, whole = room_variances(error.table, len(asked.tasters))  # type: ignore[attr-defined]
        return table if len(table) else None, words.RECORD, whole
    return None, "", True


def _told(
    asked: Request,
    sheets: list[Sheet],
    way: str,
    servings: pd.DataFrame,
    codes: pd.DataFrame,
    joined: Efficiency,
    known: tuple[pd.DataFrame | None, str, bool],
    *,
    safe: bool,
    level: float,
) -> ServingPlan:
    """The plan with its figures and sentences."""
    found, chance = _audits(asked, servings)
    blocked = joined.efficiency < 1 - 1e-9
    random = _by_chance(asked, sheets) if blocked and len(asked.lots) > 1 else joined.efficiency
    shared = asked.service == BENCH
    per_lot = len(asked.tasters) if shared else round(sum(len(s.lots) for s in sheets) / len(asked.lots))
    table, source, whole = known
    looks = Looks(len(asked.lots), per_lot, asked.pots, 1, shared)
    proof = _no_proof() if table is None or len(asked.lots) < 2 else least_differences(
        table, looks, joined.efficiency, level
    )  # fmt: skip
    replicates = per_lot if not shared else asked.pots
    bound = np.nan
    if way == words.REPLICATES and not asked.controls:
        bound = resolvable_bound(len(asked.lots), len(sheets) // replicates, replicates)
    verdicts = [
        *order_verdicts(asked, found, chance),
        compare_verdict(asked, joined, random, bound, way),
        repeat_verdict(servings),
        proof_verdict(asked, proof, per_lot, source, whole=whole),
        codes_verdict(codes, safe=safe),
        load_verdict(servings, codes),
    ]
    orders = words.CLASS_ORDER if asked.order == BY_CLASS else words.ORDERS[f"{asked.service} {way}"]
    return ServingPlan(
        servings=servings,
        codes=codes,
        balance=_balance(found, chance, joined, random),
        positions=found.lots,
        proof=proof,
        lots=asked.register,
        tasters=tuple(asked.tasters),
        service=asked.service,
        randomised=asked.order != BY_CLASS,
        plan_id=asked.plan_id,
        verdicts=in_order(verdicts),
        method=words.METHOD.format(plan=asked.plan_id, seed=asked.seed, orders=orders, level=percent(level)),
    )


def _no_proof() -> pd.DataFrame:
    return pd.DataFrame(
        columns=["change", "class", "descriptor", "brews", "cups", "half_width", "least_80", "least_95"]
    )
