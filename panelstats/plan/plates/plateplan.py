"""The plan of difference tests: sets, orders and the key, and the files it writes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from panelstats.arguments import checked
from panelstats.arguments.objects import place
from panelstats.result import Chart, Result, chart_rows
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class PlatePlan(Result):
    """Answer of `plan_difference`.

    Attributes
    ----------
    servings : DataFrame
        session, test, kind, taster, trial, position (0 for a reference, marked R and not coded), code, product,
        pot (of the product, from which the cup is poured; NaN where nobody said how many).
    answers : DataFrame
        session, test, kind, taster, trial, order (as served, letters A and B; a reference before a colon), answer
        (empty), right (what it should be; the codes of the right cups), code (of the cups in their order), plan: the
        key, kept from the tasters.
    orders : DataFrame
        order, times.
    plan_id : str
        Of who gets what under which code: answers to another plan are told by it.
    """

    servings: pd.DataFrame
    answers: pd.DataFrame
    orders: pd.DataFrame
    plan_id: str

    def chart(self, descriptor: str | None = None) -> Chart:  # noqa: ARG002 - a plan has no descriptors
        """How often each order is served."""
        rows = chart_rows(self.orders["order"], value=self.orders["times"])
        return Chart(Phrase("Orders served"), Phrase("sets (number)"), rows, Phrase("how often each order is served"))

    @checked(folder=place, room=place)
    def write(self, folder: str | Path, *, room: str | Path | None = None, overwrite: bool = False) -> list[Path]:
        """Write a sheet for each taster, to fill in and to print, a list for the kitchen, and the key.

        Parameters
        ----------
        folder : str or Path
            Made where it does not exist. With the filled sheets in it, `read_answers(folder)` reads them all.
        room : str or Path, optional
            The folder of a room: its room.xlsx takes the key, in place of one beside the sheets.
        overwrite : bool
            Replace sheets and registers that are there.

        Returns
        -------
        list of Path
            room.xlsx (the key) and kitchen.html are kept from the tasters; sheet-NAME.xlsx and sheet-NAME.html are for
            each of them. All are written, or none.

        Raises
        ------
        PanelError
            A file stands in the way, or the folder cannot be written.
        """
        from panelstats.plan.blank.write import write_plates  # noqa: PLC0415 - the sheets need what a plan is

        return write_plates(self, folder, room=room, overwrite=overwrite)
