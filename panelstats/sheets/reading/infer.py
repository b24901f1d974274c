"""What a room did not declare and its data tell: what the pots were."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import DESCRIPTOR, LOT, OWN, POT, SESSION, SHARED, STAGE, TASTER
from panelstats.scores.spelling import plain
from panelstats.sheets.marks.servings import combined, one_of_each

if TYPE_CHECKING:
    from collections.abc import Mapping


def pots_table(
    frame: pd.DataFrame, stages: Mapping[str, str], declared: pd.DataFrame | None, *, by_codes: bool, by_labels: bool
) -> pd.DataFrame:
    """What a pot number means, by session and stage.

    Parameters
    ----------
    frame : DataFrame
        Scores.
    stages : mapping
        Descriptor -> stage.
    declared : DataFrame or None
        The sessions register.
    by_codes, by_labels : bool
        Whether pots were told by codes, and whether they had labels of their own.

    Returns
    -------
    DataFrame
        session, stage, pots, declared, reason. Undeclared pots are shared unless their labels never occur with two
        tasters: shared holds the level whichever is true, own does not.
    """
    said = _declared(declared)
    names = list(dict.fromkeys(stages.values()))
    stage = np.array([names.index(stages[d]) for d in frame[DESCRIPTOR].cat.categories], np.int64)[
        frame[DESCRIPTOR].cat.codes
    ]
    sessions = list(frame[SESSION].cat.categories)
    place = frame[SESSION].cat.codes.to_numpy().astype(np.int64) * len(names) + stage
    rows = []
    for at in np.flatnonzero(np.bincount(place, minlength=len(sessions) * len(names))):
        session, name = str(sessions[at // len(names)]), names[at % len(names)]
        word = next((said[k] for k in ((session, name), (session, ""), ("", name), ("", "")) if k in said), None)
        if word:
            rows.append((session, name, word, True, "the sessions register says so"))
        else:
            here = frame[place == at] if by_codes or by_labels else frame
            rows.append((session, name, *_rule(here, by_codes=by_codes, by_labels=by_labels)))
    return pd.DataFrame(rows, columns=[SESSION, STAGE, "pots", "declared", "reason"])


def _declared(register: pd.DataFrame | None) -> dict[tuple[str, str], str]:
    if register is None or "pots" not in register:
        return {}
    stage = register[STAGE].map(plain) if STAGE in register else pd.Series("", index=register.index)
    keys = zip(register[SESSION], stage, strict=True)
    return {key: word for key, word in zip(keys, register["pots"], strict=True) if word}


def _rule(frame: pd.DataFrame, *, by_codes: bool, by_labels: bool) -> tuple[str, bool, str]:
    if by_codes or by_labels:
        lot, taster = frame[LOT].cat.codes.to_numpy(), frame[TASTER].cat.codes.to_numpy()
        key = combined(lot, frame[POT].to_numpy(), taster)
        first = one_of_each(key)
        pairs = pd.DataFrame({"lot": lot[first], "pot": frame[POT].to_numpy()[first], "taster": taster[first]})
        alone = not pairs.duplicated(["lot", "pot"]).any()
        met = pairs[["lot", "taster"]].drop_duplicates().duplicated("lot").any()  # two tasters could have shared a pot
        if alone and met:
            return OWN, False, "the labels say so: no pot label occurs with two tasters"
        if by_codes and not alone:
            return SHARED, False, "the codes say so: they are common to the tasters"
    return SHARED, False, "not declared; taken as shared, the careful choice"
