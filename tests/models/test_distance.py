"""The chances behind the distance to the standard, beside those of scipy."""

import numpy as np
import pytest
from scipy import stats

from panelstats.models import distance

NONCENTRALITY = np.array([0.0, 0.7, 12.0, 300.0])[:, None]


@pytest.mark.parametrize(("h", "error_df"), [(1.0, 3.0), (4.6, 12.5), (15.0, 200.0)])
def test_a_ratio_to_an_estimated_error_is_noncentral_f(h, error_df):
    seen = np.array([0.0, 0.2, 1.0, 4.0, 35.0])
    expected = stats.ncf.cdf(seen, h, error_df, NONCENTRALITY)
    assert distance._below(seen, h, error_df, NONCENTRALITY) == pytest.approx(expected, abs=1e-11)


@pytest.mark.parametrize("h", [1.0, 4.6, 15.0])
def test_a_ratio_to_a_known_error_is_noncentral_chi_square(h):
    seen = np.array([0.2, 1.0, 4.0, 35.0])
    expected = stats.ncx2.cdf(h * seen, h, NONCENTRALITY)
    assert distance._below(seen, h, float(distance.KNOWN), NONCENTRALITY) == pytest.approx(expected, abs=1e-11)


@pytest.mark.parametrize("error_df", [30.0, np.inf])
def test_the_library_s_sum_goes_on_where_ours_would_be_long(monkeypatch, error_df):
    args = np.linspace(1.0, 60.0, 8), 6.0, error_df, NONCENTRALITY
    ours = distance._below(*args)
    monkeypatch.setattr(distance, "TERMS", 0)
    assert distance._below(*args) == pytest.approx(ours, abs=1e-9)
