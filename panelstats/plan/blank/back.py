"""A plan read back with the sheets filled by it: what was really served."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.objects import place
from panelstats.errors import PanelError
from panelstats.plan.blank.key import key_of
from panelstats.plan.session.asserved import as_served
from panelstats.plan.session.tired import tired_verdicts
from panelstats.result import in_order
from panelstats.sheets.reading.assemble import assembled
from panelstats.sheets.reading.examine import examine
from panelstats.sheets.room.problems import as_error
from panelstats.words import listing

if TYPE_CHECKING:
    from panelstats.plan.session.servingplan import ServingPlan
    from panelstats.scores.table import Scores

_CUP = ["session", "taster", "lot", "pot", "look"]


@checked(folder=place, room=place)
def read_plan(folder: str | Path, *, room: str | Path | None = None) -> ServingPlan:
    """Read a plan back with the sheets that were filled by it, and count on what was really served.

    Parameters
    ----------
    folder : str or Path
        Where the plan was written: its newest key is taken, with the filled sheets beside it. Or the key itself.
    room : str or Path, optional
        The folder of the room that took the codes, where the filled sheets are.

    Returns
    -------
    ServingPlan
        `servings` says what was tasted. Where something was, `balance`, `positions` and the verdicts are of that:
        positions, neighbours, whether all lots are joined and how well, repeats, and when the key was opened. It can be
        changed (`change_plan`) and written once more.

    Raises
    ------
    PanelError
        No key, keys of several plans, or sheets with problems.

    Examples
    --------
    >>> from tempfile import mkdtemp
    >>> import panelstats as pst
    >>> plan, folder = pst.plan_session(["1", "2", "3"], ["elm", "yew"], limit=6), mkdtemp()
    >>> _ = plan.write(folder, overwrite=True)
    >>> pst.read_plan(folder).plan_id == plan.plan_id
    True
    """
    path = Path(folder)
    plan = _newest(path) if path.is_dir() else key_of(path)
    scores = _marks(path.parent if room is None and path.is_file() else path if room is None else Path(room))
    if scores is None:
        return plan
    cups = pd.concat([scores.frame[_CUP], scores.faults.assign(look=1)[_CUP]], ignore_index=True)
    marked = set(cups.astype(dict.fromkeys(_CUP[:3], str)).itertuples(index=False, name=None))
    tasted = [cup in marked for cup in plan.servings[_CUP].itertuples(index=False, name=None)]
    plan = replace(plan, servings=plan.servings.assign(tasted=tasted))
    if not any(tasted):
        return plan
    served = as_served(plan, _opened(scores))
    tired = tired_verdicts(_placed(scores.frame, plan.servings))
    return replace(served, verdicts=in_order([*served.verdicts, *tired]))


def _placed(marks: pd.DataFrame, servings: pd.DataFrame) -> pd.DataFrame:
    """Marks of the plan's cups with the positions at which they were taken."""
    told = marks.drop(columns="position").astype(dict.fromkeys(_CUP[:3], str))
    return told.merge(servings.loc[servings["tasted"], [*_CUP, "position"]], on=_CUP)


def keys_in(folder: Path) -> list[Path]:
    """The keys of plans in a folder."""
    return sorted(folder.glob("key-*.xlsx"))


def _newest(folder: Path) -> ServingPlan:
    """The plan of a folder whose place no other one took."""
    plans = [key_of(path) for path in keys_in(folder)]
    last = [plan for plan in plans if plan.plan_id not in {each.before for each in plans}]
    if not last:
        raise PanelError("there is no key of a plan", where=str(folder),
                         do="name the folder that panelstats plan wrote, or its key-....xlsx")  # fmt: skip
    if len(last) > 1:
        raise PanelError(f"the keys of {len(last)} plans", where=f"{folder}: {listing(plan.plan_id for plan in last)}",
                         do="name the one that is meant, key-....xlsx")  # fmt: skip
    return last[0]


def _marks(source: Path) -> Scores | None:
    """What the sheets of a source say; None where nobody has filled in anything yet."""
    found = examine(source)
    if len(found.problems):
        raise as_error(found.problems, may_go_on=False)
    return None if found.reading is None else assembled(found.reading, found.problems)


def _opened(scores: Scores) -> pd.DataFrame:
    """What the register of sessions says of the key."""
    table = scores.sessions.reindex(columns=["session", "date", "opened"])
    return table.astype(object).where(table.notna(), "").astype(str)
