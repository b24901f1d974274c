"""The key of a plan as a workbook: every cup with its lot, and what a change of the plan rests on."""

from __future__ import annotations

import json
from dataclasses import asdict, replace
from typing import TYPE_CHECKING

import pandas as pd

from panelstats.errors import PanelError
from panelstats.ourfiles import cell_text, new_workbook
from panelstats.plan.session.brew import brews_of
from panelstats.plan.session.change import register_of
from panelstats.plan.session.drawn import NOTHING_KNOWN, Drawn, labelled, told
from panelstats.plan.session.request import Request
from panelstats.sheets.files.workbooks import read_workbook

if TYPE_CHECKING:
    from pathlib import Path

    from panelstats.plan.session.servingplan import ServingPlan
    from panelstats.sheets.files.grid import Sheet

_WHOLE = ("flight", "position", "place", "pot", "look")
_TOLD = ("before", "warm_up", "renewed")
_LONG = 30_000  # characters of a text that a cell holds for certain


def key_name(plan: ServingPlan) -> str:
    """The name of the file that holds the key."""
    return f"key-{plan.plan_id}.xlsx"


def key_bytes(plan: ServingPlan) -> bytes:
    """The key of a plan: servings, lots, brews, and the plan itself as names and values."""
    drawn = asdict(replace(plan.drawn, asked=replace(plan.drawn.asked, register=None, had=frozenset())))  # type: ignore[arg-type]
    facts = {name: getattr(plan, name) for name in ("plan_id", *_TOLD)} | {"drawn": drawn}
    whole = json.dumps(facts, default=sorted)
    pieces = [whole[at : at + _LONG] for at in range(0, len(whole), _LONG)]
    book, stream = new_workbook()
    tables = {"servings": plan.servings.drop(columns="tasted"), "lots": plan.lots, "brews": plan.brews}
    for name, table in (tables | {"plan": pd.DataFrame({"facts": pieces})}).items():
        page = book.add_worksheet(name)
        page.write_row(0, 0, [cell_text(head) for head in table.columns])
        for r, row in enumerate(table.astype(object).where(table.notna(), "").itertuples(index=False, name=None), 1):
            for c, value in enumerate(row):
                page.write_string(r, c, cell_text(value))
    book.close()
    return stream.getvalue()


def key_of(path: Path) -> ServingPlan:
    """The plan that a key holds, nothing of it tasted.

    Raises
    ------
    PanelError
        The workbook is not the key of a plan.
    """
    try:
        found = {sheet.name: _table(sheet) for sheet in read_workbook(path.read_bytes(), path.name)}
        facts = json.loads("".join(found["plan"]["facts"]))
        drawn = _drawn(facts["drawn"], found["lots"])
        servings = found["servings"].astype(dict.fromkeys(_WHOLE, "int64")).assign(tasted=False)
        plan = told(drawn, servings, register_of(drawn.asked, servings), NOTHING_KNOWN)
        brews = brews_of(found["brews"].replace("", None), list(dict.fromkeys(servings["session"])))
        named = {name: facts[name] for name in _TOLD} | {"renewed": tuple(facts["renewed"])}
    except (KeyError, ValueError, TypeError, IndexError, OSError) as error:
        raise PanelError("the workbook is not the key of a plan", where=str(path),
                         do="give the key as panelstats plan wrote it, unchanged") from error  # fmt: skip
    return labelled(replace(plan, brews=brews, **named), str(facts["plan_id"]))


def _drawn(facts: dict, lots: pd.DataFrame) -> Drawn:
    asked = facts["asked"] | {"register": lots}
    asked |= {name: frozenset(asked[name]) for name in ("strong", "stop", "had")}
    asked["left_out"] = {who: frozenset(names) for who, names in asked["left_out"].items()}
    return Drawn(**(facts | {"asked": Request(**asked)}))


def _table(sheet: Sheet) -> pd.DataFrame:
    """A sheet as text under its heads."""
    columns = [[str(column.values[code]) if column.values[code] is not None else "" for code in column.codes]
               for column in sheet.columns]  # fmt: skip
    return pd.DataFrame({column[0]: column[1:] for column in columns})
