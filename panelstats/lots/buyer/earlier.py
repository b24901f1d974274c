"""Where a class lay in earlier sessions, set on today's marks by the lots that were served in both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from panelstats.lots.plaintables import ASIDE, by_name
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, MEAN, ROLE, SESSION

if TYPE_CHECKING:
    from panelstats.scores.table import Scores


def earlier_classes(scores: Scores, session: str) -> tuple[pd.DataFrame, list[str]]:
    """Mean of each class over earlier sessions on today's marks, and the lots that join them.

    Parameters
    ----------
    scores : Scores
    session : str
        Today's; those before it in the register count.

    Returns
    -------
    DataFrame
        class, descriptor, mean; empty where no lot was served both then and today.
    list of str
        The lots that join.
    """
    order = [str(name) for name in scores.sessions[SESSION]]
    past = order[: order.index(session)] if session in order else []
    empty = pd.DataFrame(columns=[CLASS, DESCRIPTOR, "mean"])
    if not past:
        return empty, []
    frame = scores.cells().select(role="senior").over_brews().frame
    plain = frame[[SESSION, LOT, DESCRIPTOR]].astype(str).assign(mean=frame[MEAN])
    each = plain.groupby([SESSION, LOT, DESCRIPTOR], sort=False)["mean"].mean().reset_index()
    register = by_name(scores.lots, LOT)
    each[CLASS], each[ROLE] = (register[name].reindex(each[LOT]).to_numpy() for name in (CLASS, ROLE))
    now, then = each[each[SESSION] == session], each[each[SESSION].isin(past)]
    joined = sorted(set(now[LOT]) & set(then[LOT]))
    if not joined:
        return empty, []
    key = [LOT, DESCRIPTOR]
    both = then[then[LOT].isin(joined)].merge(now[[*key, "mean"]], on=key, suffixes=("", "_now"))
    moved = (both["mean_now"] - both["mean"]).groupby([both[SESSION], both[DESCRIPTOR]]).mean().rename("moved")
    lots = then[~then[ROLE].isin(ASIDE) & ~then[LOT].isin(joined)]
    lots = lots.merge(moved.reset_index(), on=[SESSION, DESCRIPTOR])
    lots["mean"] = lots["mean"] + lots["moved"]
    lots[CLASS] = lots[CLASS].fillna("").astype(str)
    return lots.groupby([CLASS, DESCRIPTOR], sort=False)["mean"].mean().reset_index(), joined
