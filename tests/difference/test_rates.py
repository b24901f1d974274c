"""The table of error rates, in its small version: no verdict is false more often than it says."""

import importlib.util
from pathlib import Path

import numpy as np
import pytest

SPEC = importlib.util.spec_from_file_location("rates", Path(__file__).with_name("rates.py"))
rates = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(rates)

CLAIMS = ["alike, called differ", "at the tolerance, called match", "two tolerances apart, called match"]
COVERAGE = "limits hold at least (nominal 90 %)"


@pytest.fixture(scope="module")
def small():
    return rates.tables(full=False)


def test_enumerated_verdicts_of_forced_choices_are_false_at_most_as_often_as_said(small):
    verdicts = small[0]
    exact = verdicts[(verdicts["by"] == "enumeration") & verdicts["what"].isin(rates.FORCED)]
    assert len(exact) == 2 * len(rates.FORCED)
    assert (exact[CLAIMS] <= 0.05 + 1e-12).all(axis=None)
    assert (exact[exact["what"] != "paired"][COVERAGE] >= 0.90 - 1e-9).all()


def test_likelihood_and_simulated_verdicts_keep_their_rates_within_error(small):
    verdicts = small[0]
    others = verdicts[~verdicts["what"].isin(rates.FORCED)]
    runs = np.array([float(by.split()[0]) if "runs" in by else np.inf for by in others["by"]])
    bound = 0.05 + 4 * np.sqrt(0.05 * 0.95 / runs)
    bound[others["by"] == "enumeration"] = 0.065  # a likelihood ratio is not exact at 6 + 6 answers
    assert (others[CLAIMS].to_numpy() <= bound[:, None]).all()


def test_screening_keeps_both_risks(small):
    screens = small[1]
    assert (screens["should fail, passes"] <= 0.05).all()
    assert (screens["should pass, fails"] <= [0.10, 0.05, 0.10]).all()
