"""One session and class of lots with its models fitted: what tables and sentences about lots are made from."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from panelstats.errors import DesignError
from panelstats.lots.looksquares import pot_record
from panelstats.lots.plaintables import ASIDE, by_name, tolerances
from panelstats.models.lending import RECORDED
from panelstats.models.multiplicity import adjusted
from panelstats.models.panelfit import DescriptorFit, PanelFit
from panelstats.models.sessionfit import compared_fits
from panelstats.scores.cells import DESCRIPTOR, LOT, ROLE, SAME, SESSION, STAGE

if TYPE_CHECKING:
    from collections.abc import Mapping

    from panelstats.lots.roomerror.fit import RoomError
    from panelstats.scores.cells import Cells, Grid

# Up to so many lots of a class every pair is compared and lettered (common practice; letters grow without bound).
FEW_LOTS = 20
# The stage at which a tray is looked at.
NOTHING_BREWED = "dry leaf"


@dataclass(frozen=True, eq=False)
class ClassFit:
    """A grid, its fits and the test of its lots; arrays run over the grid's descriptors.

    Attributes
    ----------
    grid : Grid
    fits : list of PanelFit
    compared : ndarray of bool, shape (L,)
        Lots that are compared: neither control nor standard.
    statistic, df, df_error, p, p_adjusted : ndarray, shape (D,)
        Test that the compared lots are equal; NaN where there is none.
    tolerance : ndarray, shape (D,)
        Smallest difference that matters, in points; NaN where not known.
    stage : ndarray of str, shape (D,)
    level : float
    tests : int
        Lot tests of the session that `p_adjusted` allows for.
    among_sessions : bool
        Whether other sessions were fitted too, so that sentences must name theirs.
    """

    grid: Grid
    fits: list[PanelFit]
    compared: np.ndarray
    statistic: np.ndarray
    df: np.ndarray
    df_error: np.ndarray
    p: np.ndarray
    p_adjusted: np.ndarray
    tolerance: np.ndarray
    stage: np.ndarray
    level: float
    tests: int
    among_sessions: bool

    @property
    def count(self) -> int:
        """Number of lots that are compared."""
        return int(self.compared.sum())

    def part(self, d: int) -> PanelFit:
        """The fit that holds a descriptor, or that could not be made for it."""
        return next(part for part in self.fits if d in part.index)

    def of(self, d: int) -> DescriptorFit | None:
        """The fit of one descriptor; None where it could not be fitted."""
        return self.part(d).of(d)

    def state(self, d: int) -> str:
        """Why a descriptor was not fitted; empty where it was."""
        part = self.part(d)
        return str(part.can.state[np.flatnonzero(part.index == d)[0]])

    def one_brew(self, d: int) -> bool:
        """Whether a lot is its brew: all tasted one, or one shared pot with nothing else to tell what pots do."""
        part = self.part(d)
        if self.grid.pots[d] == SAME:
            return bool(self.stage[d] != NOTHING_BREWED)
        if not part.shared or (self.grid.looks[..., d].sum(axis=1) > 0).sum(axis=1).max(initial=0) > 1:
            return False
        return not (d in part.slot and part.pots.rule[part.slot[d]] == RECORDED)

    def passed(self, d: int) -> bool:
        """Whether the lots are shown to differ, after allowing for the number of descriptors."""
        return bool(self.p_adjusted[d] < 1 - self.level)


def nobody_counts() -> DesignError:
    """The error of a room whose every taster is a trainee."""
    return DesignError(
        "nobody's marks count: every taster is a trainee", where="the tasters register",
        do="give somebody the role senior there",
    )  # fmt: skip


def class_fits(
    cells: Cells,
    *,
    tolerance: float | Mapping[str, float] | None,
    across: str,
    level: float,
    error: RoomError | None = None,
) -> list[ClassFit]:
    """Fit every session and class, with the room's record of its pots if given; trainees' scores do not count."""
    roles = dict(zip(cells.lots[LOT], cells.lots[ROLE], strict=True))
    stages, sizes = by_name(cells.descriptors, DESCRIPTOR)[STAGE], tolerances(cells.descriptors, tolerance)
    found = compared_fits(cells) if error is None else compared_fits(cells, **_earlier(cells, error))
    if not found:
        raise nobody_counts()
    compared = [np.array([roles[lot] not in ASIDE for lot in grid.lots]) for grid, _ in found]
    tests = [_tests(fits, mine, len(grid.descriptors)) for (grid, fits), mine in zip(found, compared, strict=True)]
    judged = _over_the_page([grid.session for grid, _ in found], [test[3] for test in tests], across)
    sessions = len(set(cells.frame[SESSION]))
    together: Counter[str] = Counter()
    for (grid, _), test in zip(found, tests, strict=True):
        together[grid.session] += int(np.isfinite(test[3]).sum())
    return [
        ClassFit(
            grid=grid,
            fits=fits,
            compared=mine,
            **dict(zip(("statistic", "df", "df_error", "p"), test, strict=True)),
            p_adjusted=p_adjusted,
            tolerance=sizes.loc[grid.descriptors].to_numpy(),
            stage=stages.loc[grid.descriptors].to_numpy(str),
            level=level,
            tests=1 if across == "none" else together[grid.session],
            among_sessions=sessions > 1,
        )
        for (grid, fits), mine, test, p_adjusted in zip(found, compared, tests, judged, strict=True)
    ]


def _earlier(cells: Cells, error: RoomError) -> dict[str, Any]:
    """The room's record of its pots from sessions other than those that are compared."""
    mine = set(map(str, cells.frame[SESSION].unique()))
    return pot_record(error.squares[~error.squares[SESSION].isin(mine)])


def _over_the_page(sessions: list[str], p: list[np.ndarray], across: str) -> list[np.ndarray]:
    """P of the lot tests adjusted over all descriptors and classes of a session: what one page says."""
    ends = np.cumsum([len(one) for one in p])[:-1]
    of, every = np.repeat(sessions, [len(one) for one in p]), np.concatenate([*p, np.zeros(0)])
    out = np.full(len(every), np.nan)
    for session in dict.fromkeys(sessions):
        out[of == session] = adjusted(every[of == session], across)
    return np.split(out, ends)


def _tests(fits: list[PanelFit], compared: np.ndarray, d: int) -> np.ndarray:
    """Statistic, df, error df and p of the lot test by descriptor."""
    out = np.full((4, d), np.nan)
    for part in fits:
        if part.effects is not None:
            test = part.effects.test(compared, list(part.slot.values()))
            out[:, list(part.slot)] = test.statistic, test.df, test.df_error, test.p
    return out
