import pytest
from advances import FACES, advances
from hypothesis import given
from hypothesis import strategies as st

from panelstats.report.charts.advances import ADVANCES
from panelstats.report.charts.svg import short, tag, text_width, wrapped

words = st.text(alphabet="abcWM .茶ש-", min_size=1, max_size=60)


@given(words, st.floats(20, 200))
def test_wrapping_cuts_nothing_and_fits(text, width):
    lines = wrapped(text, width, 10)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(text_width(line, 10) <= width for line in lines)


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
