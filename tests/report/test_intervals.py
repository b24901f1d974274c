"""Every interval of every table and sentence: its ends in their order, its number between them; no column twice."""

import pytest

from tests.report.everypage import REVIEWS
from tests.report.intervals import faults_of

KINDS = [kind for kind in REVIEWS if kind not in {"season-taster", "taster", "trainee"}]  # parts of others


@pytest.mark.parametrize("kind", KINDS)
def test_intervals_hold_what_they_are_about(kind):
    faults = {title: faults_of(result) for title, result in REVIEWS[kind]().results}
    assert {title: (len(found), found[:3]) for title, found in faults.items() if found} == {}
