"""How many tasters settle a difference, and whether classes have one variance: against scipy.stats."""

import numpy as np
import pytest
from scipy import stats

from panelstats.models.likeness import limits_of_agreement
from panelstats.models.numbersneeded import tasters_needed
from panelstats.models.sessionfit import _bartlett


@pytest.mark.parametrize("lots", [2, 3, 6])
@pytest.mark.parametrize("looks", [1, 2, 4])
@pytest.mark.parametrize(("interaction", "error"), [(0.16, 0.64), (0.0, 0.3), (0.5, 0.1)])
def test_tasters_needed_are_the_fewest_whose_standard_error_is_small_enough(lots, looks, interaction, error):
    def reached(tasters):
        t = stats.t((lots - 1) * (tasters - 1))
        return (t.ppf(0.975) + t.ppf(0.8)) * np.sqrt(2 * (interaction + error / looks) / tasters) <= 1.0

    found = tasters_needed(interaction, error, looks=looks, lots=lots)
    assert reached(found)
    assert found == 2 or not reached(found - 1)


def test_a_difference_that_no_number_of_tasters_finds_has_none():
    assert tasters_needed(1e6, 1.0, looks=1) is None


@pytest.mark.parametrize("seed", range(5))
def test_equal_variances_are_judged_as_scipy_does(seed):
    rng = np.random.default_rng(seed)
    samples = [rng.normal(0, sd, n) for sd, n in ((1.0, 5), (1.5, 9), (0.7, 13), (1.1, 4))]
    ss, df = (np.array(part) for part in zip(*((x.var() * len(x), len(x) - 1) for x in samples), strict=True))
    assert _bartlett(ss, df) == pytest.approx(stats.bartlett(*samples).pvalue, rel=1e-10)


def test_one_difference_has_no_interval_for_its_limits():
    assert np.isnan(limits_of_agreement(0.2, 0.8, 1).low_interval).all()
    assert np.isfinite(limits_of_agreement(0.2, 0.8, 2).low_interval).all()
