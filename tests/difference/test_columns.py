"""Every column of every result of difference tests: one value or property from outside the package."""

from itertools import accumulate
from math import ceil, floor, log
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom, binomtest, chi2, ttest_rel
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

import panelstats as pst
from panelstats.models.kinds import d_prime, share_correct

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"


def sheet():
    """Two tests of two sessions: triangles with every order once or twice, and a-not-a."""
    orders = ["AAB", "ABA", "BAA", "ABB", "BAB", "BBA"] * 2
    right = [3, 2, 1, 1, 2, 3] * 2
    said = [right[0], right[1], 2, 1, 3, 3, 1, 2, 1, "", 2, 3]
    triangles = pd.DataFrame({"session": "w1", "test": "B1 with S", "kind": "triangle", "order": orders,
                              "answer": said, "taster": [f"t{i}" for i in range(12)]})  # fmt: skip
    a_not_a = pd.DataFrame({"session": "w2", "test": "B1 with S", "kind": "a-not-a", "order": ["A", "N"] * 6,
                            "answer": ["A", "not A", "A", "A", "A", "not A", "not A", "A", "A", "not A", "A", ""],
                            "taster": [f"t{i}" for i in range(12)]})  # fmt: skip
    return pd.concat([triangles, a_not_a], ignore_index=True)


def test_judged_answers():
    found = pst.judge_answers(sheet(), within_d=1.5)
    row, other = found.table.iloc[0], found.table.iloc[1]
    assert row[["session", "test", "kind", "tasters", "answers", "correct", "blanks"]].tolist() == [
        "w1", "B1 with S", "triangle", 12, 12, 8, 1]  # fmt: skip
    assert row["p_difference"] == pytest.approx(binomtest(8, 12, 1 / 3, alternative="greater").pvalue, abs=1e-12)
    p1 = float(share_correct("triangle", 1.5))
    assert row["p_match"] == pytest.approx(binomtest(9, 12, p1, alternative="less").pvalue, abs=1e-12)
    low = proportion_confint(8, 12, alpha=0.1, method="beta")[0]  # the blank counts as wrong below, as right above
    high = proportion_confint(9, 12, alpha=0.1, method="beta")[1]
    assert row["share_who_can_tell"] == pytest.approx((8 / 11 - 1 / 3) * 1.5)
    assert row["share_who_can_tell_low"] == pytest.approx((low - 1 / 3) * 1.5, abs=1e-9)
    assert row["share_who_can_tell_high"] == pytest.approx((high - 1 / 3) * 1.5, abs=1e-9)
    for name, p in (("d", 8 / 11), ("d_low", low), ("d_high", high)):
        assert share_correct("triangle", row[name]) == pytest.approx(p, abs=1e-9)
    assert row["call"] == "differ"
    assert other[["session", "kind", "correct", "blanks"]].tolist() == ["w2", "a-not-a", 8, 1]
    assert np.isnan(other["share_who_can_tell"])


def test_judged_tasters_and_places():
    found = pst.judge_answers(sheet())
    tasters = found.tasters.set_index(["kind", "taster"])
    assert tasters.loc[("triangle", "t2"), ["answers", "correct", "blanks"]].tolist() == [1, 0, 0]
    assert tasters.loc[("triangle", "t9"), ["answers", "correct", "blanks"]].tolist() == [1, 0, 1]
    place, none = found.places.iloc[0], found.places.iloc[1]
    assert place[["session", "kind", "answers", "unrecorded", "df"]].tolist() == ["w1", "triangle", 11, 0, 2]
    assert bool(place["balanced"])
    assert place["statistic"] >= 0
    assert none["call"] == "not checked"
    sway = sheet().iloc[:12].assign(answer=["1", "1", "1", "1", "1", "3"] * 2)
    swayed = pst.judge_answers(pd.concat([sway, sway.assign(taster=[f"u{i}" for i in range(12)])])).places.iloc[0]
    assert swayed["p"] == pytest.approx(chi2.sf(swayed["statistic"], 2), abs=1e-12)  # from 24 answers on
    assert swayed["call"] == "shown"
    assert not pst.judge_answers(sheet().iloc[:11]).places["balanced"].iloc[0]


def test_tasters_of_a_repeated_test():
    correct, answers = [1, 2, 4, 1, 0, 6], [4, 4, 5, 4, 4, 6]
    names = ["alder", "beech", "elm", "larch", "yew", "poplar"]
    table = pst.repeated_test("duo-trio", correct=correct, answers=answers, tasters=names).tasters
    tests = [binomtest(x, n, 0.5, alternative="greater") for x, n in zip(correct, answers, strict=True)]
    np.testing.assert_allclose(table["p"], [one.pvalue for one in tests], atol=1e-12)
    np.testing.assert_allclose(table["p_adjusted"], multipletests(table["p"], method="holm")[1], rtol=1e-12)
    low, high = proportion_confint(np.array(correct), np.array(answers), alpha=0.05, method="beta")
    np.testing.assert_allclose(table["low"], np.nan_to_num(low), atol=1e-9)
    np.testing.assert_allclose(table["high"], np.nan_to_num(high, nan=1.0), atol=1e-9)
    assert table[["taster", "correct", "answers"]].to_numpy().tolist() == [
        [*row] for row in zip(names, correct, answers, strict=True)
    ]
    assert table.sort_values("p")["ability"].is_monotonic_decreasing


def test_correlation_and_its_test_are_those_of_a_second_system():
    rows = pd.read_csv(PUBLISHED / "replicated_data.csv").query("set == 'R1'")
    wanted = pd.read_csv(PUBLISHED / "replicated_fit.csv").query("set == 'R1'").set_index("quantity")["value"]
    kind = "triangle" if str(rows["chance"].iloc[0]) == "1/3" else "duo-trio"
    found = pst.repeated_test(kind, correct=rows["correct"], answers=rows["trials"])
    assert found.correlation == pytest.approx(float(wanted["cc_gamma_hat"]), abs=1e-4)
    assert found.p_alike == pytest.approx(float(wanted["cc_p_overdispersion_half_chi2"]), abs=1e-5)
    assert found.share_who_can_tell.value == pytest.approx(float(wanted["cc_mu_hat"]), abs=1e-4)


def test_tests_beside_one_another():
    tests = [("triangle", 12, 20), ("2-afc", 15, 20)]
    found = pst.compare_tests(tests, level=0.9)
    for row, (kind, x, n) in zip(found.table.itertuples(index=False), tests, strict=True):
        low, high = proportion_confint(x, n, alpha=0.1, method="beta")
        assert (row.kind, row.correct, row.answers) == (kind, x, n)
        assert row[4] == pytest.approx(float(d_prime(kind, wrong=1 - x / n)), abs=1e-9)
        assert share_correct(kind, row.low) == pytest.approx(low, abs=1e-9)
        assert share_correct(kind, row.high) == pytest.approx(high, abs=1e-9)
    d = np.linspace(0.2, 3.5, 3301)  # the common d' and its limits by walking along the likelihood
    loglik = sum(binom.logpmf(x, n, share_correct(kind, d)) for kind, x, n in tests)
    inside = d[2 * (loglik.max() - loglik) <= chi2.ppf(0.9, 1)]
    assert found.d_prime.value == pytest.approx(d[loglik.argmax()], abs=1e-3)
    assert (found.d_prime.low, found.d_prime.high) == (
        pytest.approx(inside[0], abs=1e-3), pytest.approx(inside[-1], abs=1e-3))  # fmt: skip
    single = sum(binom.logpmf(x, n, x / n) for _, x, n in tests)
    assert found.statistic == pytest.approx(2 * (single - loglik.max()), abs=1e-5)
    assert found.df == 1


def test_answers_needed():
    table = pst.answers_needed("triangle", within_share=0.3, power=0.95).table.set_index("claim")
    # ISO 4120 Table A.3 (from memory): 66 answers; settled and served by the library's binomial
    p1 = 1 / 3 + 2 / 3 * 0.3
    least = {n: binom.isf(0.05, n, 1 / 3) + 1 for n in range(1, 300)}
    power = {n: binom.sf(k - 1, n, p1) for n, k in least.items()}
    settled = max(n for n in power if power[n] < 0.95) + 1
    served = ceil(settled / 6) * 6
    row = table.loc["differ"]
    assert row[["first", "settled", "served", "limit"]].tolist() == [66, settled, served, least[served]]
    assert row["power"] == pytest.approx(power[served], abs=1e-10)
    most = table.loc["match", "limit"]
    n = table.loc["match", "served"]
    assert binom.cdf(most, n, p1) <= 0.05 < binom.cdf(most + 1, n, p1)
    assert table.loc["match", "power"] == pytest.approx(binom.cdf(most, n, 1 / 3), abs=1e-10)


def test_rated_differences():
    rng = np.random.default_rng(7)
    ratings = rng.integers(0, 5, (2, 12))
    rows = pd.DataFrame({"taster": [f"t{i}" for i in range(12)] * 2, "sample": ["blind"] * 12 + ["B1"] * 12,
                         "rating": ratings.ravel()})  # fmt: skip
    row = pst.difference_from_control(rows, control="blind", tolerance=1.5, match_error=0.1).table.iloc[0]
    less = ttest_rel(ratings[1] - 1.5, ratings[0], alternative="less")
    assert row["p_match"] == pytest.approx(less.pvalue, abs=1e-10)
    assert row["high"] == pytest.approx(ttest_rel(ratings[1], ratings[0], alternative="less")
                                        .confidence_interval(0.9).high, abs=1e-9)  # fmt: skip
    gap = ratings[1] - ratings[0]
    assert row["difference"] == pytest.approx(gap.mean())
    assert row["se"] == pytest.approx(gap.std(ddof=1) / np.sqrt(12))
    assert row[["sample", "tasters", "df"]].tolist() == ["B1", 12, 11]


def test_d_primes_of_ratings_are_those_of_a_second_system():
    wanted = pd.read_csv(PUBLISHED / "difference_from_control.csv").set_index("quantity")["value"]
    rows = []
    for sample, name in (("blind", "blind_control"), ("B1", "test_sample")):
        counts = [int(n) for n in wanted[f"counts_{name}_categories_0_to_4"].split()]
        rows += [(sample, rating) for rating, n in enumerate(counts) for _ in range(n)]
    sheet = pd.DataFrame(rows, columns=["sample", "rating"])
    sheet["taster"] = sheet.groupby("sample").cumcount().map("t{}".format)
    row = pst.difference_from_control(sheet, control="blind").d_primes.iloc[0]
    for column, name in (("d", "d_hat"), ("low", "d_low_95_profile"), ("high", "d_high_95_profile"),
                         ("statistic", "lr_statistic")):  # fmt: skip
        assert row[column] == pytest.approx(float(wanted[name]), abs=1e-3)
    assert row["p"] == pytest.approx(chi2.sf(float(wanted["lr_statistic"]), 1) / 2, rel=1e-3)
    assert (row["sample"], row["merged"]) == ("B1", 0)
    gapped = sheet.assign(rating=sheet["rating"].where(sheet["rating"] < 3, sheet["rating"] + 2))
    assert pst.difference_from_control(gapped, control="blind").d_primes["merged"].tolist() == [2]


def test_screening_trial_by_trial():
    outcomes = [True, False, True, False, True, None]
    found = pst.screen_trainee("triangle", outcomes)
    right = [outcome is True for outcome in outcomes]
    p0, p1 = 1 / 3, 2 / 3  # Wald's lines: Sequential Analysis (1947), chapter 5
    odds = log(p1 * (1 - p0) / (p0 * (1 - p1)))
    slope, above, below = log((1 - p0) / (1 - p1)) / odds, log(0.9 / 0.05) / odds, log(0.95 / 0.1) / odds
    table = found.table
    assert table["trial"].tolist() == [1, 2, 3, 4, 5, 6]
    assert table["right"].tolist() == right
    assert table["right_so_far"].tolist() == list(accumulate(map(int, right)))
    passes, fails = [ceil(slope * n + above) for n in range(1, 7)], [floor(slope * n - below) for n in range(1, 7)]
    np.testing.assert_array_equal(table["pass_at_or_above"],
                                  [k if k <= n else np.nan for n, k in enumerate(passes, 1)])  # fmt: skip
    np.testing.assert_array_equal(table["fail_at_or_below"], [k if k >= 0 else np.nan for k in fails])
    np.testing.assert_allclose(found.risks["share_right"], [p0, 0.5, p1])
    assert found.risks["passes"].is_monotonic_increasing
    assert found.risks["passes"].iloc[0] <= 0.05
    assert 1 - found.risks["passes"].iloc[-1] <= 0.10
    rng = np.random.default_rng(3)
    lengths = []
    for _ in range(4000):
        so_far = (rng.random(22) < 0.5).cumsum()
        n = np.arange(1, 23)
        over = np.flatnonzero((so_far >= np.ceil(slope * n + above)) | (so_far <= np.floor(slope * n - below)))
        lengths.append(over[0] + 1 if len(over) else 22)
    assert found.risks["expected_trials"].iloc[1] == pytest.approx(np.mean(lengths), abs=4 * np.std(lengths) / 63)
