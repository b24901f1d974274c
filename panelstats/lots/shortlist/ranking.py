"""The lots of one class on one descriptor: do they differ beyond one look, which are likely the best, which again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import fdtrc

from panelstats.lots.shortlist.classday import THE_LOTS, THIS_TASTER
from panelstats.models.chances import DRAWS, Chances, chances
from panelstats.models.lookagain import UNLIKELY, expected_gain, share_right, to_the_cut
from panelstats.models.lookerror import TASTER_LOT
from panelstats.models.merit import merit_given, spread_of_lots

if TYPE_CHECKING:
    from panelstats.lots.shortlist.classday import ClassDay

IN, OUT = 0.95, 0.05  # chance from which a lot is in, and up to which it is out (ours)
TENTH, LEAST_TAKE = 10, 3  # places: a tenth of the class, and never fewer (ours)
FEWEST = 3  # lots whose spread can be tested
BATCHES = (1, 2)  # second looks that are forecast, in lengths of the list
END_SHARE = 0.3  # of the scores at one end of the scale from which chances are doubted (ours)


@dataclass(frozen=True, eq=False)
class Ranking:
    """One class and descriptor; arrays over its ranked lots that were scored.

    Attributes
    ----------
    day : ClassDay
    d : int
        The descriptor's place in the grid.
    lots : ndarray of int
        Places of the lots in the grid.
    score : ndarray
        Mean over tasters freed of their levels, less the mean of the class.
    take : int
        Places on the list.
    observed, error, df : float
        Variance of the lots' scores, of one lot's score by error alone, and the degrees of freedom of that.
    p : float
        Of the test that the lots do not differ; NaN where there is none.
    seed : int
        Of the draws.
    found : Chances or None
        None where the test was not passed, or the list would leave nobody out.
    """

    day: ClassDay
    d: int
    lots: np.ndarray
    score: np.ndarray
    take: int
    observed: float
    error: float
    df: float
    p: float
    seed: int
    found: Chances | None = None

    @property
    def descriptor(self) -> str:
        """Its name."""
        return str(self.day.grid.descriptors[self.d])

    @property
    def names(self) -> np.ndarray:
        """The lots' names."""
        return self.day.grid.lots[self.lots]

    @property
    def passed(self) -> bool:
        """Whether the lots are shown to differ beyond what one look explains."""
        return self.found is not None

    @cached_property
    def listed(self) -> np.ndarray:
        """The `take` lots of largest chance; ties by score, then by name."""
        out = np.zeros(len(self.lots), bool)
        if self.found is not None:
            order = np.lexsort((self.names, -self.score, -self.found.best))
            out[order[: self.take]] = True
        return out

    @cached_property
    def lopsided(self) -> bool:
        """Whether the scores are skewed beyond luck, so that chances at the longer tail promise too much."""
        n, spread = len(self.score), self.score.std() if len(self.score) else 0.0
        return bool(n > 2 and spread > 0 and abs(((self.score / spread) ** 3).mean()) > 2 * np.sqrt(6 / n))

    @cached_property
    def calls(self) -> np.ndarray:
        """In, out, taste again or cannot tell, by lot."""
        if self.found is None:
            return np.full(len(self.lots), "cannot tell", dtype=object)
        best = self.found.best
        return np.select([best >= IN, best <= OUT], ["in", "out"], "taste again").astype(object)

    @cached_property
    def after_another(self) -> tuple[np.ndarray, np.ndarray]:
        """Variance of each merit now, and after the same panel tasted the lot from one more pot.

        Where pots and looks cannot be told from tasters: after one taster more did.
        """
        between, error = max(self.observed - self.error, 0.0), self.day.error.take(np.array([self.d]))
        share, pots = self.day.share[self.lots, self.d], self.day.pots[self.lots, self.d, None]
        tasters = self.day.tasters[self.lots, self.d, None]
        pot = np.where(np.arange(3) == TASTER_LOT, share, share * pots / (pots + 1))
        taster = share * tasters / (tasters + 1)
        now, by_pot, by_taster = (error.of(each[None])[0][0] for each in (share, pot, taster))
        then = np.where(np.isfinite(by_pot), by_pot, by_taster)
        return between * now / (between + now), between * then / (between + then)

    @cached_property
    def gains(self) -> np.ndarray:
        """Expected gain of one more look at each lot, in points of merit; none where there is no list."""
        if self.found is None:
            return np.zeros(len(self.lots))
        now, then = self.after_another
        moves = np.sqrt(np.maximum(now - then, 0.0))
        return expected_gain(np.maximum(to_the_cut(self.found.merit, self.listed), 0.0), moves)

    @cached_property
    def forecasts(self) -> list[tuple[int, float, float]]:
        """Second looks where they gain most, the share of the list expected to be right now, and then."""
        found = self.found
        if found is None:
            return []
        now, then = self.after_another
        likely = (found.best > UNLIKELY) | self.listed
        rank = np.argsort(np.argsort(-self.gains, kind="stable"))
        rng = np.random.default_rng([self.seed, self.d])

        def right(looks: int) -> float:
            return share_right(found.merit[likely], now[likely], then[likely], rank[likely] < looks, self.take, rng)

        promised, before = float(found.best[self.listed].mean()), right(0)
        batches = [min(times * self.take, len(rank)) for times in BATCHES]
        return [(looks, promised, min(promised + max(right(looks) - before, 0.0), 1.0)) for looks in batches]


def rankings(day: ClassDay, *, take: int | None, level: float, seed: int) -> list[Ranking]:
    """Every descriptor of one class."""
    looked, places = day.looked(), np.flatnonzero(day.ranked)
    scored = looked.tasters > 0
    error, df = day.usual_error()
    observed, _, lots = spread_of_lots(looked)
    with np.errstate(divide="ignore", invalid="ignore"):
        p = fdtrc(np.maximum(lots - 1, 1), df, observed / error)
    passed = (p < 1 - level) & (lots >= FEWEST) & np.isin(day.speaks, (THE_LOTS, THIS_TASTER))
    score = merit_given(looked, np.where(passed, observed - error, 0.0)).score
    score = score - _mean(score, scored)
    return [
        _ranking(
            Ranking(
                day=day, d=d, lots=places[scored[:, d]], score=score[scored[:, d], d],
                take=take or max(LEAST_TAKE, int(lots[d]) // TENTH),
                observed=float(observed[d]), error=float(error[d]), df=float(df[d]), p=float(p[d]), seed=seed,
            ),
            passed=bool(passed[d]), level=level,
        )
        for d in range(len(day.grid.descriptors))
    ]  # fmt: skip


def _ranking(bare: Ranking, *, passed: bool, level: float) -> Ranking:
    """With the chances where the lots differ and the list leaves somebody out."""
    if not passed or bare.take >= len(bare.lots):
        return bare
    rng = np.random.default_rng(bare.seed)
    order = np.argsort(bare.names)  # the same answer whatever the order of the sheet
    drawn = bare.day.drawn_variance(bare.d, bare.lots[order], rng, DRAWS)
    found = chances(bare.score[order], bare.observed, drawn, take=bare.take, level=level, rng=rng)
    if found is None:
        return bare
    back = np.argsort(order)
    return replace(bare, found=Chances(**{name: values[back] for name, values in vars(found).items()}))


def _mean(values: np.ndarray, where: np.ndarray) -> np.ndarray:
    """Mean over lots of each descriptor, NaN where none."""
    count = where.sum(axis=0)
    total = np.where(where, values, 0.0).sum(axis=0)
    return np.divide(total, count, out=np.full(count.shape, np.nan), where=count > 0)
