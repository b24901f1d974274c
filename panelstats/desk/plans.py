"""What is asked before a tasting: its plan, or that of a difference test, with the sheets that come of it."""

from __future__ import annotations

import datetime as dt
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import panelstats as pst
from panelstats.desk.entries import names
from panelstats.review import as_review

if TYPE_CHECKING:
    from pathlib import Path

    import pandas as pd

    from panelstats.desk.asks import Source
    from panelstats.desk.entries import Given

_MOST = 5000  # lots, or pots of all lots, of one plan
_WHOLE = ("limit", "pots_per_lot", "repeats")


def tasting(source: Source, given: Given) -> pst.Review:
    """A tasting as it was asked for; the room's past says how far a look may be off."""
    lots = _lots_of(given["lots"])
    whole: dict[str, Any] = {name: int(given[name]) for name in _WHOLE if given.get(name)}
    if len(lots) * whole.get("pots_per_lot", 1) > _MOST:
        raise pst.PanelError(f"more than {_MOST:,} pots", where="Lots", do="plan them in parts, a week or a class each")
    known = source.known()
    error = None
    with suppress(pst.PanelError):  # no past, or none that tells how far a look may be off
        error = None if known is None else pst.room_error(known)

    def planned(sessions: list[str] | None) -> pst.ServingPlan:
        return pst.plan_session(
            lots, names(given["tasters"]), service=given.get("service") or "bench", error=error,
            controls=names(given.get("controls", "")), sessions=sessions,
            excluded=_excluded(given.get("excluded", "")), warm_up=given.get("warm_up", ""), **whole,
        )  # fmt: skip

    said = names(given.get("session", ""))
    plan = planned(said or None)
    counted = list(dict.fromkeys(plan.codes["session"].astype(str)))
    taken = set() if known is None else set(known.sessions["session"].astype(str))
    if not said and taken.intersection(counted):  # a name that another session bears would make them one
        today = dt.date.today().isoformat()  # noqa: DTZ011 - the day where the room is
        plan = planned([today] if len(counted) == 1 else [f"{today} {each}" for each in counted])
    return as_review(plan)


def _lots_of(text: str) -> list[str]:
    """Lots by their names, or so many."""
    found = names(text)
    if len(found) != 1 or not found[0].isdecimal():
        return found
    if len(found[0]) > len(str(_MOST)) or int(found[0]) > _MOST:
        raise pst.PanelError(f"more than {_MOST:,} lots", where="Lots", do="plan them in parts, a week or a class each")
    return [str(n + 1) for n in range(int(found[0]))]


def _excluded(text: str) -> dict[str, list[str]] | None:
    """What is never served to whom: `elm=411, elm=412`."""
    found: dict[str, list[str]] = {}
    for each in names(text):
        who, sign, lot = (part.strip() for part in each.partition("="))
        if not (who and sign and lot):
            raise pst.PanelError(
                f"{each!r} does not say who is not to drink what", where="Never served", do="write it as elm=411"
            )
        found.setdefault(who, []).append(lot)
    return found or None


def plates(_: Source, given: Given) -> pst.Review:
    """A difference test as it was asked for."""
    products: Any = tuple(names(given["products"]))
    return as_review(pst.plan_difference(
        given["kind"], names(given["tasters"]), products=products, trials=int(given.get("trials") or 1),
        session=given.get("session") or "1",
    ))  # fmt: skip


def sheets(review: pst.Review, folder: Path, source: Source, given: Given) -> None:
    """Sheets and lists of a plan; its key joins what the room knows."""
    known = source.known()
    for _, plan in review.results:
        if isinstance(plan, pst.ServingPlan):
            words = _words(known, names(given.get("descriptors", "")))
            plan.write(folder, descriptors=words, room=source.folder, overwrite=True)
        if isinstance(plan, pst.PlatePlan):
            plan.write(folder, room=source.folder, overwrite=True)


def _words(known: pst.Scores | None, said: list[str]) -> pd.DataFrame | list[str] | None:
    """What is scored: the words that were said, else those the room scores; None where it scores none yet."""
    if known is None:
        return said or None
    own = known.descriptors[known.descriptors["kind"].isin(["", "score"])]  # what tells a fault is no word to score
    if not said:
        return own
    of_name = own[own["descriptor"].astype(str).isin(said)]
    return of_name if set(said) <= set(of_name["descriptor"].astype(str)) else said
