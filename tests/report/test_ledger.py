import pytest

from panelstats.report.charts.shapes import Mark, mark
from panelstats.report.pages.ledger import OPEN, ledger
from panelstats.result import Act, Verdict


def verdict(call="differ", act=Act.DECIDE, subject="body", step="Sort.", **numbers):
    return Verdict("Do the lots differ?", subject, call, f"On {subject}: {call}.", numbers, step, act)


def test_what_to_act_on_comes_first_and_nothing_is_lost():
    many = [verdict(act=act, subject=f"{act.name} {at}") for at in range(20) for act in reversed(Act)]
    groups = ledger(many)
    assert [group.act for group in groups] == sorted(Act)
    shown = [one for group in groups for entry in group.entries for one in (*entry.first, *entry.rest)]
    assert sorted(map(id, shown)) == sorted(map(id, many))


@pytest.mark.parametrize("act", list(Act))
def test_one_answer_too_many_is_not_folded_away_alone(act):
    (group,) = ledger([verdict(act=act, subject=str(at)) for at in range(OPEN[act] + 1)])
    assert group.entries[0].rest == ()


def test_what_is_folded_is_named_once():
    many = [verdict(subject=f"d{at % 9}") for at in range(30)]
    (group,) = ledger(many)
    assert group.entries[0].rest_named == "d5, d6, d7, d8, d0, d1 and 3 more"


def test_a_next_step_is_said_once_where_it_is_common_and_beside_each_where_not():
    (same,) = ledger([verdict(subject="a"), verdict(subject="b")])
    (other,) = ledger([verdict(subject="a"), verdict(subject="b", step="Taste.")])
    assert same.entries[0].next_step == "Sort."
    assert other.entries[0].next_step == ""


@pytest.mark.parametrize(
    ("given", "shape"),
    [
        (verdict(call="cannot tell", act=Act.KNOW), Mark.OPEN),
        (verdict(act=Act.TASTE_AGAIN), Mark.OPEN),
        (verdict(call="agree", act=Act.KNOW), Mark.WITHIN),
        (verdict(), Mark.APART),
        (verdict(difference=2.0), Mark.APART),  # highest less lowest points no way
        (verdict(call="apart", deviation=-0.4), Mark.LOWER),
        (verdict(call="apart", estimate=1.9, floor=0.67, ceiling=1.5), Mark.HIGHER),
        (verdict(call="apart", estimate=0.4, floor=0.67, ceiling=1.5), Mark.LOWER),
        (verdict(call="apart", estimate=1.4, floor=float("-inf"), ceiling=0.5), Mark.APART),  # a size has no direction
    ],
)
def test_the_mark_repeats_the_call(given, shape):
    assert mark(given) is shape
