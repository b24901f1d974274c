"""Sessions that lots join are one season: which they are, and the season model fitted to each set of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from panelstats.models.estimable import NO_ERROR, NO_VARIATION, ROUNDING
from panelstats.models.seasoneffects import SeasonEffects
from panelstats.models.seasonfit import fit_season
from panelstats.models.seasonlayout import season_layout
from panelstats.models.seasonrows import season_rows
from panelstats.models.seasonsources import POT, RESIDUAL

if TYPE_CHECKING:
    from collections.abc import Iterator

    from panelstats.models.seasonrows import SeasonCells


@dataclass(frozen=True, eq=False)
class SeasonPart:
    """Descriptors of one set of joined sessions that were fitted with one design.

    Attributes
    ----------
    sessions, descriptors, lots : ndarray of int
        Places among all of them; `effects` counts its lots by their place in `lots`.
    links : ndarray of int
        Those of `lots`, by place among all, that were met in several of the sessions.
    state : ndarray of str, shape (D,)
        "" where the model was fitted, else why not.
    slot : dict of int to int
        From a descriptor's place among all to its place in the fit.
    effects : SeasonEffects or None
    one_brew : ndarray of bool, shape (D,)
        Whether pots were shared and nothing tells what they do.
    """

    sessions: np.ndarray
    descriptors: np.ndarray
    lots: np.ndarray
    links: np.ndarray
    state: np.ndarray
    slot: dict[int, int]
    effects: SeasonEffects | None
    one_brew: np.ndarray


@dataclass(frozen=True, eq=False)
class Joined:
    """Descriptors whose sessions are joined alike: places of both; a group may be a session that stands alone."""

    descriptors: np.ndarray
    groups: list[np.ndarray]


def joined_sessions(cells: SeasonCells, sizes: tuple[int, int, int, int]) -> list[Joined]:
    """Which sessions lots join, descriptor by descriptor; `sizes` are descriptors, sessions, lots, tasters."""
    d, s, lots, _ = sizes
    met = np.zeros((d, s, lots), np.float32)
    met[cells.descriptor, cells.session, cells.lot] = 1
    joined = (met @ met.swapaxes(1, 2)) > 0
    for _ in range(s.bit_length()):  # who is joined to the same session is joined
        joined = (joined.astype(np.float32) @ joined.astype(np.float32)) > 0
    first = np.where(joined.any(axis=2), joined.argmax(axis=2), -1)  # (descriptor, session): first of its group
    kinds, kind = np.unique(first, axis=0, return_inverse=True)
    out = []
    for k, of in enumerate(kinds):
        groups = [np.flatnonzero(of == one) for one in dict.fromkeys(of[of >= 0])]
        out += [Joined(np.flatnonzero(kind.reshape(-1) == k), groups)] if groups else []
    return out


def season_parts(
    cells: SeasonCells, joined: list[Joined], *, shared: np.ndarray, controls: np.ndarray
) -> list[SeasonPart]:
    """Fit every set of joined sessions.

    Parameters
    ----------
    cells : SeasonCells
    joined : list of Joined
    shared : ndarray of bool, shape (descriptor,)
        Whether brews are pots shared by the tasters.
    controls : ndarray of int
        Lots that are served again and again.
    """
    out = []
    for one in joined:
        for group in one.groups:
            if len(group) > 1:
                for pots in (True, False):
                    mine = one.descriptors[shared[one.descriptors] == pots]
                    here = cells.take(np.isin(cells.descriptor, mine) & np.isin(cells.session, group))
                    out += list(_parts(here, group, controls, pots=pots)) if len(here.mean) else []
    return out


def _parts(cells: SeasonCells, group: np.ndarray, controls: np.ndarray, *, pots: bool) -> Iterator[SeasonPart]:
    """One design; descriptors whose repeated looks never differ are fitted on cell means."""
    never = cells.never_differ_within
    if not never.all():
        yield _part(cells.take(~never), group, controls, pots=pots)
    if never.any():
        yield _part(cells.take(never).one_look_each(), group, controls, pots=False)


def _part(cells: SeasonCells, group: np.ndarray, controls: np.ndarray, *, pots: bool) -> SeasonPart:
    descriptors, descriptor = np.unique(cells.descriptor, return_inverse=True)
    lots, lot = np.unique(cells.lot, return_inverse=True)
    tasters, taster = np.unique(cells.taster, return_inverse=True)
    session = np.searchsorted(group, cells.session)
    coded = replace(cells, descriptor=descriptor, lot=lot, taster=taster, session=session)
    sizes = (len(descriptors), len(group), len(lots), len(tasters))
    rows = season_rows(coded, sizes, pots=pots, controls=np.flatnonzero(np.isin(lots, controls)))
    can, spread = season_layout(rows), coded.spread
    state = np.where(spread <= 0, NO_VARIATION, can.state)
    fits = np.flatnonzero(state == "")
    effects = None
    if len(fits):
        effects = SeasonEffects(fit_season(rows.take(fits), can.held[fits]))
        silent = effects.fit.variances[:, RESIDUAL] <= ROUNDING * spread[fits] ** 2
        state[fits[silent]] = NO_ERROR
    slot = {int(descriptors[d]): k for k, d in enumerate(fits) if state[d] == ""}
    one_brew = can.held[:, POT] & pots
    return SeasonPart(group, descriptors, lots, lots[rows.recurring], state, slot, effects, one_brew)
