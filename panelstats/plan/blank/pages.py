"""Pages to print: a sheet for each taster, and lists for whoever brews, pours and serves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from panelstats.ourfiles import PAGE_MARK, page_bytes
from panelstats.plan.blank.marks import scale_of
from panelstats.plan.blank.platebooks import served
from panelstats.plan.plates import words
from panelstats.plan.session.brew import STANDS, brew_in_words
from panelstats.speech import Phrase, days, said, spoken
from panelstats.words import count, stated

if TYPE_CHECKING:
    import pandas as pd

    from panelstats.plan.plates.plateplan import PlatePlan
    from panelstats.plan.session.servingplan import ServingPlan

BREW = Phrase(
    "2 g of tea to 100 ml of freshly boiling water, black tea 6 minutes, green tea 5 or, of small leaf, 3 "
    "(ISO 3103:2019); a room's own method rules. Water boils below 100 degrees in high places: write the altitude down."
)
_WARM_UP = Phrase("warm-up, not scored")
_EITHER = {"a-not-a": Phrase("A or not A"), "same-different": Phrase("same or different")}


def taster_page(plan: ServingPlan, taster: str, descriptors: pd.DataFrame) -> bytes:
    """A sheet to fill in by hand: codes in the taster's order, cells under each descriptor; neither lot nor role."""
    mine = plan.servings[(plan.servings["taster"] == taster) & ~plan.servings["tasted"]]
    sessions = [
        {"name": name, "rows": rows.sort_values("position")[["position", "code", "flight"]].to_dict("records")}
        for name, rows in mine.groupby("session", sort=False)
    ]
    marks = [
        {"name": row["descriptor"], "stage": row["stage"], "scale": scale_of(row), "means": row.get("means", "") or ""}
        for _, row in descriptors.iterrows()
    ]
    bench = plan.service == "bench"
    told = {"taster": taster, "sessions": sessions, "marks": marks, "plan": plan.plan_id, "bench": bench,
            "warm_up": bool(plan.warm_up)}  # fmt: skip
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
    poured = plan.servings.groupby([*keys, "code"])["tasted"].transform("any")
    first = plan.servings[~poured].drop_duplicates([*keys, "code"])
    brews = {str(row["session"]): row for _, row in plan.brews.iterrows()}
    lists = []
    for key, rows in first.groupby(keys, sort=False):
        pots = rows.sort_values("place")[["place", "code", "lot", "pot", "role"]].to_dict("records")
        if plan.warm_up:
            pots.insert(0, {"place": "", "code": "", "lot": plan.warm_up, "pot": "", "role": _WARM_UP})
        brewed = brews[str(key[0])]
        stands = STANDS if np.isnan(brewed["minutes"]) else brewed["minutes"]
        for at, pot in enumerate(pots):
            pot |= {"fill": stated(at * interval), "pour": stated(at * interval + stands)}
        brew = brew_in_words(brewed)
        lists.append({"session": key[0], "taster": key[1] if len(key) > 1 else "", "pots": pots, "brew": brew})
    return _page("kitchen.html.j2", {"lists": lists, "plan": plan.plan_id, "brew": BREW, "tasters": plan.tasters})


def plates_page(plan: PlatePlan, taster: str) -> bytes:
    """Sets to answer by hand: codes in their order and a cell for the answer; neither products nor orders."""
    mine = plan.answers[plan.answers["taster"] == taster]
    rows = [{"trial": row["trial"], "cups": served(row).split()} for row in mine.to_dict("records")]
    kind = mine["kind"].iloc[0]
    told = {"taster": taster, "session": mine["session"].iloc[0], "rows": rows, "asked": words.ASKED[kind],
            "either": _EITHER.get(kind, ""), "plan": plan.plan_id}  # fmt: skip
    return _page("plates.html.j2", told)


def plates_kitchen_page(plan: PlatePlan) -> bytes:
    """The list for the kitchen: what stands behind every code, set by set. Not for tasters."""
    lists = []
    for taster, sets in plan.servings.groupby("taster", sort=False):
        rows = [{"trial": trial, "cups": cups.sort_values("position")[["code", "product", "pot"]].to_dict("records")}
                for trial, cups in sets.groupby("trial", sort=False)]  # fmt: skip
        lists.append({"taster": taster, "rows": rows})
    cups = plan.servings[plan.servings["position"] > 0]["product"].value_counts()
    told = {"lists": lists, "plan": plan.plan_id, "brew": BREW, "kind": plan.servings["kind"].iloc[0],
            "session": plan.servings["session"].iloc[0], "cups": cups.sort_index().to_dict(),
            "pots": plan.servings["pot"].max()}  # fmt: skip
    return _page("plateskitchen.html.j2", told)


def _told(phrase: str, **fields: object) -> Markup:
    """A phrase, escaped, its names each in a direction of its own."""
    return Markup(escape(str(phrase))).format(  # noqa: S704 - escaped here
        **{name: Markup("<bdi>{}</bdi>").format(value) for name, value in fields.items()}
    )


def _page(template: str, values: dict[str, object]) -> bytes:
    """A template with its values, every one of them escaped."""
    environment = Environment(
        loader=PackageLoader("panelstats", "plan/blank/templates"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True,
    )  # fmt: skip
    environment.globals |= {"_": Phrase, "count": count, "spoken": spoken(), "told": _told}
    environment.filters["said"] = said
    return page_bytes(days(environment.get_template(template).render(page_mark=PAGE_MARK, **values)))
