"""Chances of few lots against integrals done by scipy: the error of the lots' own spread carried into each answer."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import chi2, norm

import panelstats.models.chances as module
from panelstats.models.chances import chances


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
