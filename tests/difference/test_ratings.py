"""Difference from control by ratings: paired t, Dunnett's printed values, ordered categories refitted elsewhere.

Sources of each file stand in tests/published/difference/README.md.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from scipy.stats import chi2, norm, ttest_rel

import panelstats as pst
from panelstats.difference.ratings.fit import _table
from panelstats.errors import DesignError, SheetError
from panelstats.models.manytoone import one_sided_p, one_sided_t
from panelstats.models.ordinal import Profile, merged, ordinal_fit

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"


def sheet(samples, ratings):
    """A row per rating; `ratings` is (sample, taster)."""
    ratings = np.asarray(ratings, float)
    tasters = [f"taster {k}" for k in range(ratings.shape[1])]
    return pd.DataFrame(
        [(taster, sample, rating) for sample, row in zip(samples, ratings, strict=True)
         for taster, rating in zip(tasters, row, strict=True)],
        columns=["taster", "sample", "rating"],
    )  # fmt: skip


def test_ordinal_fit_agrees_with_a_second_system():
    wanted = pd.read_csv(PUBLISHED / "difference_from_control.csv").set_index("quantity")["value"]
    control, sample = (np.array(wanted[name].split(), int) for name in (
        "counts_blind_control_categories_0_to_4", "counts_test_sample_categories_0_to_4"))  # fmt: skip
    found = ordinal_fit(control, sample)
    assert found["d"] == pytest.approx(float(wanted["d_hat"]), abs=1e-5)
    assert found["loglik"] == pytest.approx(float(wanted["loglik"]), abs=1e-5)
    assert found["loglik_zero"] == pytest.approx(float(wanted["loglik_d_zero"]), abs=1e-5)
    assert found["statistic"] == pytest.approx(float(wanted["lr_statistic"]), abs=1e-5)
    assert found["low"] == pytest.approx(float(wanted["d_low_95_profile"]), abs=1e-3)
    assert found["high"] == pytest.approx(float(wanted["d_high_95_profile"]), abs=1e-3)


def likelihood(steps, d, control, sample):
    """P(rating < j) = Phi((tau_j - d)/sqrt 2) - Phi((-tau_j - d)/sqrt 2), written out for each category."""
    tau = np.concatenate([[0.0], np.cumsum(np.exp(steps)), [60.0]])

    def each(apart):
        below = norm.cdf((tau - apart) / np.sqrt(2)) - norm.cdf((-tau - apart) / np.sqrt(2))
        return np.log(np.maximum(np.diff(below), 1e-300))

    return control @ each(0.0) + sample @ each(d)


APART = [([4, 3, 0, 0], [0, 4, 2, 1]), ([4, 2, 2, 0, 0], [0, 0, 1, 4, 3]), ([9, 0], [0, 9]), ([8, 4, 1], [1, 6, 7])]


@pytest.mark.parametrize(("control", "sample"), APART)
@pytest.mark.parametrize("d", [0.0, 3.0, 12.0, 20.0])
def test_thresholds_are_the_best_that_a_search_without_derivatives_finds(control, sample, d):
    """scipy's Nelder & Mead, from many starts: far from d' = 0 one start alone is lost on a plain without a slope."""
    control, sample = np.array(control), np.array(sample)
    rng, best = np.random.default_rng(1), -np.inf
    for first in np.linspace(-1.0, 3.0, 9):
        start = np.append(first, np.full(len(control) - 2, 0.0)) + rng.normal(0, 0.1, len(control) - 1)
        found = minimize(lambda x: -likelihood(x, d, control, sample), start, method="Nelder-Mead",
                         options={"xatol": 1e-7, "fatol": 1e-9, "maxiter": 4000})  # fmt: skip
        best = max(best, -found.fun)
    value = Profile(control, sample)(d)
    assert value >= best - (1e-4 if best > ordinal_fit(control, sample)["loglik"] - 20 else 1.0)  # no limit is there
    if d <= 3:  # beyond, the other search may not arrive
        assert value <= best + 1e-4


def test_ratings_that_do_not_overlap_put_no_upper_limit_to_the_distance_and_keep_their_lower_one():
    found = ordinal_fit(np.array([4, 3, 0, 0]), np.array([0, 4, 2, 1]))
    assert found["d"] == found["high"] == np.inf
    profile, drop = Profile(np.array([4, 3, 0, 0]), np.array([0, 4, 2, 1])), chi2.ppf(0.95, 1) / 2
    assert profile(found["low"]) == pytest.approx(found["loglik"] - drop, abs=1e-5)
    assert all(profile(d) > found["loglik"] - drop for d in np.linspace(found["low"] + 0.01, 20, 40))


def test_an_empty_category_is_merged_and_counted():
    control, sample, empty = merged(np.array([5, 0, 2]), np.array([4, 0, 3]))
    assert (control.tolist(), sample.tolist(), empty) == ([5, 2], [4, 3], 1)
    assert np.isnan(ordinal_fit(np.array([4, 0]), np.array([5, 0]))["d"])


def test_one_sample_is_the_one_sided_paired_t_test():
    rng = np.random.default_rng(2)
    ratings = rng.integers(0, 5, (2, 12))
    found = pst.difference_from_control(sheet(["blind", "B1"], ratings), control="blind").table.iloc[0]
    library = ttest_rel(ratings[1], ratings[0], alternative="greater")
    assert found["p"] == pytest.approx(library.pvalue, abs=1e-10)
    assert found["df"] == library.df
    assert found["low"] == pytest.approx(library.confidence_interval(0.95).low, abs=1e-9)


@pytest.mark.parametrize(("k", "df", "printed"), [(2, 10, 2.15), (4, 20, 2.30), (3, 5, 2.68), (5, 15, 2.44)])
def test_several_samples_use_dunnetts_one_sided_points(k, df, printed):
    # Dunnett 1955, JASA 50, Table 1a, joint 95 %: from memory
    assert one_sided_t(0.05, df, k) == pytest.approx(printed, abs=0.0051)
    assert one_sided_p(one_sided_t(0.05, df, k), df, k) == pytest.approx(0.05, abs=1e-6)


def test_several_samples_share_one_error_term():
    from scipy.stats import multivariate_t

    rng = np.random.default_rng(4)
    ratings = rng.integers(0, 6, (4, 9)).astype(float)
    found = pst.difference_from_control(sheet(["blind", "B1", "B2", "B3"], ratings), control="blind").table
    residual = ratings - ratings.mean(0) - ratings.mean(1, keepdims=True) + ratings.mean()
    df = 3 * 8
    se = np.sqrt(2 / 9 * (residual**2).sum() / df)
    np.testing.assert_allclose(found["se"], se)
    np.testing.assert_allclose(found["difference"], ratings[1:].mean(1) - ratings[0].mean(), atol=1e-12)
    joint = multivariate_t(shape=np.full((3, 3), 0.5) + np.eye(3) / 2, df=df, seed=1)
    for row in found.itertuples():
        assert row.p == pytest.approx(1 - joint.cdf(np.full(3, row.difference / row.se)), abs=2e-3)


def test_tasters_who_missed_a_sample_are_kept_where_they_speak():
    ratings = np.array([[1, 2, 0, 1, 2, 1], [3, 4, 2, np.nan, 3, 4], [1, 2, 1, 2, np.nan, 1]])
    found = pst.difference_from_control(sheet(["blind", "B1", "B2"], ratings), control="blind")
    assert found.table["tasters"].tolist() == [5, 5]
    assert found.table["df"].tolist() == [8, 8]  # 16 ratings less 6 tasters less 2 samples
    assert found.table["call"].tolist()[0] == "differ"


def test_match_needs_a_tolerance_and_its_limit_inside():
    rng = np.random.default_rng(6)
    same = np.clip(np.round(rng.normal(1.5, 0.7, (2, 14))), 0, 5)
    close = pst.difference_from_control(sheet(["blind", "B1"], same), control="blind", tolerance=1.5).table.iloc[0]
    assert close["call"] == "match"
    assert close["high"] < 1.5
    open_ = pst.difference_from_control(sheet(["blind", "B1"], same), control="blind")
    assert open_.table.iloc[0]["call"] == "cannot tell"
    assert "no proof of a match" in str(open_)


def test_no_spread_is_no_proof():
    found = pst.difference_from_control(sheet(["blind", "B1"], [[1, 1, 1], [1, 1, 1]]), control="blind", tolerance=1.0)
    assert found.table.iloc[0]["call"] == "cannot tell"
    assert "no error to judge by" in str(found)


def test_error_rates_of_both_claims_by_simulation():
    rng, runs = np.random.default_rng(9), 150
    differ, match = [], []
    for _ in range(runs):
        base = rng.normal(3, 1, (2, 10))
        for apart, calls in ((0.0, differ), (1.0, match)):  # nothing apart, and apart by the tolerance
            rows = sheet(["blind", "B1"], base + np.array([[0.0], [apart]]))
            calls.append(_table(rows, "blind", 1.0, 0.05, 0.05)["call"].iloc[0])
    bound = 0.05 + 4 * np.sqrt(0.05 * 0.95 / runs)
    assert np.mean(np.array(differ) == "differ") <= bound
    assert np.mean(np.array(match) == "match") <= bound


def test_bad_ratings_are_named_and_missing_controls_refused():
    ratings = sheet(["blind", "B1"], [[1, 2], [2, 3]]).astype({"rating": object})
    ratings.loc[2, "rating"] = "two"
    with pytest.raises(SheetError, match="row 2: 'two'"):
        pst.difference_from_control(ratings, control="blind")
    with pytest.raises(DesignError, match="no blind control"):
        pst.difference_from_control(sheet(["B1", "B2"], [[1, 2], [2, 3]]), control="blind")
    with pytest.raises(SheetError, match="columns are missing"):
        pst.difference_from_control(pd.DataFrame({"taster": ["a"]}), control="blind")
    with pytest.raises(DesignError, match="no size"):
        pst.difference_from_control(sheet(["blind", "B1"], [[1, 2], [2, 3]]), control="blind", tolerance=0)
