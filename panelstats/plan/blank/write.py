"""All files of a plan, written whole or not at all."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.filenames import file_names
from panelstats.output import check_writable, write_all
from panelstats.plan.blank.books import registers_of, sheet_bytes
from panelstats.plan.blank.key import key_bytes, key_name
from panelstats.plan.blank.marks import marked
from panelstats.plan.blank.pages import kitchen_page, plates_kitchen_page, plates_page, taster_page
from panelstats.plan.blank.platebooks import plates_bytes, plates_registers
from panelstats.sheets.files.sources import ROOM
from panelstats.sheets.reading.remember import remembered
from panelstats.sheets.room.readroom import read_room
from panelstats.sheets.room.roombook import room_bytes

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    import pandas as pd

    from panelstats.plan.plates.plateplan import PlatePlan
    from panelstats.plan.session.servingplan import ServingPlan


def write_plan(
    plan: ServingPlan, folder: str | Path, *, descriptors: pd.DataFrame | Sequence[str] | None = None,
    interval: float = 1.0, room: str | Path | None = None, overwrite: bool = False, read: Collection[Path] = (),
) -> list[Path]:  # fmt: skip
    """Sheets, lists and registers of a plan; see `ServingPlan.write`."""
    folder = Path(folder)
    if plan.before and room is None and (folder / ROOM).is_file():
        room = folder  # beside sheets of the plan it takes the place of: their codes stay
    marks = marked(_words_of(room) if descriptors is None else descriptors)
    end, still = (f"-{plan.plan_id}" if plan.before else ""), plan.servings[~plan.servings["tasted"]]
    files = {
        folder / key_name(plan): key_bytes(plan),
        folder / f"kitchen{end}.html": kitchen_page(plan, interval=interval),
    }
    for taster, name in file_names(plan.tasters).items():
        mine = still[still["taster"] == taster].assign(plan=plan.plan_id)
        if len(mine) and taster in plan.renewed:
            files[folder / f"sheet-{name}{end}.xlsx"] = sheet_bytes(mine, marks)
            files[folder / f"sheet-{name}{end}.html"] = taster_page(plan, taster, marks)
    return _written(files, registers_of(plan, marks), folder, room, overwrite=overwrite, read=read)


def write_plates(
    plan: PlatePlan, folder: str | Path, *, room: str | Path | None = None, overwrite: bool = False,
    read: Collection[Path] = (),
) -> list[Path]:  # fmt: skip
    """Sheets, lists and registers of a plan of difference tests; see `PlatePlan.write`."""
    folder = Path(folder)
    files = {folder / "kitchen.html": plates_kitchen_page(plan)}
    tasters = list(dict.fromkeys(plan.answers["taster"]))
    for taster, name in file_names(tasters).items():
        mine = plan.answers[plan.answers["taster"] == taster]
        files[folder / f"sheet-{name}.xlsx"] = plates_bytes(mine)
        files[folder / f"sheet-{name}.html"] = plates_page(plan, taster)
    return _written(files, plates_registers(plan), folder, room, overwrite=overwrite, read=read)


def _words_of(room: str | Path | None) -> pd.DataFrame | None:
    """The words that a room scores, where it has said them."""
    if room is None or not (Path(room) / ROOM).is_file():
        return None
    said = read_room(Path(room) / ROOM, []).get("descriptors")
    if said is None:
        return None
    scored = said[said["kind"].isin(["", "score"])] if "kind" in said else said
    return scored.drop_duplicates("descriptor") if len(scored) else None


def _written(
    files: dict[Path, bytes], registers: dict[str, pd.DataFrame], folder: Path, room: str | Path | None, *,
    overwrite: bool, read: Collection[Path],
) -> list[Path]:  # fmt: skip
    """Sheets and registers in one go; the registers of a room keep what it said before."""
    if room is None:
        files = {folder / ROOM: room_bytes(registers), **files}
        write_all(files, folder=folder, overwrite=overwrite, read=read)
        return list(files)
    path, content = remembered(Path(room), registers)
    for each in files if folder.exists() else ():
        check_writable(each, overwrite=overwrite, read=read)
    write_all({path: content, **files}, folder=folder, overwrite=True, read=read)
    return [path, *files]
