"""No room of the corpus is read wrong, and its truth is what stands in its files."""

from __future__ import annotations

import pytest

from tests.habits import ROOMS
from tests.habits.judge import ASKED, REFUSED, RIGHT, judged
from tests.habits.known import KNOWN


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=pytest.mark.xfail(strict=True)) if n in KNOWN else n for n in ROOMS]
)
def test_a_room_is_read_right_or_asked_about(name, tmp_path):
    made = ROOMS[name].made()
    finding = judged(made.write(tmp_path), made.truth)
    assert finding.outcome in {RIGHT, ASKED, REFUSED}, finding


@pytest.mark.parametrize("name", ROOMS)
def test_the_truth_is_what_another_reader_finds_in_the_files(name, tmp_path):
    made = ROOMS[name].made()
    made.write(tmp_path)
    made.check(tmp_path)


def test_the_list_of_known_rooms_names_rooms():
    assert set(ROOMS) >= KNOWN
