"""Curves and their inverses against quadrature, simulation and published values; serving orders by counting.

Sources of each file stand in tests/published/difference/README.md.
"""

from itertools import combinations
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import ncf, norm

from panelstats.errors import DesignError
from panelstats.models import kinds

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"
CURVED = ["2-afc", "3-afc", "triangle", "duo-trio", "tetrad"]
FLAT = ["triangle", "duo-trio", "tetrad", "two-out-of-five"]
TWO_OF_FIVE = "two_out_of_five_least_within_group_squares"


def rows_of(file, kind, column="method"):
    table = pd.read_csv(PUBLISHED / file)
    return table[table[column] == kind]


@pytest.mark.parametrize("kind", CURVED)
def test_curve_agrees_with_thirty_digit_quadrature(kind):
    rows = rows_of("psychometric.csv", kind)
    d = rows["d_prime"].to_numpy()
    np.testing.assert_allclose(kinds.share_correct(kind, d), rows["p_correct"], rtol=1e-12)
    np.testing.assert_allclose(kinds.share_wrong(kind, d), rows["one_minus_p_correct"], rtol=1e-12)
    np.testing.assert_allclose(kinds.slope(kind, d), rows["derivative_dp_dd"], rtol=1e-12)


def test_two_out_of_five_agrees_with_three_dimensional_quadrature():
    rows = rows_of("psychometric_two_out_of_five.csv", "least_within_group_squares", "sorting_rule")
    found = kinds.share_correct("two-out-of-five", rows["d_prime"])
    np.testing.assert_allclose(found, rows["p_correct"], atol=1e-11, rtol=0)


def test_two_out_of_five_is_not_the_other_sorting_rule():
    other = rows_of("psychometric_two_out_of_five.csv", "larger_middle_gap", "sorting_rule").set_index("d_prime")
    assert other.loc[2.0, "p_correct"] == pytest.approx(0.4629, abs=5e-5)
    assert kinds.share_correct("two-out-of-five", 2.0) == pytest.approx(0.4765, abs=5e-5)


def test_two_out_of_five_series_is_the_published_one():
    rows = pd.read_csv(PUBLISHED / "two_out_of_five_chebyshev.csv")
    series = np.polynomial.Chebyshev(rows["coefficient"], domain=[0, 12])
    d = np.linspace(0, 12, 61)
    np.testing.assert_allclose(kinds.share_correct("two-out-of-five", d), series(d), atol=1e-13, rtol=0)


def test_curves_agree_with_simulated_tasting():
    names = {TWO_OF_FIVE: "two-out-of-five", "twofive_ss": "two-out-of-five"}
    rows = pd.read_csv(PUBLISHED / "psychometric_simulation.csv").replace({"method": names})
    rows = rows[rows["method"].isin(kinds.FORCED)]
    assert len(rows) >= 24
    for row in rows.itertuples():
        p = float(kinds.share_correct(row.method, row.d_prime))
        assert abs(row.p_correct_simulated - p) < 4 * np.sqrt(p * (1 - p) / row.n_simulated)


def test_rule_of_two_out_of_five_by_tasting_it():
    rng, runs, d = np.random.default_rng(7), 200_000, 1.5
    percepts = rng.standard_normal((runs, 5)) + np.array([d, d, 0, 0, 0])
    splits = list(combinations(range(5), 2))
    within = np.stack(
        [
            2 * percepts[:, list(pair)].var(axis=1)
            + 3 * percepts[:, [k for k in range(5) if k not in pair]].var(axis=1)
            for pair in splits
        ],
        axis=1,
    )
    right = (within.argmin(axis=1) == splits.index((0, 1))).mean()
    p = float(kinds.share_correct("two-out-of-five", d))
    assert abs(right - p) < 4 * np.sqrt(p * (1 - p) / runs)


@pytest.mark.parametrize("d", [0.0, 0.3, 1.0, 2.5, 6.0])
def test_curve_agrees_with_defining_integral(d):
    root3, shift = np.sqrt(3), d * np.sqrt(2 / 3)
    triangle = quad(lambda z: 2 * norm.pdf(z) * (norm.cdf(-root3 * z + shift) + norm.cdf(-root3 * z - shift)), 0, 40)[0]
    afc = quad(lambda z: norm.pdf(z - d) * norm.cdf(z) ** 2, -40, 40, limit=400, epsabs=1e-13)[0]
    assert kinds.share_correct("triangle", d) == pytest.approx(triangle, abs=1e-10)
    assert kinds.share_correct("3-afc", d) == pytest.approx(afc, abs=1e-10)


def test_triangle_agrees_with_noncentral_f():
    d = np.linspace(0.1, 5, 25)  # the upper tail beyond 3 of F(1, 1), noncentrality 2 d^2 / 3
    np.testing.assert_allclose(kinds.share_correct("triangle", d), ncf.sf(3, 1, 1, 2 * d**2 / 3), atol=1e-9)


@settings(deadline=None)
@given(st.floats(0, 20))
def test_identities_between_the_curves(d):
    p = {kind: float(kinds.share_correct(kind, d)) for kind in CURVED}
    assert p["triangle"] == pytest.approx(2 * p["duo-trio"] - p["tetrad"] / 2 - 0.5, abs=1e-14)
    assert p["3-afc"] == pytest.approx(p["2-afc"] - (1 - p["tetrad"]) / 4, abs=1e-14)


CURVATURES = [("triangle", 0.0918881), ("duo-trio", 0.0918881), ("tetrad", 0.1837763), ("two-out-of-five", 0.11947)]


@pytest.mark.parametrize(("kind", "curvature"), CURVATURES)
def test_curve_starts_flat(kind, curvature):
    d = 0.01
    assert (kinds.share_correct(kind, d) - float(kinds.KINDS[kind].chance)) / d**2 == pytest.approx(curvature, rel=1e-3)


@pytest.mark.parametrize("kind", [*CURVED, "two-out-of-five"])
def test_inverse_agrees_with_thirty_digit_roots(kind):
    rows = rows_of("psychometric_inverse.csv", TWO_OF_FIVE if kind == "two-out-of-five" else kind)
    assert len(rows) >= 10
    found = kinds.d_prime(kind, wrong=1 - rows["p_correct"].to_numpy())
    np.testing.assert_allclose(found, rows["d_prime"], atol=1e-9, rtol=0)


@pytest.mark.parametrize("kind", [*CURVED, "two-out-of-five"])
def test_d_prime_is_stable_from_chance_to_twenty(kind):
    d = np.linspace(0.01, 20.0 if kind != "two-out-of-five" else 10.0, 4000)
    back = kinds.d_prime(kind, wrong=kinds.share_wrong(kind, d))
    np.testing.assert_allclose(back, d, rtol=1e-6)
    assert (np.diff(back) > 0).all()


@pytest.mark.parametrize("kind", CURVED)
def test_upper_tail_keeps_its_digits_at_twenty(kind):
    mpmath = pytest.importorskip("mpmath")
    with mpmath.workdps(40):
        d = mpmath.mpf(20)
        upper = {
            "2-afc": mpmath.ncdf(-d / mpmath.sqrt(2)),
            "duo-trio": mpmath.ncdf(d / mpmath.sqrt(2)) * mpmath.ncdf(-d / mpmath.sqrt(6))
            + mpmath.ncdf(d / mpmath.sqrt(6)) * mpmath.ncdf(-d / mpmath.sqrt(2)),
        }

        def owen(h, a):
            def inner(x):
                return mpmath.exp(-h * h * (1 + x * x) / 2) / (1 + x * x)

            return mpmath.quad(inner, mpmath.linspace(0, a, 12)) / (2 * mpmath.pi)

        upper["triangle"] = 4 * owen(d / mpmath.sqrt(6), mpmath.sqrt(3))
        upper["tetrad"] = 8 * owen(d / mpmath.sqrt(2), 1 / mpmath.sqrt(3))
        upper["3-afc"] = upper["2-afc"] + upper["tetrad"] / 4
    assert float(kinds.share_wrong(kind, 20.0)) == pytest.approx(float(upper[kind]), rel=1e-10)


@pytest.mark.parametrize("kind", kinds.FORCED)
def test_inverse_at_the_ends(kind):
    found = kinds.d_prime(kind, wrong=[1 - kinds.forced_kind(kind).guess, 0.0, np.nan])
    assert found[0] == pytest.approx(0, abs=1e-12)
    assert found[1] == np.inf
    assert np.isnan(found[2])


def test_paired_has_a_sign():
    np.testing.assert_allclose(kinds.d_prime("paired", wrong=[0.7, 0.3]), [-0.741614317187116, 0.741614317187116])


@pytest.mark.parametrize("file", ["textbook_values.csv", "tolerance_equivalents.csv"])
def test_rounded_values_of_textbooks_and_tolerances(file):
    rows = pd.read_csv(PUBLISHED / file)
    for row in rows.itertuples():
        if file == "tolerance_equivalents.csv":
            assert kinds.share_correct(row.method, row.d_prime) == pytest.approx(row.p_correct, abs=1e-9)
        elif row.method in kinds.FORCED and row.what.startswith("p_correct"):
            assert kinds.share_correct(row.method, float(row.argument)) == pytest.approx(
                float(row.recalled_value), abs=0.005
            )
        elif row.method in kinds.FORCED and row.what.startswith("d at"):
            assert kinds.d_prime(row.method, wrong=1 - float(row.argument)) == pytest.approx(
                float(row.recalled_value), abs=0.00501
            )


def test_serving_orders_are_the_enumerated_sets():
    rows = pd.read_csv(PUBLISHED / "serving_orders.csv").set_index("method")["orders"].str.split()
    assert set(kinds.serving_orders("triangle")) == set(rows["triangle"])
    assert set(kinds.serving_orders("tetrad")) == set(rows["tetrad"])
    assert set(kinds.serving_orders("two-out-of-five")) == set(rows["two-out-of-five"])
    assert set(kinds.serving_orders("same-different")) == set(rows["same-different"])
    assert set(kinds.serving_orders("3-afc")) == set(rows.filter(like="3-AFC").iloc[0])
    assert set(kinds.serving_orders("duo-trio", reference="constant")) == set(rows.filter(like="constant").iloc[0])
    assert set(kinds.serving_orders("duo-trio")) == set(rows.filter(like="balanced").iloc[0])
    assert set(kinds.serving_orders("2-afc")) == set(kinds.serving_orders("paired")) == {"AB", "BA"}


@settings(deadline=None)
@given(st.sampled_from(list(kinds.KINDS)), st.integers(1, 60), st.integers(0, 5))
def test_orders_are_used_equally_often_or_once_more(kind, answers, seed):
    orders, surplus = kinds.allot_orders(kind, answers, rng=np.random.default_rng(seed))
    counts = pd.Series(orders).value_counts().reindex(kinds.serving_orders(kind), fill_value=0)
    assert len(orders) == answers
    assert counts.max() - counts.min() == (1 if surplus else 0)
    assert (counts == counts.max()).sum() == (surplus or len(counts))


def test_impossible_kinds_are_refused_in_words():
    with pytest.raises(DesignError, match="use one of triangle"):
        kinds.kind_of("square")
    with pytest.raises(DesignError, match="no forced choice"):
        kinds.share_correct("a-not-a", 1.0)
    with pytest.raises(DesignError, match="balanced or constant"):
        kinds.serving_orders("duo-trio", reference="none")
    with pytest.raises(DesignError, match="1 or more"):
        kinds.allot_orders("triangle", 0, rng=np.random.default_rng(0))
