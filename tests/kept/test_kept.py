import pytest

from tests.kept.asked import ROOMS
from tests.kept.lines import kept, lines_of, moved

ASKED = [(room, question) for room, questions in ROOMS.items() for question in questions()]


@pytest.mark.parametrize(("room", "question"), ASKED, ids=lambda part: part.replace(" ", "-"))
def test_says_what_it_said(room, question):
    """`python -m tests.kept` writes the answers anew; their changes are for the commit to explain."""
    found = moved(kept(room)[question], lines_of(ROOMS[room]()[question]))
    assert not found, "\n".join(found[:12])


@pytest.mark.parametrize(
    "other", ["mean | 3 3 12.001 4.5", "mean | 3 3 12 4.501", "mean | 3 2 12 4.5", "se | 3 3 12 4.5", "mean | 0a1b2c3d"]
)
def test_a_figure_a_sign_an_order_or_a_word_that_moves_is_seen(other):
    line = "mean | 3 3 12 4.5"
    assert moved([line, line], [line, other]) == [f"- {line}\n+ {other}"]


def test_what_processors_leave_to_chance_is_not_and_what_is_lost_or_new_is():
    line = "mean | 3 3 12 4.5"
    assert moved([line], ["mean | 3 3 12.00001 4.5"]) == []
    assert moved([line, "a"], [line]) == ["- a"]
    assert moved([line], [line, "a"]) == ["+ a"]
