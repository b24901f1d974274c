"""Power, pots and limits by scipy.stats' distributions, written out one case at a time."""

import numpy as np
import pytest
from scipy import stats
from scipy.optimize import brentq

from panelstats.models.normality import omnibus_p
from panelstats.models.numbersneeded import (
    MOST_POTS,
    pots_and_tasters_needed,
    pots_needed,
    power_with_pots,
    tasters_needed,
)  # fmt: skip
from panelstats.models.reliability import limits_of_these_lots, trust_in_mean


def power(pots, pot, cross, error, *, tasters, lots=2, difference=1.0, level=0.95):
    """Noncentral t on Satterthwaite's df, mean squares at their expectations (Searle et al. 1992, section 4.3)."""
    ms = {"pot": tasters * pot + error, "cross": pots * cross + error, "rest": error}
    df = {"pot": lots * (pots - 1), "cross": (lots - 1) * (tasters - 1), "rest": lots * (pots - 1) * (tasters - 1)}
    total = ms["pot"] + ms["cross"] - ms["rest"]
    free = total**2 / sum(ms[k] ** 2 / df[k] for k in ms)
    shift = difference / np.sqrt(2 * total / (tasters * pots))
    far = stats.t.ppf((1 + level) / 2, free)
    return stats.nct.sf(far, free, shift) + stats.nct.cdf(-far, free, shift)


CASES = [(0.06, 0.2, 0.6, {"tasters": 8}), (0.3, 0.05, 0.4, {"tasters": 5, "lots": 4, "difference": 1.5}),
         (0.01, 0.4, 0.9, {"tasters": 12, "lots": 3, "level": 0.9, "difference": 0.8})]  # fmt: skip


@pytest.mark.parametrize(("pot", "cross", "error", "plan"), CASES)
def test_power_with_shared_pots_is_a_noncentral_t(pot, cross, error, plan):
    for pots in (2, 3, 7):
        found = power_with_pots(np.array([pots]), pot, cross, error, **plan)[0]
        assert found == pytest.approx(power(pots, pot, cross, error, **plan), abs=1e-8)


@pytest.mark.parametrize(("pot", "cross", "error", "plan"), CASES)
@pytest.mark.parametrize("asked", [0.5, 0.8])
def test_pots_needed_are_the_fewest_with_the_power(pot, cross, error, plan, asked):
    enough = [n for n in range(2, MOST_POTS + 1) if power(n, pot, cross, error, **plan) >= asked]
    found = float(pots_needed(np.array(pot), cross, error, power=asked, **plan))
    assert found == (enough[0] if enough else np.inf)


@pytest.mark.parametrize(("pot", "tasters"), [(0.06, 3), (0.25, 3), (0.4, 5), (0.02, 12)])
def test_where_pots_do_not_suffice_more_tasters_are_needed_the_fewest_that_do(pot, tasters):
    pots, many = pots_and_tasters_needed(pot, 0.2, 0.6, tasters=tasters)
    enough = [
        (people, n) for people in range(tasters, many + 1) for n in range(2, MOST_POTS + 1)
        if power(n, pot, 0.2, 0.6, tasters=people) >= 0.8
    ]  # fmt: skip
    assert enough[0] == (many, pots)


def test_where_nothing_suffices_no_number_is_named():
    assert pots_and_tasters_needed(9.0, 0.2, 0.6, tasters=3) is None


def test_what_is_not_known_needs_no_number_of_pots():
    both = pots_needed(np.array([0.06, np.nan]), np.array([0.2, 0.2]), np.array([0.6, 0.6]), tasters=8)
    assert np.isfinite(both[0])
    assert np.isnan(both[1])


@pytest.mark.parametrize(("power", "level"), [(0.9, 0.95), (0.8, 0.9)])
def test_tasters_needed_keep_their_power_and_level(power, level):
    found = tasters_needed(0.16, 0.64, looks=2, lots=3, difference=0.9, power=power, level=level)

    def reached(n):
        t = stats.t(2 * (n - 1))
        return (t.ppf((1 + level) / 2) + t.ppf(power)) * np.sqrt(2 * (0.16 + 0.32) / n) <= 0.9

    assert reached(found)
    assert not reached(found - 1)


@pytest.mark.parametrize("seed", range(4))
def test_normal_values_are_judged_as_scipy_does(seed):
    """scipy.stats.normaltest: D'Agostino & Pearson."""
    rng = np.random.default_rng(seed)
    values = np.column_stack([rng.normal(size=30), rng.exponential(size=30), rng.standard_t(3, 30)])
    values[:5, 1] = np.nan
    wanted = [stats.normaltest(column[np.isfinite(column)]).pvalue for column in values.T]
    np.testing.assert_allclose(omnibus_p(values), wanted, rtol=1e-9)


def test_normality_is_judged_from_eight_values_on_that_vary():
    eight = np.array([1.0, 2, 2, 3, 3, 3, 4, 9])
    assert omnibus_p(eight[:, None])[0] == pytest.approx(stats.normaltest(eight).pvalue)
    assert np.isnan(omnibus_p(eight[:7, None])).all()
    assert np.isnan(omnibus_p(np.full((9, 1), 5.0))).all()


@pytest.mark.parametrize("f", [8.0, 2.2, 0.8])
@pytest.mark.parametrize("level", [0.9, 0.95])
def test_limits_of_these_lots_join_a_noncentral_f_and_a_chi_square_on_the_logarithm(f, level):
    """Zou & Donner 2008 (from memory): the two distances add like the sides of a right triangle."""
    df, levels, df_levels = (9.0, 27.0), 1.7, 6.0
    tail = (1 - level) / 2

    def spread(share):
        def gap(nc):
            return stats.ncf.cdf(f, *df, nc) - share if nc > 0 else stats.f.cdf(f, *df) - share

        return brentq(gap, 0, 800) / df[0] if gap(0) > 0 else 0.0

    low_spread, high_spread = spread(1 - tail), spread(tail)
    own = [np.log(max(levels * df_levels / stats.chi2.isf(t, df_levels), 1.0)) for t in (tail, 1 - tail)]
    found = [x[0] for x in limits_of_these_lots(*(np.array([f]), tuple(np.array([v]) for v in df)),
                                               np.array([levels]), np.array([df_levels]), level=level)]  # fmt: skip
    if f <= 1:
        assert found[0] == 0
        assert found[1] == pytest.approx(high_spread / (high_spread + np.exp(own[0])), abs=1e-6)
        return
    middle = np.log(f - 1) - np.log(levels)
    up = np.hypot(np.log(high_spread) - np.log(f - 1), np.log(levels) - own[0])
    down = np.hypot(np.log(f - 1) - np.log(low_spread), own[1] - np.log(levels)) if low_spread else np.inf
    wanted = [1 / (1 + np.exp(-(middle - down))), 1 / (1 + np.exp(-(middle + up)))]
    assert found == pytest.approx(wanted, abs=1e-6)


def test_trust_in_a_mean_counts_pots_tasters_and_looks():
    theta = np.array([[0.9, 0.4, 0.3, 0.2, 0.5]])
    from panelstats.models.mixed import LOT, LOT_POT, LOT_TASTER, RESIDUAL, TASTER

    lot, pot, taster, cross, rest = (theta[0, k] for k in (LOT, LOT_POT, TASTER, LOT_TASTER, RESIDUAL))
    found = trust_in_mean(theta, k=np.array([5.0]), looks=np.array([2.0]), pots=np.array([3.0]))[0]
    assert found == pytest.approx(lot / (lot + pot / 3 + (taster + cross + rest / 2) / 5))
