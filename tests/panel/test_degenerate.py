"""Rooms from which little can be known: every verdict has words for it, and none a number that is not there."""

import re
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.panel.tasters.finding import LEVEL
from panelstats.panel.tasters.naming import Split, _sides
from tests.panel.sheets import NAMES, scores_of

RNG = np.random.default_rng(3)


def ordinary(lots, tasters, pots=1, words=2):
    return 5 + RNG.normal(size=(lots, 1, 1, words)) + 0.5 * RNG.normal(size=(lots, tasters, pots, words))


def with_gaps(y, share):
    y = y.copy()
    y[RNG.random(y.shape[:2]) < share] = np.nan
    return y


def one_constant(lots=9, tasters=4):
    y = ordinary(lots, tasters, 2)
    y[:, 0] = 5.0
    return y


def far_apart(lots=12, tasters=3):
    """Lots of one mark each but one, tasters at the far ends."""
    y = np.full((lots, tasters, 1, 2), 2.0)
    y[:, 1] = 9.0
    y[0] += 0.5
    return y


def own_words(lots=6):
    """A word each for two tasters, and nobody else's mark on it."""
    y = np.full((lots, 2, 2, 2), np.nan)
    for each in (0, 1):
        y[:, each, :, each] = ordinary(lots, 1, 2)[:, 0, :, 0]
    return y


ROOMS = {
    "a word each": own_words(),
    "one mark": ordinary(1, 1),
    "one lot": ordinary(1, 4),
    "one lot, two pots": ordinary(1, 3, 2),
    "two lots": ordinary(2, 3),
    "two lots, two tasters": ordinary(2, 2),
    "three lots, two pots": ordinary(3, 3, 2),
    "one taster, one pot": ordinary(8, 1),
    "one taster, two pots": ordinary(8, 1, 2),
    "two tasters": ordinary(9, 2),
    "two tasters, two pots": ordinary(9, 2, 2),
    "all marks alike": np.full((9, 4, 2, 2), 5.0),
    "all marks 0": np.zeros((9, 4, 2, 2)),
    "tasters in step": np.repeat(ordinary(9, 1, 2), 4, axis=1),
    "pots in step": np.repeat(ordinary(9, 4), 2, axis=2),
    "levels apart, else in step": np.repeat(ordinary(9, 1), 3, axis=1) + np.array([0, 1.0, 3])[:, None, None],
    "one gives 5 to all": one_constant(),
    "all but one lot alike": np.where(np.arange(9)[:, None, None, None] == 4, 7.0, 5.0) + np.zeros((9, 4, 2, 2)),
    "nearly all 0": (RNG.random((20, 4, 2, 2)) < 0.04) * 1.0,
    "lots alike": 5 + 0.5 * RNG.normal(size=(12, 4, 2, 2)),
    "whole points, lots alike": np.round(5 + 0.5 * RNG.normal(size=(12, 3, 1, 2))),
    "far apart": far_apart(),
    "half missing": with_gaps(ordinary(10, 4, 2), 0.5),
    "most missing": with_gaps(ordinary(10, 5), 0.75),
    "nobody meets": np.where(np.eye(8, 4, dtype=bool)[..., None, None], ordinary(8, 4), np.nan),
    "tiny marks": ordinary(9, 4, 2) * 1e-6,
    "huge marks": ordinary(9, 4, 2) * 1e6,
}
# A dash where a number should be, numbers of nothing, shares beyond all, a thousand times of anything.
HOLES = re.compile(r"[(≥ ]– |–[;:,)%]| –$|nan|inf\b|[−-]\d+ %|\d,\d{3},\d{3}(?! points)|\{|\}")


def verdicts(y, sessions):
    cells = scores_of(y, sessions=min(sessions, len(y)))
    yield from pst.panel_agreement(cells).verdicts
    yield from pst.assess_tasters(cells).verdicts
    yield from pst.assess_tasters(cells, tolerance=0.5).verdicts
    if y.shape[1] > 1 and (cells.frame["taster"] == NAMES[0]).any():
        yield from pst.assess_trainees(cells, trainees=NAMES[0]).verdicts
        yield from pst.assess_trainees(cells, trainees=NAMES[0], reference=NAMES[1]).verdicts


@pytest.mark.parametrize("sessions", [1, 3])
@pytest.mark.parametrize("name", ROOMS)
def test_no_verdict_prints_a_number_that_does_not_exist(name, sessions):
    for verdict in verdicts(ROOMS[name], sessions):
        said = str(verdict)
        assert not HOLES.search(said), said
        assert verdict.call != "cannot tell" or verdict.next_step, said
        assert said[0].isupper() or said.startswith(NAMES), said
        for value in verdict.numbers.values():
            assert value is not None


def test_kappa_where_one_judge_gave_one_grade_has_no_interval():
    found = pst.weighted_kappa(np.array([[20, 0], [20, 0]]))
    assert found.value == 0
    assert np.isnan([found.low, found.high]).all()
    assert np.isnan(pst.weighted_kappa(np.array([[3, 0], [0, 0]])).value)


def test_kappa_of_no_call_at_all_is_not_known():
    found = pst.weighted_kappa(np.zeros((3, 3)))
    assert np.isnan([found.value, found.low, found.high]).all()


def test_who_has_no_level_stands_on_neither_side_of_a_panel_that_falls_apart():
    """Sides by hand: 1.5 above, 1.5 below on the one word that was met, and nothing known of the third."""
    estimate = np.array([[1.5, 1.5], [np.nan, -1.5], [np.nan, np.nan]])
    found = SimpleNamespace(cells={LEVEL: SimpleNamespace(estimate=estimate)})
    assert _sides(found, LEVEL, -1) == Split(LEVEL, -1, above=(0,), below=(1,))


def test_a_level_is_told_with_all_its_digits():
    scores = scores_of(ordinary(8, 4, 2))
    assert "99.9 % intervals" in pst.assess_tasters(scores, level=0.999).method
    assert "99.9 % intervals" in pst.assess_trainees(scores, trainees=NAMES[0], level=0.999).method


def test_classes_too_small_for_an_order_are_judged_without_one():
    """Three lots of one class and two of one lot each: use of the scale is judged, agreement is not."""
    marks = [[5.465, 5.367, 6.996, 7.54, 4.682], [4.806, 6.512, 7.533, 7.9, 5.531], [5.798, 5.586, 7.221, 8.714, 5.523],
             [5.991, 6.265, 6.645, 7.343, 5.548], [4.108, 5.902, 6.145, 6.833, 5.265]]  # fmt: skip
    rows = [(f"L{lot}", f"t{taster}", mark, lot_class) for taster, row in enumerate(marks)
            for (lot, mark), lot_class in zip(enumerate(row), "xxyxz", strict=True)]  # fmt: skip
    scores = pst.read_scores(pd.DataFrame(rows, columns=["lot", "taster", "brisk", "class"]))
    assert {verdict.call for verdict in pst.assess_tasters(scores).verdicts} == {"cannot tell"}


def test_a_taster_of_one_mark_among_five_who_tell_the_lots_apart_is_told_so():
    """No number of lots more would settle it: he is to say which of two known to differ has more."""
    y = np.round(
        3 + np.arange(12)[:, None, None, None] % 7 + 0.5 * np.random.default_rng(1).normal(size=(12, 6, 2, 1)), 1
    )
    y[:, 0] = 6.0
    verdict = next(v for v in pst.assess_tasters(scores_of(y)).verdicts if v.subject == NAMES[0])
    assert "gave every lot the same mark on" in verdict.sentence
    assert "two lots that clearly differ" in verdict.next_step
