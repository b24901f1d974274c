"""Chances of few lots against integrals done by scipy: the error of the lots' own spread carried into each answer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import chi2, norm

import panelstats.models.chances as module
from panelstats.models.chances import chances
from panelstats.models.lookagain import share_right


def _expected(score: float, lots: int, error: float, ask) -> float:
    """Mean of `ask(share)` over the spread of the lots: (n - 1) S2 / chi2, S2 = 1, where it exceeds the error."""
    top = (lots - 1) / error  # chi2 below this leaves the lots some variance
    weight = chi2(lots - 1).cdf(top)

    def inside(x: float) -> float:
        return chi2(lots - 1).pdf(x) * ask(1 - error * x / (lots - 1))

    return quad(inside, 0, top, limit=200)[0] / weight


@pytest.fixture
def many_draws(monkeypatch: pytest.MonkeyPatch) -> int:
    monkeypatch.setattr(module, "DRAWS", 40_000)
    return 40_000


@pytest.mark.parametrize(("lots", "error"), [(4, 0.3), (5, 0.6), (60, 0.5)])
def test_merit_of_few_lots_is_the_mean_over_the_spread_that_they_may_have(
    many_draws: int, lots: int, error: float
) -> None:
    score = np.linspace(-1, 1, lots)
    found = chances(score, 1.0, np.full((many_draws, lots), error), take=1, level=0.9, rng=np.random.default_rng(1))
    share = _expected(1.0, lots, error, lambda share: share)
    np.testing.assert_allclose(found.merit, share * (score - score.mean()), atol=0.015)


def test_interval_of_few_lots_holds_the_error_of_the_lot_and_of_the_spread(many_draws: int) -> None:
    """Limits of the mixture of normals over the spread; taken about the mean of 60 lots, which costs 1/60."""
    lots, error, level = 60, 0.5, 0.9
    score = np.zeros(lots)
    score[0], score[1:] = 1.5, -1.5 / 59
    found = chances(score, 1.0, np.full((many_draws, lots), error), take=3, level=level, rng=np.random.default_rng(2))

    def below(x: float) -> float:
        return _expected(
            1.5, lots, error, lambda share: norm.cdf((x - share * 1.5) / np.sqrt(max(share * error, 1e-9)))
        )

    assert below(found.low[0]) == pytest.approx(0.05, abs=0.012)
    assert below(found.high[0]) == pytest.approx(0.95, abs=0.012)


def test_chances_of_few_lots_add_up_to_the_places(many_draws: int) -> None:
    score = np.array([1.0, 0.4, 0.2, -0.1, -0.5, -1.0])
    found = chances(score, 0.5, np.full((many_draws, 6), 0.1), take=2, level=0.9, rng=np.random.default_rng(3))
    assert found.best.sum() == pytest.approx(2)
    assert found.worst.sum() == pytest.approx(2)
    assert (np.diff(found.best) < 0.01).all()
    assert (np.diff(found.worst) > -0.01).all()


def test_no_draw_that_leaves_lots_any_variance_gives_no_answer() -> None:
    assert chances(np.zeros(5), 1e-6, np.full((50, 5), 10.0), take=1, level=0.9, rng=np.random.default_rng(0)) is None


# --- from 100 lots: the bent prior, done again in plain loops ---------------------------------------------------------


def _oracle(score: np.ndarray, observed: float, error: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The grid and the posterior of each lot: 20 steps of Laird (1978, JASA 73: 805) from the normal prior."""
    grid = score.mean() + np.sqrt(observed) * np.linspace(-5, 5, 121)
    like = np.array([[norm.pdf(s, point, np.sqrt(v)) for point in grid] for s, v in zip(score, error, strict=True)])
    prior = norm.pdf(grid, grid.mean(), np.sqrt(observed - error.mean()))
    prior /= prior.sum()
    for _ in range(20):
        joint = like * prior
        prior = (joint / joint.sum(axis=1, keepdims=True)).mean(axis=0)
    joint = like * prior
    return grid, joint / joint.sum(axis=1, keepdims=True)


@pytest.fixture(scope="module")
def many() -> tuple[np.ndarray, float, np.ndarray]:
    """120 lots with a poor tail, scores on the 200 steps that are told apart, half of them seen twice."""
    rng = np.random.default_rng(5)
    places = np.sort(rng.choice(200, 120, replace=False)) / 199
    places[0], places[-1] = 0.0, 1.0
    score = 4 * places - 4 * places.mean() - np.exp(-8 * places)
    score = np.round((score - score.min()) / np.ptp(score) * 199) / 199 * 4
    score -= score.mean()
    return score, float(score.var(ddof=1)), np.where(np.arange(120) % 2, 0.15, 0.3)


def test_many_lots_have_the_posterior_of_the_bent_prior(many: tuple[np.ndarray, float, np.ndarray]) -> None:
    score, observed, error = many
    found = chances(score, observed, np.tile(error, (50, 1)), take=12, level=0.9, rng=np.random.default_rng(0))
    grid, posterior = _oracle(score, observed, error)
    merit = posterior @ grid
    np.testing.assert_allclose(found.merit, merit - merit.mean(), atol=1e-6)
    step = grid[1] - grid[0]
    edges, total = (
        np.append(grid, grid[-1] + step) - step / 2,
        np.column_stack([np.zeros(120), posterior.cumsum(axis=1)]),
    )
    for limits, q in ((found.low, 0.05), (found.high, 0.95)):
        expected = [np.interp(q, each, edges) for each in total]
        np.testing.assert_allclose(limits, np.array(expected) - merit.mean(), atol=1e-4)


def test_many_lots_have_the_chance_to_lie_beyond_the_cut_that_leaves_the_places(
    many: tuple[np.ndarray, float, np.ndarray],
) -> None:
    """Cut by bisection on the summed tails, a point's mass spread evenly over it."""
    score, observed, error = many
    found = chances(score, observed, np.tile(error, (50, 1)), take=12, level=0.9, rng=np.random.default_rng(0))
    grid, posterior = _oracle(score, observed, error)
    assert found.best.sum() == pytest.approx(12, abs=1e-6)
    assert found.worst.sum() == pytest.approx(12, abs=1e-6)
    edges = np.arange(len(grid) + 1.0)
    total = np.column_stack([np.zeros(len(score)), posterior.cumsum(axis=1)])
    low, high = 0.0, float(len(grid))
    for _ in range(60):
        cut = (low + high) / 2
        above = sum(1 - np.interp(cut, edges, each) for each in total)
        low, high = (cut, high) if above > 12 else (low, cut)
    np.testing.assert_allclose(found.best, [1 - np.interp(low, edges, each) for each in total], atol=1e-6)


def test_the_forecast_of_a_second_look_is_that_of_tasting_again_many_times() -> None:
    """Scores of the second look drawn, merits formed anew (normal-normal), the best counted: 4,000 rooms."""
    rng = np.random.default_rng(6)
    merit, variance, after = np.linspace(-0.3, 0.3, 12), np.full(12, 0.06), np.full(12, 0.01)
    chosen, take = np.abs(merit) < 0.28, 3
    right = []
    for _ in range(4000):
        moved = merit + np.where(chosen, np.sqrt(0.05), 0.0) * rng.standard_normal(12)
        true = moved + np.sqrt(np.where(chosen, 0.01, 0.06)) * rng.standard_normal(12)
        right.append(len(set(np.argsort(moved)[-take:]) & set(np.argsort(true)[-take:])) / take)
    found = [share_right(merit, variance, after, chosen, take, np.random.default_rng(seed)) for seed in range(20)]
    # chances beyond a cut stand in for places: a list of 3 of 12 comes out a little otherwise
    assert np.mean(found) == pytest.approx(np.mean(right), abs=0.05)
    none = share_right(merit, variance, after, np.zeros(12, bool), take, rng)
    assert np.mean(found) > none + 0.05
