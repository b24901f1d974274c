"""Pages to print: a sheet for each taster, and lists for whoever brews, pours and serves."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader, StrictUndefined

from panelstats.ourfiles import PAGE_MARK, page_bytes
from panelstats.plan.blank.marks import scale_of

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.plan.session.fit import ServingPlan

BREW = "2 g of tea to 100 ml of freshly boiling water, black tea 6 minutes (ISO 3103:2019); a room's own method rules."
STANDS = 6.0  # minutes: ISO 3103:2019, black tea


def taster_page(plan: ServingPlan, taster: str, descriptors: pd.DataFrame) -> bytes:
    """A sheet to fill in by hand: codes in the taster's order, cells under each descriptor; neither lot nor role."""
    mine = plan.servings[plan.servings["taster"] == taster]
    sessions = [
        {"name": name, "rows": rows.sort_values("position")[["position", "code", "flight"]].to_dict("records")}
        for name, rows in mine.groupby("session", sort=False)
    ]
    marks = [
        {"name": row["descriptor"], "stage": row["stage"], "scale": scale_of(row), "means": row.get("means", "") or ""}
        for _, row in descriptors.iterrows()
    ]
    bench = plan.service == "bench"
    told = {"taster": taster, "sessions": sessions, "marks": marks, "plan": plan.plan_id, "bench": bench}
    return _page("sheet.html.j2", told)


def kitchen_page(plan: ServingPlan, *, interval: float) -> bytes:
    """Lists for the kitchen, a row a pot: what it holds, its code, when it is filled and poured. Not for tasters.

    Parameters
    ----------
    plan : ServingPlan
    interval : float
        Minutes from one pot to the next: every pot then stands equally long.
    """
    keys = ["session"] if plan.service == "bench" else ["session", "taster"]
    first = plan.servings.drop_duplicates([*keys, "code"])
    lists = []
    for key, rows in first.groupby(keys, sort=False):
        pots = rows.sort_values("place")[["place", "code", "lot", "pot", "role"]].to_dict("records")
        for at, pot in enumerate(pots):
            pot |= {"fill": f"{at * interval:g}", "pour": f"{at * interval + STANDS:g}"}
        lists.append({"session": key[0], "taster": key[1] if len(key) > 1 else "", "pots": pots})
    return _page("kitchen.html.j2", {"lists": lists, "plan": plan.plan_id, "brew": BREW, "tasters": plan.tasters})


def _page(template: str, values: dict[str, object]) -> bytes:
    """A template with its values, every one of them escaped."""
    environment = Environment(
        loader=PackageLoader("panelstats", "plan/blank/templates"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    return page_bytes(environment.get_template(template).render(page_mark=PAGE_MARK, **values))
