"""Every interval of every table and sentence: its ends in their order, its number between them; no column twice."""

from types import SimpleNamespace

import pytest

from panelstats.result import Verdict
from tests.report.everypage import REVIEWS
from tests.report.intervals import faults_of

KINDS = [kind for kind in REVIEWS if kind not in {"season-taster", "taster", "trainee"}]  # parts of others


@pytest.mark.parametrize("kind", KINDS)
def test_intervals_hold_what_they_are_about(kind):
    faults = {title: faults_of(result) for title, result in REVIEWS[kind]().results}
    assert {title: (len(found), found[:3]) for title, found in faults.items() if found} == {}


def test_an_interval_out_of_order_and_a_number_outside_it_are_seen():
    told = Verdict("asked", "elm", "differ", "", {"difference": 3.0, "low": 4.0, "high": 2.0})
    result = SimpleNamespace(verdicts=(told,), tables=dict)
    assert faults_of(result) == [
        "asked elm: low 4.0 above high 2.0", "asked elm: difference 3.0 outside 4.0 to 2.0"
    ]  # fmt: skip
