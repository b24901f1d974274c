import re

import pytest
from advances import FACES, advances
from hypothesis import given
from hypothesis import strategies as st

from panelstats.report.charts.advances import ADVANCES
from panelstats.report.charts.figures import Axis, row_figures
from panelstats.report.charts.scale import Scale
from panelstats.report.charts.svg import short, tag, text_width, wrapped
from panelstats.result import Mark, Row

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


@pytest.mark.parametrize(("start", "stop", "upright"), [(10, 110, False), (110, 10, True)])
@pytest.mark.parametrize(("mark", "way"), [(Mark.HIGHER, 1), (Mark.LOWER, -1)])
def test_a_triangle_points_to_where_values_grow_or_fall(mark, way, start, stop, upright):
    axis = Axis(Scale(0.0, 1.0, ()), start, stop, upright=upright)
    (drawn,) = row_figures(Row("a", 0.5, mark=mark), axis, 20.0)
    points = [tuple(map(float, point.split())) for point in re.findall(r"[\d.]+ [\d.]+", str(drawn))]
    back, tip, _ = (point[1 if upright else 0] for point in points)
    assert (tip - back) * (stop - start) * way > 0


@pytest.mark.parametrize("face", [face for face in FACES if face.exists()], ids=lambda face: face.stem)
def test_no_sign_is_wider_in_a_font_than_it_is_taken_to_be(face):
    found = advances(face)
    assert [s for width, signs in ADVANCES.items() for s in signs if found.get(ord(s), 0) > width + 1e-9] == []
