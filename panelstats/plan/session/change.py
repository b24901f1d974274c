"""A plan changed while it is served: a lot comes late, a taster does not; all else stays as it was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.objects import room_record, serving_plan
from panelstats.arguments.wording import listed, texts
from panelstats.errors import DesignError
from panelstats.plan.session import words
from panelstats.plan.session.drawn import told, with_id
from panelstats.plan.session.late import Among, with_late
from panelstats.plan.session.proof import variances_of
from panelstats.plan.session.request import BENCH, TRAY, limit_rule, lots_register, names_in_order, variances_rule
from panelstats.plan.session.servingplan import ServingPlan
from panelstats.result import Act, Verdict
from panelstats.scores.spelling import natural
from panelstats.words import count, listing

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from panelstats.plan.session.request import Request

SHEET = ["session", "position", "code"]


def _away(name: str, value: object, _: object) -> None:
    """Tasters who do not come, or each with who comes instead."""
    texts(name, list(value) if isinstance(value, Mapping) else value)
    if isinstance(value, Mapping):
        texts(name, list(value.values()))


@checked(
    plan=serving_plan, late=listed, absent=_away, sessions=texts, limit=limit_rule, error=room_record,
    variances=variances_rule,
)  # fmt: skip
def change_plan(
    plan: ServingPlan,
    *,
    late: pd.DataFrame | Sequence[str] = (),
    absent: Collection[str] | Mapping[str, str] = (),
    sessions: Collection[str] = (),
    limit: int | None = None,
    error: object = None,
    variances: Mapping[str, float] | None = None,
) -> ServingPlan:
    """Change a plan while it is served: what was tasted stays, no other cup moves, codes are kept.

    Parameters
    ----------
    plan : ServingPlan
        As planned; as `read_plan` gives it, cups whose marks were read stay where they are.
    late : list of str, or DataFrame
        Lots that came late: they join the sessions that are not over, each under a code of its own, in places drawn
        among those still to come. As names, or as a register with lot and, where known, class.
    absent : list of str, or mapping
        Tasters who do not come (any more): their cups still to come are taken off. {taster: somebody else}: the other
        one takes them over, in the same order.
    sessions : list of str
        Those that the change is of; by default all that are not over.
    limit : int, optional
        Most pots for a taster in a session; by default that of the plan.
    error, variances
        As for `plan_session`.

    Returns
    -------
    ServingPlan
        With an id of its own; `before` is that of the plan given, whose key stays valid for sheets filled by it.

    Raises
    ------
    DesignError
        Nothing changes, a name is not of the plan or is there already, or the limit holds no more pots, with the one
        that would.

    Examples
    --------
    >>> import panelstats as pst
    >>> plan = pst.plan_session(["1", "2", "3"], ["elm", "yew", "larch"], limit=6)
    >>> changed = pst.change_plan(plan, late=["4"], absent=["yew"])
    >>> changed.before == plan.plan_id, sorted(changed.codes["lot"]), sorted(set(changed.servings["taster"]))
    (True, ['1', '2', '3', '4'], ['elm', 'larch'])
    """
    asked = plan.drawn.asked
    away = dict(absent) if isinstance(absent, Mapping) else dict.fromkeys(absent, "")
    register = lots_register(late, ())[0] if len(late) else pd.DataFrame({"lot": pd.Series(dtype=str)})
    names = register["lot"].tolist()
    if not away and not names:
        raise DesignError("nothing changes", where="late=[], absent=[]", do="name late lots, or who does not come")
    open_ = _still_open(plan, sessions)
    servings = _without(plan.servings, asked, away, open_)
    asked = replace(_with_people(asked, servings, away), limit=limit or asked.limit)
    safe = plan.drawn.safe
    if names:
        asked = _with_lots(asked, register)
        gone = [who for who in away if who not in away.values()]
        servings, sound = with_late(Among(asked, servings, plan.codes, open_, gone), names)
        safe &= sound
    if not len(servings):
        raise DesignError("nobody is left to taste", where=f"absent={sorted(away)}", do="plan another day")
    servings = servings.reset_index(drop=True)
    drawn = replace(plan.drawn, asked=asked, safe=safe)
    renewed = tuple(who for who in asked.tasters if _sheet(servings, who) not in ([], _sheet(plan.servings, who)))
    said = _verdict(plan, servings, names, away, renewed)
    found = told(drawn, servings, register_of(asked, servings), variances_of(asked, error, variances), [said])
    found = replace(found, before=plan.plan_id, renewed=renewed)
    brews = plan.brews[plan.brews["session"].isin(servings["session"])]
    return with_id(found, brews, plan.warm_up)


def register_of(asked: Request, servings: pd.DataFrame) -> pd.DataFrame:
    """The register of the codes of servings: a row a pot, in the order of the row or tray."""
    shared = asked.service == BENCH
    keys = ["session", "code"] if shared else ["session", "taster", "code"]
    pots = servings.drop_duplicates(keys)
    # Sessions, and tasters on trays, in the order in which they stand; pots by their places.
    sheet = pots.groupby([name for name in keys if name != "code"], sort=False).ngroup()
    pots = pots.iloc[np.lexsort((pots["place"], sheet))]
    pots = pots.assign(taster="" if shared else pots["taster"])
    return pots[["code", "session", "lot", "pot", "look", "taster"]].reset_index(drop=True)


def _still_open(plan: ServingPlan, sessions: Collection[str]) -> list[str]:
    """The sessions that the change is of."""
    every = list(dict.fromkeys(plan.servings["session"]))
    strange = sorted(set(sessions) - set(every), key=natural)
    if strange:
        raise DesignError("no such session in the plan", where=f"sessions: {strange[0]!r}", do=f"use {listing(every)}")
    left = plan.servings.loc[~plan.servings["tasted"], "session"]
    open_ = [each for each in every if (each in set(sessions) or not sessions) and (left == each).any()]
    if not open_:
        raise DesignError("every session is over", where=f"plan {plan.plan_id}: all cups are marked",
                          do="plan another day (plan_session)")  # fmt: skip
    return open_


def _without(servings: pd.DataFrame, asked: Request, away: Mapping[str, str], open_: Collection[str]) -> pd.DataFrame:
    """Servings without cups of those who are away, or with these cups under the name of who comes instead."""
    out = servings.copy()
    for taster, other in away.items():
        if taster not in asked.tasters:
            raise DesignError("an absent taster who is not in the plan", where=f"absent: {taster!r}",
                              do=f"use one of {listing(asked.tasters)}")  # fmt: skip
        gone = ~out["tasted"] & (out["taster"] == taster) & out["session"].isin(open_)
        if not other:
            out = out[~gone]
            continue
        there = set(out.loc[out["taster"] == other, "session"]) & set(out.loc[gone, "session"])
        if there:
            raise DesignError(f"{other} tastes in session {min(there, key=natural)} already",
                              where=f"absent: {taster!r}: {other!r}", do="name somebody else, or nobody")  # fmt: skip
        barred = sorted(asked.left_out.get(other, frozenset()) & set(out.loc[gone, "lot"]), key=natural)
        if barred:
            raise DesignError(f"{other} is never served {listing(barred)}", where=f"absent: {taster!r}: {other!r}",
                              do="name somebody else, or nobody")  # fmt: skip
        out.loc[gone, "taster"] = other
        order = out[gone].groupby("session")["position"].rank().astype("int64")  # the other one begins at the first
        for name in ("position", "place") if asked.service == TRAY else ("position",):
            out.loc[gone, name] = order
    return out


def _with_people(asked: Request, servings: pd.DataFrame, away: Mapping[str, str]) -> Request:
    """The request with those who taste now, who came instead at the end."""
    new = [other for other in dict.fromkeys(away.values()) if other and other not in asked.tasters]
    names_in_order(asked.tasters, new)  # refuses a name twice in other letters
    there = set(servings["taster"])
    first = [who for who in asked.tasters[: len(asked.tasters) - asked.joined] if who in there]
    later = [who for who in [*asked.tasters[len(asked.tasters) - asked.joined :], *new] if who in there]
    return replace(asked, tasters=[*first, *later], joined=len(later),
                   left_out={who: lots for who, lots in asked.left_out.items() if who in there})  # fmt: skip


def _with_lots(asked: Request, register: pd.DataFrame) -> Request:
    """The request with the late lots among its own."""
    taken = sorted(set(register["lot"]) & set(asked.names), key=natural)
    if taken:
        raise DesignError("a late lot that is planned already", where=f"late: {taken[0]!r}", do="name new lots alone")
    whole, _ = lots_register(pd.concat([asked.register, register], ignore_index=True), asked.controls)
    own = [name for name in whole["lot"] if name not in set(asked.controls)]
    return replace(asked, lots=own, register=whole)


def _sheet(servings: pd.DataFrame, taster: str) -> list[tuple[str, int, str]]:
    """What is still to come on a taster's sheet."""
    mine = servings[(servings["taster"] == taster) & ~servings["tasted"]].sort_values(SHEET)
    return list(mine[SHEET].itertuples(index=False, name=None))


def _verdict(
    plan: ServingPlan, servings: pd.DataFrame, late: list[str], away: Mapping[str, str], renewed: tuple[str, ...]
) -> Verdict:
    """What the change does to the plan."""
    keys = ["session", "taster", "code"]
    kept = len(servings[keys].merge(plan.servings[keys]))
    said = words.CHANGED.format(before=plan.plan_id, kept=kept, cups=count(len(plan.servings), "cup"))
    new = len(servings) - len(plan.servings) + int((~_among(plan.servings, servings, keys)).sum())
    if late:
        said += words.LATE.format(lots=listing(late), cups=count(len(servings[servings["lot"].isin(late)]), "cup"))
    for taster, other in away.items():
        lost = plan.servings[(plan.servings["taster"] == taster) & ~_among(plan.servings, servings, keys)]
        template = words.INSTEAD if other else words.AWAY
        said += template.format(taster=taster, other=other, cups=count(len(lost), "cup"))
    step = words.CHANGED_STEP.format(tasters=listing(renewed)) if renewed else words.NO_SHEET
    return Verdict(words.CHANGED_QUESTION, "", words.CHANGED_CALL, said, {"kept": kept, "new": new}, step, Act.DECIDE)


def _among(rows: pd.DataFrame, others: pd.DataFrame, keys: list[str]) -> pd.Series:
    """Which rows are among the others."""
    there = set(others[keys].itertuples(index=False, name=None))
    return pd.Series([each in there for each in rows[keys].itertuples(index=False, name=None)], index=rows.index)
