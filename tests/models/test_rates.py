"""A small run of the error rates that `python -m tests.models.rates` tabulates in rates.md."""

import numpy as np
import pytest

from tests.models.rates import SMALL, Rate, Setting, claims, measure, too_high


@pytest.mark.parametrize("setting", SMALL, ids=str)
def test_false_claims_and_missed_intervals_stay_within_their_bounds(setting):
    assert too_high(setting, measure(setting, 60)) == []


def test_shared_pots_declared_own_would_break_the_bound():
    """The check can fail: pots that tasters shared, taken for their own (12 lots, pot SD 0.25: a third of F tests)."""
    rates = claims(Setting(8, 12, True, 0.0), 60, np.random.default_rng(1), pots="own")
    assert "lot test" in too_high(Setting(8, 12, True, 0.0), rates)
    assert rates["lot test"].value > 0.15


def test_the_error_of_a_rate_is_that_of_panels_not_of_their_descriptors():
    alike = np.repeat(np.arange(100) % 10 == 0, 6).reshape(100, 6)
    assert Rate.of(alike).value == pytest.approx(0.1)
    assert Rate.of(alike).se == pytest.approx(0.03)
    assert Rate.of(np.zeros((100, 6))).se > 0
