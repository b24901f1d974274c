"""The plan of a tasting: its servings, codes and figures, and the files it writes."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from panelstats.arguments import checked
from panelstats.arguments.amounts import size
from panelstats.arguments.objects import place
from panelstats.arguments.wording import listed
from panelstats.result import Chart, Result, chart_rows
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import pandas as pd

    from panelstats.plan.session.drawn import Drawn

DRAWN = 40  # lots in the picture, those farthest from the middle (ours)


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class ServingPlan(Result):
    """Answer of `plan_session`.

    Attributes
    ----------
    servings : DataFrame
        session, taster, flight, position (in which the taster takes it), place (in the row, or on the tray), code, lot,
        pot (of the lot in the session: shared where all walk along one row, the taster's own on trays), look, role
        (lot, control, repeat), tasted (whether marks were read, see `read_plan`).
    codes : DataFrame
        code, session, lot, pot, look, taster ("" where all share the codes), plan: the register that `read_scores`
        takes. It is kept from the tasters.
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
    brews : DataFrame
        session, vessel, grams, millilitres, minutes, milk.
    warm_up : str
        A tea that is tasted first and not scored; "" for none.
    plan_id : str
        Of who gets what under which code: sheets of another plan are told by it.
    before : str
        Id of the plan whose place it takes (`change_plan`); "" for none.
    renewed : tuple of str
        Tasters who get a new sheet.
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
    brews: pd.DataFrame
    warm_up: str
    plan_id: str
    before: str
    renewed: tuple[str, ...]
    drawn: Drawn = field(repr=False)

    def chart(self, descriptor: str | None = None) -> Chart:  # noqa: ARG002 - a plan has no descriptors
        """Where each lot stands on average: alike for all where positions are balanced."""
        far = (self.positions["mean_position"] - self.positions["mean_position"].mean()).abs()
        shown = self.positions.loc[far.sort_values(ascending=False, kind="stable").head(DRAWN).index.sort_values()]
        rows = chart_rows(shown["lot"], value=shown["mean_position"])
        told = Phrase("mean position over all tasters; lots that stand alike were served alike")
        return Chart(Phrase("Where lots stand"), Phrase("mean position in the order (number)"), rows, told)

    @checked(folder=place, interval=size, descriptors=listed, room=place)
    def write(
        self,
        folder: str | Path,
        *,
        descriptors: pd.DataFrame | Sequence[str] | None = None,
        interval: float = 1.0,
        room: str | Path | None = None,
        overwrite: bool = False,
    ) -> list[Path]:
        """Write a sheet for each taster, to fill in and to print, lists for the kitchen, and the room's registers.

        Parameters
        ----------
        folder : str or Path
            Made where it does not exist. With the filled sheets in it, `read_scores(folder)` reads them all.
        descriptors : DataFrame or list of str, optional
            Names, or a register: descriptor and, where known, stage, low, high, step, means. By default those of the
            room, else a short sheet of the three stages, 0 to 10 in halves.
        interval : float
            Minutes from one pot to the next, for the list of pouring.
        room : str or Path, optional
            The folder of a room: its room.xlsx takes the registers, in place of one beside the sheets, and keeps the
            codes of earlier plans.
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

        return write_plan(self, folder, descriptors=descriptors, interval=interval, room=room, overwrite=overwrite)
