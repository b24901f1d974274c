"""All files of a plan, written whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.filenames import file_names
from panelstats.output import write_all
from panelstats.plan.blank.books import registers_bytes, sheet_bytes
from panelstats.plan.blank.marks import marked
from panelstats.plan.blank.pages import kitchen_page, taster_page

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    import pandas as pd

    from panelstats.plan.session.fit import ServingPlan


def write_plan(
    plan: ServingPlan,
    folder: str | Path,
    *,
    descriptors: pd.DataFrame | Sequence[str] | None,
    interval: float,
    overwrite: bool,
    read: Collection[Path] = (),
) -> list[Path]:
    """Sheets, lists and registers of a plan; see `ServingPlan.write`."""
    folder, marks = Path(folder), marked(descriptors)
    files = {
        folder / "room.xlsx": registers_bytes(plan, marks),
        folder / "kitchen.html": kitchen_page(plan, interval=interval),
    }
    for taster, name in file_names(plan.tasters).items():
        mine = plan.servings[plan.servings["taster"] == taster]
        if len(mine):
            files[folder / f"sheet-{name}.xlsx"] = sheet_bytes(mine, marks)
            files[folder / f"sheet-{name}.html"] = taster_page(plan, taster, marks)
    write_all(files, folder=folder, overwrite=overwrite, read=read)
    return list(files)
