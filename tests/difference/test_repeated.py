"""Tasters who answered several times: fits, limits and abilities against two other routes; who is named and who is not.

Sources of each file stand in tests/published/difference/README.md.
"""

from fractions import Fraction
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import beta, binom

import panelstats as pst
from panelstats.difference.repeated.fit import repeated_test
from panelstats.errors import DesignError
from panelstats.models.betabinomial import (
    Replicates,
    abilities,
    few_people_limit,
    few_people_p,
    fit,
    loglik,
    probability,
    profile,
    profile_limits,
)
from panelstats.models.binomial import at_least, limits

PUBLISHED = Path(__file__).parents[1] / "published" / "difference"
DATA = pd.read_csv(PUBLISHED / "replicated_data.csv")
FITS = pd.read_csv(PUBLISHED / "replicated_fit.csv").pivot_table(index="set", columns="quantity", values="value")
SETS = ["R1", "R2", "R3"]


def data_of(name):
    rows = DATA[DATA["set"] == name]
    return Replicates.of(rows["correct"], rows["trials"], float(Fraction(rows["chance"].iloc[0]))), rows


def test_probabilities_agree_with_closed_form_and_integral():
    for row in pd.read_csv(PUBLISHED / "replicated_pmf.csv").itertuples():
        found = probability(row.correct, row.trials, mu=row.mu, gamma=row.gamma, chance=float(Fraction(row.chance)))
        assert found == pytest.approx(row.probability_closed_form, abs=1e-11)


@settings(deadline=None, max_examples=40)
@given(st.floats(0, 1), st.floats(0, 1), st.integers(1, 9), st.sampled_from([1 / 3, 1 / 2, 1 / 10]))
def test_probabilities_add_to_one_on_the_whole_closed_square(mu, gamma, n, chance):
    total = sum(probability(x, n, mu=mu, gamma=gamma, chance=chance) for x in range(n + 1))
    assert total == pytest.approx(1, abs=1e-10)


@pytest.mark.parametrize(("mu", "gamma"), [(0.3, 0.2), (0.7, 0.6)])
def test_probabilities_agree_with_integration_over_abilities(mu, gamma):
    a, b = mu * (1 - gamma) / gamma, (1 - mu) * (1 - gamma) / gamma
    for x in range(6):
        whole = quad(lambda pi, x=x: binom.pmf(x, 5, 1 / 3 + 2 / 3 * pi) * beta.pdf(pi, a, b), 0, 1, limit=200)[0]
        assert probability(x, 5, mu=mu, gamma=gamma, chance=1 / 3) == pytest.approx(whole, abs=1e-7)


@pytest.mark.parametrize("name", SETS)
def test_fit_agrees_with_a_second_system(name):
    data, rows = data_of(name)
    fitted, wanted = fit(data), FITS.loc[name]
    assert fitted.mu == pytest.approx(wanted["cc_mu_hat"], abs=1e-4)
    if wanted["cc_mu_hat"] > 0:
        assert fitted.gamma == pytest.approx(wanted["cc_gamma_hat"], abs=1e-4)
    else:
        assert np.isnan(fitted.gamma)
    assert fitted.loglik == pytest.approx(wanted["cc_loglik"], abs=1e-6)
    assert fitted.loglik_alike == pytest.approx(wanted["cc_loglik_no_overdispersion"], abs=1e-6)
    assert fitted.ratio == pytest.approx(wanted["cc_lr_overdispersion"], abs=1e-4)
    assert fitted.p_alike == pytest.approx(wanted["cc_p_overdispersion_half_chi2"], abs=1e-5)
    low, high = profile_limits(data, fitted, below=0.05, above=0.05)
    assert low == pytest.approx(wanted["cc_mu_lower_95_one_sided_profile"], abs=1e-4)
    assert high == pytest.approx(wanted["cc_mu_upper_95_one_sided_profile"], abs=1e-4)
    pooled = at_least(rows["correct"].sum(), rows["trials"].sum(), data.chance)
    assert pooled == pytest.approx(wanted["pooled_p_value_difference"], abs=1e-9)


@pytest.mark.parametrize("name", SETS)
def test_abilities_agree_with_the_mixture_formula(name):
    data, rows = data_of(name)
    wanted = pd.read_csv(PUBLISHED / "replicated_per_taster.csv").query("set == @name")
    found = abilities(data, fit(data), rows["correct"], rows["trials"])
    np.testing.assert_allclose(found, wanted["posterior_mean_share_of_true_detections"], atol=1e-4)
    alone = at_least(rows["correct"], rows["trials"], data.chance)
    np.testing.assert_allclose(alone, wanted["p_value_alone"], atol=1e-9)


@pytest.mark.parametrize("name", SETS)
def test_no_point_of_a_fine_grid_beats_the_fit(name):
    data, _ = data_of(name)
    mu, gamma = np.meshgrid(np.linspace(0, 1, 201), np.linspace(0, 1, 201), indexing="ij")
    assert loglik(data, mu, gamma).max() <= fit(data).loglik + 1e-9


def test_public_call_takes_the_widest_of_profile_pooled_and_tasters_limits():
    for name in SETS:
        data, rows = data_of(name)
        kind = "triangle" if data.chance < 0.4 else "duo-trio"
        found = repeated_test(kind, correct=rows["correct"], answers=rows["trials"])
        wanted = FITS.loc[name]
        pooled = wanted["naive_pooled_exact_upper_95_pd"]
        upper = max(wanted["cc_mu_upper_95_one_sided_profile"], pooled, few_people_limit(data, 0.05))
        assert found.share_who_can_tell.high == pytest.approx(upper, abs=1e-4)
        assert found.p == pytest.approx(wanted["pooled_p_value_difference"], abs=1e-9)


def test_few_tasters_cannot_show_a_match_however_often_they_answer():
    # were 30 % always right, 0.7^5 = 17 % of panels of five would hold none of them, and 4 % of panels of nine
    five = repeated_test("triangle", correct=[3, 4, 2, 3, 3], answers=[10] * 5, within_share=0.3)
    assert five.p_match == pytest.approx(0.7**5, abs=1e-4)
    assert five.call == "cannot tell"
    assert "5 tasters cannot show a match" in five.verdicts[0].next_step
    nine = repeated_test("triangle", correct=[3, 4, 2, 3, 3, 4, 2, 3, 4], answers=[10] * 9, within_share=0.3)
    assert 0.7**9 - 1e-4 <= nine.p_match <= 0.05
    assert nine.call == "match"


def test_few_people_are_judged_by_the_likelihood_ratio_over_every_result():
    # brute force over all results of three tasters with 2, 2 and 3 sets, each correlation on its own
    data, mu, worst = Replicates.of([0, 1, 1], [2, 2, 3], 0.5), 0.4, []
    for gamma in (0.25, 0.5, 0.75, 1.0):
        able, alone = (
            {(x, n): probability(x, n, mu=m, gamma=gamma, chance=0.5) for n in (2, 3) for x in range(n + 1)}
            for m in (mu, 0.0)
        )
        ratio = {key: round(np.log(alone[key] / able[key]) / 0.02) for key in able}
        seen = ratio[0, 2] + ratio[1, 2] + ratio[1, 3]
        worst.append(
            sum(
                able[x, 2] * able[y, 2] * able[z, 3]
                for x, y, z in product(range(3), range(3), range(4))
                if ratio[x, 2] + ratio[y, 2] + ratio[z, 3] >= seen
            )
        )
    assert few_people_p(data, mu) == pytest.approx(max(worst), abs=1e-9)
    limit = few_people_limit(data, 0.2)
    assert few_people_p(data, limit - 1e-3) > 0.2 >= few_people_p(data, limit)
    assert few_people_limit(Replicates.of([2, 3], [2, 3], 0.5), 0.05) == 1.0


@pytest.mark.parametrize("gamma", [0.4, 0.6, 1.0])
@pytest.mark.parametrize(("tasters", "each"), [(9, 10), (12, 4)])
def test_few_people_keep_their_error_rate_at_every_correlation(tasters, each, gamma):
    rng, runs, mu = np.random.default_rng(12), 100, 0.3
    able = rng.binomial(1, mu, (runs, tasters)) if gamma == 1 else rng.beta(
        mu * (1 - gamma) / gamma, (1 - mu) * (1 - gamma) / gamma, (runs, tasters))  # fmt: skip
    right = np.sort(rng.binomial(each, 1 / 3 + 2 / 3 * able), axis=1)
    panels, times = np.unique(right, axis=0, return_counts=True)
    p = np.array([few_people_p(Replicates.of(panel, each, 1 / 3), mu) for panel in panels])
    assert times @ (p <= 0.05) / runs <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / runs)


def test_blanks_may_be_those_of_a_taster_always_right():
    counts = {"correct": [3, 3, 1, 0, 1, 1], "answers": [4] * 6, "blanks": [1, 0, 0, 0, 0, 0]}
    blank = repeated_test("triangle", **counts, within_share=0.6)
    assert blank.p_match >= few_people_p(Replicates.of([4, 3, 1, 0, 1, 1], [4] * 6, 1 / 3), 0.6)
    assert (
        blank.p_match > repeated_test("triangle", correct=counts["correct"], answers=[4] * 6, within_share=0.6).p_match
    )


def test_no_more_right_than_guessing_gives_is_no_d_prime():
    found = repeated_test("duo-trio", correct=[5, 1, 1, 2, 1, 2, 1, 2], answers=[5] * 8)  # 15 of 40, one always right
    assert found.d_prime.value == 0
    assert found.share_who_can_tell.value == 0
    assert "no d' above 0" in str(found)


def test_a_correlation_that_is_not_shown_is_not_printed():
    found = repeated_test("triangle", correct=[3, 0, 1, 1], answers=[3] * 4)
    assert found.p_alike > 0.05
    assert "correlation" not in found.verdicts[0].sentence
    assert "is not shown (p = " in found.verdicts[0].sentence


def test_pooling_would_have_claimed_a_match_that_is_refused():
    # two who always detect among ten who guess: 17 % detect, but the pooled limit ignores that they differ
    correct, answers = [6, 6] + [2] * 10, [6] * 12
    pooled = pst.match_test("triangle", correct=sum(correct), answers=72, within_share=0.35)
    found = repeated_test("triangle", correct=correct, answers=answers, within_share=0.35)
    assert pooled.call == "match"
    assert found.call != "match"
    assert found.p_alike < 0.05


def test_blanks_of_tasters_are_held_against_every_claim():
    plain = repeated_test("triangle", correct=[1, 1, 2, 1, 1, 2], answers=[4] * 6, within_share=0.5)
    blank = repeated_test("triangle", correct=[1, 1, 2, 1, 1, 2], answers=[4] * 6, blanks=[0, 1, 0, 0, 2, 0],
                          within_share=0.5)  # fmt: skip
    assert blank.p_difference == plain.p_difference
    assert blank.p_match > plain.p_match
    assert blank.share_who_can_tell.high > plain.share_who_can_tell.high


def test_one_taster_speaks_for_himself_only():
    found = repeated_test("triangle", correct=[10], answers=[14], tasters=["elm"])
    single = pst.difference_test("triangle", correct=10, answers=14)
    assert found.p == single.p
    assert found.share_who_can_tell.high == single.share_who_can_tell.high
    assert "elm's: this speaks of that taster only" in str(found)


def test_nobody_is_called_unable_from_four_answers():
    found = repeated_test("triangle", correct=[1, 2, 4, 1, 0, 2], answers=[4] * 6)
    row = found.tasters.iloc[3]  # one of four right: at chance
    low, high = limits(1, 4, below=0.025, above=0.025)
    assert (row["low"], row["high"]) == (pytest.approx(low), pytest.approx(high))
    assert row["high"] > 0.8
    assert "unable" not in str(found)


def test_paired_tasters_of_opposite_minds_are_no_evidence():
    split = repeated_test("paired", correct=[8, 8, 8, 8, 8, 8, 0, 0], answers=[8] * 8)
    assert pst.difference_test("paired", correct=48, answers=64).call == "differ"
    assert split.call == "cannot tell"


def test_single_answers_are_sent_elsewhere():
    with pytest.raises(DesignError, match="no taster answered twice"):
        repeated_test("triangle", correct=[1, 0, 1], answers=[1, 1, 1])
    with pytest.raises(DesignError, match="one name each"):
        repeated_test("triangle", correct=[1, 0], answers=[2, 2], tasters=["elm", "elm"])


def test_profile_falls_on_both_sides_of_the_fit():
    data, _ = data_of("R1")
    mu = np.linspace(0, 1, 41)
    values = profile(data, mu)
    top = int(np.argmax(values))
    assert (np.diff(values[: top + 1]) > 0).all()
    assert (np.diff(values[top:]) < 0).all()
