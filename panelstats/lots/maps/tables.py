"""The tables of maps: a row for each lot, descriptor, axis, region, group, and of what stands beside them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.lots.maps.apart import apart
from panelstats.lots.maps.axiswords import ends, marked_by, outermost
from panelstats.lots.maps.onto import CENTRE
from panelstats.models.regions import ellipses
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, ROLE, STAGE, TASTER
from panelstats.speech import Phrase
from panelstats.words import listing

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from panelstats.lots.maps.drawn import Drawn

AXIS, GROUP = "axis", "group"
_ON = ("all descriptors", "the first axis")
DISTANCES = [LOT, "standard", "distance", "low", "high", "sds", "sds_low", "sds_high", "p", "p_adjusted"]


def all_tables(maps: list[Drawn], roles: Mapping[str, str]) -> dict[str, pd.DataFrame]:
    """Every table of the result by name, a class column first where there are several maps."""
    makers: dict[str, tuple[Callable[[Drawn], pd.DataFrame], list[str]]] = {
        "lots": (lambda drawn: _lots(drawn, roles), [LOT, ROLE, GROUP, "incomplete"]),
        "descriptors": (_descriptors, [DESCRIPTOR, STAGE, CENTRE]),
        "axes": (_axes, [AXIS, "variance", "share", "p", "trusted", "low_end", "high_end"]),
        "regions": (_regions, [LOT, "half_1", "half_2", "long", "short", "degrees", "df"]),
        "groups": (_groups, [GROUP, "lots", "size", "words", "share_kept", "p"]),
        "outermost": (_outermost, ["lots", "words"]),
        "tests": (_tests, ["test", "on", "value", "f", "df", "df_error", "p"]),
        "distances": (_distances, DISTANCES),
        "stages": (_stages, [STAGE, "descriptors", "p", "used", "first"]),
        "stage_pairs": (_stage_pairs, ["stage_a", "stage_b", "rv", "p", "l_g"]),
        "stage_lots": (_stage_lots, [LOT, STAGE]),
        "picture": (_picture, ["picture", "share", "share_chance", "p"]),
        "tasters": (_tasters, [TASTER, "scale", "residual"]),
        "facts": (lambda drawn: pd.DataFrame(drawn.facts), ["variable", "kind", "lots", "share", "slope_1", "slope_2",
                                                            "p", "p_adjusted"]),
        "left_out": (_left_out, ["what", "name", "why"]),
        "filled_in": (_filled_in, [LOT, DESCRIPTOR, "points"]),
        "apart": (lambda drawn: apart(drawn.placed), [LOT, "words"]),
    }  # fmt: skip
    return {name: _stacked(maps, make, columns) for name, (make, columns) in makers.items()}


def _stacked(maps: list[Drawn], make: Callable[[Drawn], pd.DataFrame], columns: list[str]) -> pd.DataFrame:
    """The rows of all maps; their class first where there are several."""
    parts = []
    for drawn in maps:
        rows = make(drawn)
        if len(maps) > 1:
            rows.insert(0, CLASS, drawn.placed.ground.lot_class)
        parts.append(rows)
    kept = [part for part in parts if len(part)]
    if not kept:
        return pd.DataFrame(columns=[CLASS, *columns] if len(maps) > 1 else columns)
    return pd.concat(kept, ignore_index=True)


def _on_axes(values: np.ndarray) -> dict[str, np.ndarray]:
    return {f"{AXIS}_{at + 1}": values[:, at] for at in range(values.shape[1])}


def _lots(drawn: Drawn, roles: Mapping[str, str]) -> pd.DataFrame:
    placed = drawn.placed
    ground = placed.ground
    labels = np.full(len(ground.lots), "", object)
    if drawn.groups is not None and drawn.groups.clear:
        labels[drawn.groups.row] = [str(label + 1) for label in drawn.groups.found.label]
    columns = {LOT: ground.lots.astype(object), ROLE: [str(roles.get(str(lot)) or "") for lot in ground.lots]}
    return pd.DataFrame(columns | _on_axes(placed.scores) | {GROUP: labels, "incomplete": ground.incomplete})


def _outermost(drawn: Drawn) -> pd.DataFrame:
    far = outermost(drawn.placed, range(drawn.placed.plane)) if drawn.placed.shown else []
    return pd.DataFrame([(listing(lots), way) for lots, way in far], columns=["lots", "words"])


def _descriptors(drawn: Drawn) -> pd.DataFrame:
    placed = drawn.placed
    columns = {DESCRIPTOR: placed.ground.descriptors.astype(object), STAGE: placed.ground.stages.astype(object)}
    table = pd.DataFrame(columns | _on_axes(placed.axes.loadings[:, : placed.shown]) | {CENTRE: placed.ground.centre})
    return table.sort_values("axis_1", ascending=False, kind="stable", ignore_index=True) if placed.shown else table


def _axes(drawn: Drawn) -> pd.DataFrame:
    placed = drawn.placed
    n = len(placed.axes.variance)
    p = np.full(n, math.nan)
    p[: len(placed.p)] = placed.p[:n]
    told = [ends(placed, at) for at in range(n)]
    return pd.DataFrame(
        {AXIS: np.arange(1, n + 1), "variance": placed.axes.variance, "share": placed.axes.share, "p": p,
         "trusted": np.arange(n) < placed.trusted, "low_end": [low for low, _ in told],
         "high_end": [high for _, high in told]}
    )  # fmt: skip


def _regions(drawn: Drawn) -> pd.DataFrame:
    placed = drawn.placed
    if not np.isfinite(placed.radius):
        return pd.DataFrame()
    half = np.sqrt(placed.radius * np.diagonal(placed.covariance, axis1=1, axis2=2))
    table = pd.DataFrame({LOT: placed.ground.lots.astype(object), "half_1": half[:, 0]})
    if placed.plane == 2:
        found = ellipses(placed.covariance[:, :2, :2], placed.radius)
        table = table.assign(half_2=half[:, 1], long=found.long, short=found.short, degrees=found.degrees)
    return table.assign(df=placed.df)


def _groups(drawn: Drawn) -> pd.DataFrame:
    found = drawn.groups
    if found is None or not found.clear:
        return pd.DataFrame()
    rows = [found.row[found.found.label == g] for g in range(found.found.count)]
    names = [", ".join(map(str, drawn.placed.ground.lots[some])) for some in rows]
    return pd.DataFrame(
        {GROUP: [str(g + 1) for g in range(len(rows))], "lots": names, "size": [len(some) for some in rows],
         "words": [marked_by(drawn.placed, some) for some in rows], "share_kept": found.stable, "p": found.found.p}
    )  # fmt: skip


def _tests(drawn: Drawn) -> pd.DataFrame:
    found = drawn.test
    if found is None:
        return pd.DataFrame()
    on = Phrase("the first {on} axes").format(on=found.on) if found.on > 1 else _ON[found.on]
    return pd.DataFrame([{"test": line.name, "on": on, "value": line.value, "f": line.f, "df": line.df,
                          "df_error": line.df_error, "p": line.p} for line in found.lines])  # fmt: skip


def _distances(drawn: Drawn) -> pd.DataFrame:
    rows = [each._asdict() | {"standard": drawn.standard} for each in drawn.distances]
    return pd.DataFrame(rows, columns=DISTANCES)


def _stages(drawn: Drawn) -> pd.DataFrame:
    if drawn.stages is None:
        return pd.DataFrame()
    table = pd.DataFrame(drawn.stages.stages)
    first = iter(drawn.stages.joint.first) if drawn.stages.joint is not None else iter(())
    return table.assign(first=[next(first, math.nan) if used else math.nan for used in table["used"]])


def _stage_pairs(drawn: Drawn) -> pd.DataFrame:
    return pd.DataFrame(drawn.stages.alike if drawn.stages is not None else [])


def _stage_lots(drawn: Drawn) -> pd.DataFrame:
    """Where each stage alone sees each lot, and all together ("all")."""
    if drawn.stages is None or drawn.stages.joint is None:
        return pd.DataFrame()
    joint, lots = drawn.stages.joint, drawn.placed.ground.lots.astype(object)
    q = min(2, joint.scores.shape[1])
    seen = [("all", joint.scores), *zip(drawn.stages.used, joint.places, strict=True)]
    parts = [pd.DataFrame({LOT: lots, STAGE: stage} | _on_axes(places[:, :q])) for stage, places in seen]
    return pd.concat(parts, ignore_index=True)


def _picture(drawn: Drawn) -> pd.DataFrame:
    if drawn.picture is None:
        return pd.DataFrame()
    return pd.DataFrame(drawn.picture.lines).rename(columns={"chance": "share_chance"})


def _tasters(drawn: Drawn) -> pd.DataFrame:
    """How each taster's table was stretched to fit, and the root mean square that is left a mark."""
    if drawn.picture is None:
        return pd.DataFrame()
    found = drawn.picture.consensus
    left = np.sqrt(found.residual.mean(axis=1) / found.mean.shape[1])
    return pd.DataFrame({TASTER: drawn.picture.tasters, "scale": found.scale, "residual": left})


def _left_out(drawn: Drawn) -> pd.DataFrame:
    out = drawn.placed.ground.left_out
    rows = [
        *((LOT, name, Phrase("no mark on a descriptor")) for name in out.lots),
        *((DESCRIPTOR, name, Phrase("no mark on a lot")) for name in out.words),
        *((DESCRIPTOR, name, Phrase("the same for every lot")) for name in out.flat),
        *((TASTER, name, Phrase("the same mark for every lot: not in the shared picture"))
          for name in (drawn.picture.constant if drawn.picture else ())),
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=["what", "name", "why"])


def _filled_in(drawn: Drawn) -> pd.DataFrame:
    """What stands on the map for a mark nobody gave."""
    ground = drawn.placed.ground
    lot, word = np.nonzero(ground.gaps.at)
    points = (ground.means + ground.centre)[lot, word] if len(lot) else []
    return pd.DataFrame({LOT: ground.lots[lot].astype(object), DESCRIPTOR: ground.descriptors[word].astype(object),
                         "points": points})  # fmt: skip
