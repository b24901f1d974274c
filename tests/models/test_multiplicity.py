import json
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import false_discovery_control
from statsmodels.stats.multitest import multipletests

from panelstats.models.multiplicity import benjamini_hochberg, holm

VALUES = json.loads((Path(__file__).parents[1] / "published" / "models" / "comparisons.json").read_text())["p_adjust"]
p_values = st.lists(st.floats(0, 1), min_size=1, max_size=25)


# Benjamini & Hochberg 1995 (JRSS B 57: 289), the fifteen p-values of their example; R p.adjust.
def test_both_agree_with_the_published_example():
    np.testing.assert_allclose(holm(VALUES["p"]), VALUES["holm"], rtol=1e-12)
    np.testing.assert_allclose(benjamini_hochberg(VALUES["p"]), VALUES["benjamini_hochberg"], rtol=1e-12)
    assert (benjamini_hochberg(VALUES["p"]) <= 0.05).sum() == 4  # printed in the paper
    assert (holm(VALUES["p"]) <= 0.05).sum() == VALUES["rejected_holm_05"]


@given(p_values)
def test_benjamini_hochberg_agrees_with_scipy(p):
    np.testing.assert_allclose(benjamini_hochberg(p), false_discovery_control(p), rtol=1e-13)


@pytest.mark.parametrize("size", [1, 2, 7, 40])
def test_holm_agrees_with_statsmodels(size):
    p = np.random.default_rng(size).uniform(0, 1, size).round(1) ** 3  # with ties
    np.testing.assert_allclose(holm(p), multipletests(p, method="holm")[1], rtol=1e-13)


@pytest.mark.parametrize("adjust", [holm, benjamini_hochberg])
@given(p=p_values, gaps=st.data())
def test_nan_is_no_member_and_stays(adjust, p, gaps):
    holed = np.array(p)
    out = gaps.draw(st.lists(st.integers(0, len(p) - 1), max_size=len(p)))
    holed[out] = np.nan
    adjusted, known = adjust(holed), ~np.isnan(holed)
    np.testing.assert_array_equal(np.isnan(adjusted), ~known)
    np.testing.assert_array_equal(adjusted[known], adjust(holed[known]))


@pytest.mark.parametrize("adjust", [holm, benjamini_hochberg])
def test_families_lie_along_the_axis_asked_for(adjust):
    p = np.random.default_rng(2).uniform(0, 0.2, (3, 4, 5))
    p[0, 1, :] = np.nan
    np.testing.assert_array_equal(adjust(p, axis=1)[2, :, 3], adjust(p[2, :, 3]))
    np.testing.assert_array_equal(adjust(p)[1, 2], adjust(p[1, 2]))
    np.testing.assert_array_equal(adjust(p, axis=None).ravel(), adjust(p.ravel()))


@pytest.mark.parametrize("adjust", [holm, benjamini_hochberg])
def test_a_family_of_none_is_answered(adjust):
    assert adjust(np.array([])).shape == (0,)
    assert np.isnan(adjust(np.array([np.nan, np.nan]))).all()
