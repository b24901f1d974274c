"""Limits of agreement, concordance, kappa and one master's habit against values computed elsewhere."""

import json

import numpy as np
import pytest

import panelstats as pst
from panelstats.models.likeness import WIDTH, concordance, limits_of_agreement
from panelstats.panel.agreement.kappa import weighted_kappa
from panelstats.panel.training.master import habit
from tests.panel.sheets import PUBLISHED, published

exactly = {"rel": 1e-9, "abs": 1e-8}


def test_limits_of_peak_flow_agree_with_the_exact_intervals():
    data, values = published("tasters", "bland_altman_pefr")
    d = (data["large_1"] - data["mini_1"]).to_numpy(float)
    found = limits_of_agreement(d.mean(), d.std(ddof=1), len(d))
    assert [found.low, found.high] == pytest.approx(values["limits_196"], **exactly)
    assert found.low_interval == pytest.approx(values["limit_ci_exact"]["lower"], **exactly)
    assert found.high_interval == pytest.approx(values["limit_ci_exact"]["upper"], **exactly)
    # Bland & Altman 1986, Lancet i: 307, print the mean -2.1 and, with +-2 SD, limits near -80 and 75
    assert d.mean() == pytest.approx(values["published"]["mean"], abs=0.05)
    assert d.mean() + 2 * d.std(ddof=1) == pytest.approx(values["published"]["limits_2sd"][1], abs=0.15)


def test_concordance_of_peak_flow_agrees_with_the_check_values():
    data, values = published("tasters", "bland_altman_pefr")
    x, y = (data[name].to_numpy(float)[:, None] for name in ("large_1", "mini_1"))
    found, lin = concordance(x, y), values["lin"]
    assert found.value[0] == pytest.approx(lin["ccc"], **exactly)
    assert found.pearson[0] == pytest.approx(lin["pearson"], **exactly)
    assert found.accuracy[0] == pytest.approx(lin["bias_correction_Cb"], **exactly)
    assert [found.low[0], found.high[0]] == pytest.approx(lin["ci_z"], **exactly)


@pytest.mark.parametrize(
    ("weights", "name"), [("none", "unweighted"), ("linear", "linear"), ("quadratic", "quadratic")]
)
def test_kappa_agrees_with_the_check_values(weights, name):
    values = json.loads((PUBLISHED / "tasters" / "weighted_kappa.json").read_text())
    found = weighted_kappa(np.array(values["counts"]), weights=weights)
    assert found.value == pytest.approx(values[name]["kappa"], **exactly)
    assert [found.low, found.high] == pytest.approx(values[name]["ci95"], **exactly)


def test_kappa_of_cohen_1968_at_its_printed_digits():
    values = json.loads((PUBLISHED / "tasters" / "weighted_kappa.json").read_text())["cohen1968"]
    found = weighted_kappa(200 * np.array(values["proportions"]), weights="none")
    assert found.value == pytest.approx(0.492, abs=0.0005)  # Cohen 1968, Psychol. Bull. 70: 213


def test_few_calls_are_resampled_and_few_lots_give_no_interval():
    counts = np.array([[5, 1, 0], [1, 4, 1], [0, 1, 5]])
    small, large = weighted_kappa(counts), weighted_kappa(100 * counts)
    assert small.value == pytest.approx(large.value)
    assert small.high - small.low > 5 * (large.high - large.low)
    marks = np.arange(8.0)[:, None]
    assert np.isnan(concordance(marks, marks + 1).low[0])
    assert concordance(marks, marks + 1).value[0] < 1


def test_kappa_refuses_unknown_weights():
    with pytest.raises(pst.DesignError, match="unknown word"):
        weighted_kappa(np.eye(3), weights="cubic")


def test_a_masters_own_wavering_is_taken_out():
    data, values = published("small_panels", "master")
    cups = data[["master_cup1", "master_cup2"]].to_numpy(float)
    d = data["trainee"].to_numpy(float) - cups.mean(axis=1)
    own = cups.var(axis=1, ddof=1).mean()
    found = habit(d.var(ddof=1), len(d) - 1, own, len(d), 2)
    assert found.variance == pytest.approx(values["corrected_variance"], **exactly)
    assert [found.low, found.high] == pytest.approx(values["corrected_interval"], **exactly)
    reach = (np.array(found.limits(d.mean())) - d.mean()) * 1.96 / WIDTH  # the file rounds 1.959964 to 1.96
    assert d.mean() + reach == pytest.approx(values["limits_corrected"], **exactly)
    assert found.kappa == pytest.approx(values["kappa"], **exactly)
    assert [found.kappa_low, found.kappa_high] == pytest.approx(values["kappa_interval"], **exactly)
