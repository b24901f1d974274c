import json
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from panelstats.errors import DesignError
from panelstats.models.letters import letter_columns, letters

VALUES = json.loads((Path(__file__).parents[1] / "published" / "models" / "comparisons.json").read_text())


def relation(lots, pairs):
    different = np.zeros((lots, lots), dtype=bool)
    for a, b in pairs:
        different[a, b] = True
    return different


@st.composite
def relations(draw):
    lots = draw(st.integers(1, 9))
    pairs = list(combinations(range(lots), 2))
    chosen = draw(st.lists(st.sampled_from(pairs), unique=True)) if pairs else []
    means = draw(st.lists(st.integers(0, 20).map(lambda n: n / 2), min_size=lots, max_size=lots))
    return relation(lots, chosen), np.array(means, float)


@pytest.mark.parametrize("case", VALUES["letter_groups"])
def test_groups_are_the_published_sets(case):
    columns = letter_columns(relation(case["n"], case["different"]), -np.arange(case["n"], dtype=float))
    assert [list(np.flatnonzero(column)) for column in columns.T] == case["groups"]


@given(relations())
def test_two_lots_share_a_column_exactly_when_not_different(drawn):
    different, means = drawn
    held = letter_columns(different, means).astype(int)
    np.testing.assert_array_equal(held @ held.T > 0, ~(different | different.T))


@given(relations())
def test_no_column_lies_within_another_and_the_best_come_first(drawn):
    different, means = drawn
    columns = letter_columns(different, means).T
    for a, b in combinations(columns, 2):
        assert (a & ~b).any()
        assert (b & ~a).any()
    best = [means[column].max() for column in columns]
    assert best == sorted(best, reverse=True)


@given(relations(), st.randoms())
def test_the_order_of_lots_changes_nothing(drawn, random):
    different, means = drawn
    means = means + np.arange(len(means)) / 100  # no ties: equal means may keep the order given
    turned = random.sample(range(len(means)), len(means))
    again = letters(different[np.ix_(turned, turned)], means[turned])
    assert [letters(different, means)[lot] for lot in turned] == again


def test_a_lot_without_a_mean_has_no_letter():
    assert letters(relation(3, [(0, 2)]), np.array([5.0, np.nan, 7.0])) == ["b", "", "a"]
    assert letters(relation(2, []), np.full(2, np.nan)) == ["", ""]


def test_more_lots_than_can_be_read_are_refused():
    assert set(letters(relation(20, []), np.arange(20.0))) == {"a"}
    with pytest.raises(DesignError, match="21 lots"):
        letters(relation(21, []), np.arange(21.0))


def test_more_groups_than_letters_leave_all_blank():
    # Moon & Moser 1965 (Israel J Math 3: 23): six threes whose members differ have 3^6 largest groups.
    threes = [(i, j) for i, j in combinations(range(18), 2) if i // 3 == j // 3]
    assert letter_columns(relation(18, threes), np.arange(18.0)).shape[1] == 729
    assert letters(relation(18, threes), np.arange(18.0)) == [""] * 18
