"""What lots taste like on one picture: neighbours, what sets them apart, how sure each place is; or nothing to map."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from panelstats.arguments import checked
from panelstats.arguments.amounts import from_one
from panelstats.arguments.objects import earlier_axes
from panelstats.arguments.wording import known, lot_columns, one_of, switch, texts
from panelstats.errors import DesignError
from panelstats.lots.classfit import nobody_counts
from panelstats.lots.maps import words
from panelstats.lots.maps.besides import usual_facts
from panelstats.lots.maps.drawn import drawn
from panelstats.lots.maps.ground import grounds
from panelstats.lots.maps.mapcalls import map_verdicts
from panelstats.lots.maps.onto import placed_onto
from panelstats.lots.maps.placed import ERROR, POINTS, SPREAD, placed
from panelstats.lots.maps.plane import Plane, planes_of, strip_of
from panelstats.lots.maps.stageplanes import StagePlanes, stage_planes
from panelstats.lots.maps.tables import all_tables
from panelstats.result import Chart, Result, in_order
from panelstats.scores.cells import CLASS, DESCRIPTOR, LOT, ROLE, SESSION, cells_from
from panelstats.words import stated_percent

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

# What a map is drawn within.
BY_CLASS, ALL = "class", "all"


@dataclass(frozen=True, eq=False, repr=False, kw_only=True)
class LotMap(Result):
    """Answer of `map_lots`; where there are several maps, a class column comes first.

    Attributes
    ----------
    lots : DataFrame
        lot, role, axis_1, axis_2, ... (points from the middle, as many axes as are given), group ("" where there are
        no clear groups), incomplete (whether a mark of somebody is missing).
    descriptors : DataFrame
        descriptor, stage, axis_1, ...: points of it for a step along the axis, the largest on the first on top; centre
        (mean of the lots, points).
    axes : DataFrame
        axis, variance (divisor lots - 1), share, p (up to the first axis that is not shown), trusted, low_end and
        high_end (in words).
    regions : DataFrame
        lot, half_1, half_2 (half width of its region on each axis), long, short (half axes), degrees (of the long one
        from the first axis), df. Empty with fewer than four tasters.
    groups : DataFrame
        group, lots, size, words, share_kept (overlap when tasters are drawn again), p. Empty: no clear groups.
    outermost : DataFrame
        lots (farthest out at one end of an axis), words (what that end is).
    tests : DataFrame
        test, on, value, f, df, df_error, p: whether the lots differ on anything, against lot by taster.
    distances : DataFrame
        lot, standard, distance, low, high (points on the trusted axes, errors taken off), sds, sds_low, sds_high (the
        same in standard deviations of the error), p, p_adjusted (Holm over lots).
    stages, stage_pairs, stage_lots : DataFrame
        stage, descriptors, p, used, first (eigenvalue); stage_a, stage_b, rv, p, l_g; lot, stage ("all": together),
        axis_1, axis_2 of the joint map.
    picture, tasters : DataFrame
        picture (as scored, turned, turned and stretched), share, share_chance, p; taster, scale (above 1: a narrow use
        of the scale), residual (points a mark).
    facts : DataFrame
        variable, kind, lots, share, slope_1, slope_2 (its unit a step), p, p_adjusted (Holm over facts).
    left_out : DataFrame
        what, name, why.
    filled_in : DataFrame
        lot, descriptor, points: the guess for a mark nobody gave, where `fill_in` asked for it.
    apart : DataFrame
        lot, axis_1, ..., words: lots that were left out, where the descriptors they were scored on (so many) put them;
        on the scale of points.
    level : float
    scale : str
        points, spread or error.
    planes : tuple of Plane
        The pictures, of maps with two axes; of those with a third, that over the first too.
    stage_planes : tuple of StagePlanes
        The lots as each stage sees them, where two stages or more have an axis.
    strips : tuple of Chart
        The lots along one axis, of maps with no more.
    """

    lots: pd.DataFrame
    descriptors: pd.DataFrame
    axes: pd.DataFrame
    regions: pd.DataFrame
    groups: pd.DataFrame
    outermost: pd.DataFrame
    tests: pd.DataFrame
    distances: pd.DataFrame
    stages: pd.DataFrame
    stage_pairs: pd.DataFrame
    stage_lots: pd.DataFrame
    picture: pd.DataFrame
    tasters: pd.DataFrame
    facts: pd.DataFrame
    left_out: pd.DataFrame
    filled_in: pd.DataFrame
    apart: pd.DataFrame
    level: float
    scale: str
    planes: tuple[Plane, ...]
    stage_planes: tuple[StagePlanes, ...]
    strips: tuple[Chart, ...]

    def chart(self, descriptor: str | None = None) -> Chart:
        """The lots of the first map with one axis only, along it; two axes make a plane."""
        if descriptor is not None:
            raise DesignError("a map shows all descriptors at once", where=f"descriptor={descriptor!r}",
                              do="leave it out; select descriptors before mapping")  # fmt: skip
        if not self.strips:
            raise DesignError("nothing to draw", where="the tasters agree on no axis", do="read the verdicts")
        return self.strips[0]

    @checked()
    def place(self, scores: Scores | Cells) -> pd.DataFrame:
        """Lots of another tasting on the axes of this map, which they do not steer.

        Parameters
        ----------
        scores : Scores or Cells
            On the same scale, of the same classes.

        Returns
        -------
        DataFrame
            class (where the map has several), lot, axis_1, ..., words: how many of the map's descriptors the lot was
            scored on. Least squares on their loadings, from the map's own centre; NaN where they do not fix a place.
            There is no region: how other tasters, or another day, mark in general is in the place.

        Raises
        ------
        DesignError
            The map has no axes, or is not in points; no lot has a place on it.

        Examples
        --------
        >>> import panelstats as pst
        >>> room = pst.example.bench()
        >>> scores = pst.read_scores(room.frame, room=room.registers)
        >>> found = pst.map_lots(scores, resamples=99, besides=False)
        >>> again = found.place(scores)
        >>> bool((again[["axis_1", "axis_2"]] - found.lots[["axis_1", "axis_2"]]).abs().max().max() < 1)
        True
        """
        if self.scale != POINTS:
            raise DesignError("only a map in points takes other lots", where=f"scale={self.scale!r}",
                              do="map with scale='points'")  # fmt: skip
        return placed_onto(cells_from(scores), self.descriptors)


@checked(
    axes=from_one, within=one_of(BY_CLASS, ALL), scale=one_of(POINTS, SPREAD, ERROR), anchors=texts,
    facts=lot_columns, reference=earlier_axes, resamples=from_one, besides=switch, fill_in=switch,
)  # fmt: skip
def map_lots(
    scores: Scores | Cells,
    *,
    axes: int | None = None,
    session: str | Sequence[str] | None = None,
    within: str = BY_CLASS,
    scale: str = POINTS,
    standard: str | None = None,
    lots: Sequence[str] = (),
    facts: str | Sequence[str] | None = None,
    anchors: Sequence[str] = (),
    reference: pd.DataFrame | None = None,
    fill_in: bool = False,
    pots: str | Mapping[str, str] | None = None,
    besides: bool = True,
    resamples: int = 999,
    level: float = 0.95,
    seed: int = 0,
) -> LotMap:
    """Place the lots of each class on the axes along which the tasters agree that they differ.

    Parameters
    ----------
    scores : Scores or Cells
        Trainees do not count. Controls and standards are placed among the lots.
    axes : int, optional
        Axes given; by default those the tasters agree on, three at most.
    session : str or sequence of str, optional
        By default the latest. Several are joined, levels of each taster in each session taken off; sessions that no lot
        links make maps of their own.
    within : {"class", "all"}
        A map for each class, or one of all lots.
    scale : {"points", "spread", "error"}
        A point is a point; or each descriptor divided by its standard deviation over the lots; or canonical axes, along
        which lots differ most against the lot-by-taster error.
    standard : str, optional
        The lot from which distances are told; by default the one of that role.
    lots : sequence of str
        Lots to be named on the picture, with their regions, however many there are.
    facts : str or sequence of str, optional
        Columns of the lots register laid on the map without steering it; by default grade, elevation and money.
    anchors : sequence of str
        Descriptors that point up the first axis, the second, ...
    reference : DataFrame, optional
        `descriptors` of an earlier map, whose order and direction the axes keep.
    fill_in : bool
        Where nobody scored a lot on a descriptor, guess that mark from the axes the tasters agree on, and say so; by
        default such lots or descriptors are left out. Refused above a tenth of the table, or where half of the
        descriptors of a lot are missing, or half of the lots on a descriptor. No region covers a guess.
    besides : bool
        Ask for groups, stages, facts, the shared picture and the test of all lots too, which costs the most.
    resamples : int
        Panels with lots relabelled, behind every p.
    level : float in (0, 1)
        Of regions and intervals; every test is at 1 - level.

    Returns
    -------
    LotMap
        The same for rows in any order. A lot or descriptor without marks is left out, and that is said; nothing is
        filled in unasked.

    Raises
    ------
    DesignError
        No such session, lot, column or descriptor, or nobody's marks count.

    Notes
    -----
    Principal axes of the covariance of lot means. A map needs three lots, three tasters and two descriptors, regions
    four tasters. See `panelstats.models.principal`, `axistest`, `regions`, `clusters`, `procrustes`, `stagejoin`.

    Examples
    --------
    >>> import panelstats as pst
    >>> room = pst.example.bench()
    >>> found = pst.map_lots(pst.read_scores(room.frame, room=room.registers), resamples=99)
    >>> found.axes.groupby("class")["trusted"].sum().ge(2).tolist()
    [True, True]
    """
    cells = cells_from(scores, pots)
    known("descriptors", DESCRIPTOR)("anchors", list(anchors), {"scores": cells})
    tasted = set(map(str, cells.frame[SESSION].unique()))
    latest = [name for name in cells.sessions[SESSION].astype(str) if name in tasted][-1:]
    chosen = _named(session) if session is not None else latest
    columns = _named(facts) if facts is not None else usual_facts(cells.lots)
    roles = dict(zip(cells.lots[LOT].astype(str), cells.lots[ROLE], strict=True))
    target = standard if standard is not None else _only_standard(roles)
    found = []
    for ground in grounds(cells, chosen, by_class=within == BY_CLASS, fill_in=fill_in):
        stored = _stored(reference, ground.descriptors, ground.lot_class)
        one = placed(ground, scale=scale, axes=axes, anchors=anchors, stored=stored, resamples=resamples, level=level,
                     seed=seed)  # fmt: skip
        found.append(drawn(one, cells.lots, standard=target, facts=columns, resamples=resamples, level=level, seed=seed,
                           besides=besides))  # fmt: skip
    if not found:
        raise nobody_counts()
    told = {SPREAD: words.BY_SPREAD, ERROR: words.BY_ERROR}.get(scale, "")
    return LotMap(
        **all_tables(found, roles),
        level=level,
        scale=scale,
        planes=tuple(plane for each in found for plane in planes_of(each, roles, set(lots))),
        stage_planes=tuple(each for one in found if one.placed.shown and (each := stage_planes(one)) is not None),
        strips=tuple(strip_of(each) for each in found if each.placed.shown == 1),
        verdicts=in_order([verdict for each in found for verdict in map_verdicts(each, named=len(found) > 1)]),
        method=words.METHOD.format(scale=told, resamples=resamples, level=stated_percent(level),
                                   alpha=stated_percent(1 - level)),
    )  # fmt: skip


def _named(names: str | Sequence[str]) -> list[str]:
    return [names] if isinstance(names, str) else list(names)


def _only_standard(roles: Mapping[str, str]) -> str:
    names = [name for name, role in roles.items() if role == "standard"]
    return names[0] if len(names) == 1 else ""


def _stored(reference: pd.DataFrame | None, descriptors: np.ndarray, lot_class: str) -> np.ndarray | None:
    """Loadings of an earlier map by these descriptors, 0 where it had none."""
    if reference is None:
        return None
    mine = reference[reference[CLASS] == lot_class] if CLASS in reference else reference
    columns = [name for name in mine.columns if str(name).startswith("axis_")]
    table = mine.drop_duplicates(DESCRIPTOR).set_index(DESCRIPTOR)[columns].reindex(descriptors)
    return np.asarray(table.fillna(0.0).to_numpy(float))
