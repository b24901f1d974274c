"""What a room did not declare and its data tell: steps, tolerances, classes, what the pots were."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, OWN, POT, SESSION, SHARED, STAGE, TASTER
from panelstats.sheets.servings import combined, one_of_each
from panelstats.sheets.text import plain

if TYPE_CHECKING:
    from collections.abc import Mapping

STEPS = (1.0, 0.5, 0.25, 0.1, 0.05, 0.01)
SHARE_OF_RANGE = 0.05  # ours: the default tolerance is a twentieth of the range a class uses
ENOUGH = 100  # scores from which the range used is taken from the record rather than the scale (ours)
_UNKNOWN_CLASS = ""


def step_of(scores: np.ndarray) -> float:
    """The largest usual step that divides all scores; NaN where none does.

    Examples
    --------
    >>> step_of(np.array([6.0, 7.5])), step_of(np.array([6.1, 7.0]))
    (0.5, 0.1)
    """
    distinct = np.unique(scores)
    for step in STEPS:
        ratio = distinct / step
        whole = np.round(ratio)
        # Marks a step does not tell apart are on a finer one.
        if len(distinct) and np.all(np.abs(ratio - whole) < 1e-6) and len(np.unique(whole)) == len(distinct):
            return step
    return float("nan")


def tolerance_of(scores: np.ndarray, step: float, low: float, high: float) -> tuple[float, str]:
    """Default tolerance on the level, max(5 % of the range used, one step), and how it came about.

    Parameters
    ----------
    scores : ndarray
        Scores of one descriptor (and class).
    step : float
        Step of the scale; NaN counts as none.
    low, high : float
        Ends of the scale, NaN where not declared.
    """
    if len(scores) >= ENOUGH:
        bottom, top = np.percentile(scores, [1, 99])
        used = f"the range used, {bottom:g} to {top:g}"
    elif not np.isnan(low + high):
        bottom, top, used = low, high, f"the scale, {low:g} to {high:g}"
    else:
        bottom, top = (scores.min(), scores.max()) if len(scores) else (np.nan, np.nan)
        used = f"the range seen, {bottom:g} to {top:g}"
    share = SHARE_OF_RANGE * (top - bottom)
    if not step <= share and not np.isnan(step):
        return step, "one step of the scale"
    return share, f"5 % of {used}"


def grade_family(grade: str) -> str:
    """The sieve family of a grade: whole leaf, broken, fannings or dust; "" where it cannot be told.

    From large to small as made tea is sorted (common practice; ISO 11286 classifies grades by sieve analysis).

    Examples
    --------
    >>> [grade_family(g) for g in ("OP1", "BOP", "BOPF", "PD", "Dust 1")]
    ['whole leaf', 'broken', 'fannings', 'dust', 'dust']
    """
    word = plain(grade).replace(" ", "").replace(".", "").upper()
    if not word:
        return ""
    letters = word.rstrip("0123456789")
    if "DUST" in word or letters in ("D", "PD", "RD", "SRD", "CD"):
        return "dust"
    if "FANN" in word or letters.endswith("F") or letters in ("F", "PF", "OF"):
        return "fannings"
    if letters.startswith("B") or "BROKEN" in word:
        return "broken"
    return "whole leaf"


def classes(lots: pd.DataFrame) -> tuple[pd.Series, str]:
    """Class of each lot and why: its own column, else kind x grade family, with elevation while classes keep 3 lots."""
    if CLASS in lots and (lots[CLASS] != "").any():
        return lots[CLASS], "the column class"
    parts = [p for p in (_column(lots, "kind"), _column(lots, "grade").map(grade_family)) if (p != "").any()]
    if not parts:
        return pd.Series(_UNKNOWN_CLASS, index=lots.index), "no column tells kind or grade: one class"
    label = _join(parts)
    elevation = _column(lots, "elevation")
    why = "kind and grade family"
    if (elevation != "").any():
        finer = _join([*parts, elevation])
        if finer[finer != ""].value_counts().min() >= 3:
            return finer, why + ", with elevation: every class keeps 3 lots"
        why += "; elevation would leave a class under 3 lots"
    return label, why


def _column(lots: pd.DataFrame, name: str) -> pd.Series:
    return lots[name].fillna("").astype(str) if name in lots else pd.Series("", index=lots.index)


def _join(parts: list[pd.Series]) -> pd.Series:
    table = pd.concat(parts, axis=1)
    return table.apply(lambda row: " ".join(v for v in row if v), axis=1)


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
