from itertools import pairwise

import pytest
from advances import FACES, advances
from hypothesis import given
from hypothesis import strategies as st

from panelstats.report.charts.advances import ADVANCES
from panelstats.report.charts.svg import short, spread, tag, text_width, ticks, wrapped

words = st.text(alphabet="abcWM .茶ש-", min_size=1, max_size=60)


@given(words, st.floats(20, 200))
def test_wrapping_cuts_nothing_and_fits(text, width):
    lines = wrapped(text, width, 10)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(text_width(line, 10) <= width for line in lines)


@given(st.lists(st.floats(0, 100), min_size=1, max_size=20), st.floats(1, 8))
def test_names_that_move_keep_their_order_and_do_not_touch(wanted, gap):
    wanted.sort()
    room = max(100.0, gap * len(wanted))
    places = spread(wanted, [gap] * len(wanted), 0, room)
    assert all(second - first >= gap - 1e-6 for first, second in pairwise(places))
    assert places[0] >= gap / 2 - 1e-6
    assert places[-1] <= room - gap / 2 + 1e-6


@given(st.floats(1e-3, 1e6))
def test_ticks_are_few_round_and_hold_zero(reach):
    marks = ticks(reach)
    assert 0.0 in marks
    assert 3 <= len(marks) <= 7
    assert max(marks) <= reach * (1 + 1e-6)


def test_text_and_attributes_are_escaped():
    made = tag("text", "<b>5 & 6</b>", aria_label='"><script>')
    assert "<b>" not in made
    assert "<script>" not in made


def test_a_coordinate_is_short():
    assert [short(x) for x in (3.0, 3.14159, -0.01)] == ["3", "3.1", "0"]


@pytest.mark.parametrize("face", [face for face in FACES if face.exists()], ids=lambda face: face.stem)
def test_no_sign_is_wider_in_a_font_than_it_is_taken_to_be(face):
    found = advances(face)
    assert [s for width, signs in ADVANCES.items() for s in signs if found.get(ord(s), 0) > width + 1e-9] == []
