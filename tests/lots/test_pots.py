"""A pot brewed wrong is found against its sister pots, and ordinary pots are left in peace."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import panelstats as pst
from panelstats.models.oddreplicates import _joined, _of_others, _pooled, odd_replicates
from tests import known

WORDS = ["colour", "bright", "strength", "body", "brisk", "point"]


def marks(rng, *, lots=24, pots=2, tasters=6, pot_sd=0.2):
    """Half points of a room with ordinary pots, (lot, pot, taster, descriptor)."""
    lot = 5 + rng.normal(0, 1, (lots, 1, 1, len(WORDS)))
    pot = rng.normal(0, pot_sd, (lots, pots, 1, len(WORDS)))
    return lot + pot + rng.normal(0, 0.7, (lots, pots, tasters, len(WORDS)))


def scores_of(values):
    lots, pots, tasters, _ = values.shape
    keys = [(f"L{n:02d}", p + 1, f"t{t}") for n in range(lots) for p in range(pots) for t in range(tasters)]
    sheet = pd.DataFrame(keys, columns=["lot", "pot", "taster"])
    sheet[WORDS] = np.round(2 * values.reshape(-1, len(WORDS))) / 2
    return pst.read_scores(sheet)


def test_the_planted_pot_of_the_bench_is_found_and_no_other():
    found = pst.check_pots(known.scores("bench"))
    assert list(found.named["lot"]) == ["405"]
    assert {"strength", "colour", "body"} == set(found.verdicts[0].numbers)
    assert "nothing says which of them is wrong" in found.verdicts[0].sentence


def test_of_three_pots_the_one_apart_is_named_with_its_size():
    values = marks(np.random.default_rng(3), pots=3)
    values[7, 2, :, :3] -= 2.5
    found = pst.check_pots(scores_of(values))
    row = found.named.iloc[0]
    assert (len(found.named), row["lot"], row["pot"], row["sisters"]) == (1, "L07", "3", "1, 2")
    assert "Pot 3 of lot L07 stands apart from its 2 sister pots" in found.verdicts[0].sentence
    far = found.differences[(found.differences["lot"] == "L07") & (found.differences["descriptor"] == "colour")]
    rounded = np.round(2 * values[7, :, :, 0]) / 2
    assert far["difference"].item() == pytest.approx(rounded[2].mean() - rounded[:2].mean())
    assert far["same_way"].item() == 6


def test_one_tasters_cups_are_not_called_a_pot():
    values = marks(np.random.default_rng(4), tasters=4)
    values[5, 1, 0, :3] += 9.0
    found = pst.check_pots(scores_of(values))
    row = found.table[found.table["lot"] == "L05"].iloc[0]
    assert row["call"] == "one taster's cups"
    assert not len(found.named)


def test_a_difference_within_the_tolerance_is_not_named():
    values = marks(np.random.default_rng(5))
    values[2, 0, :, :4] += 2.5
    assert list(pst.check_pots(scores_of(values)).named["lot"]) == ["L02"]
    assert not len(pst.check_pots(scores_of(values), tolerance=5.0).named)


@pytest.mark.parametrize(
    ("change", "reason"),
    [({"pots": 1}, "one pot a lot"), ({"lots": 7}, "only 7 lots"), ({"tasters": 1}, "only 24 lots")],
)
def test_what_cannot_be_tested_is_said_with_what_would(change, reason):
    verdict = pst.check_pots(scores_of(marks(np.random.default_rng(6), **change))).verdicts[0]
    assert verdict.call == "cannot tell"
    assert reason in verdict.sentence
    assert verdict.next_step


def test_own_pots_are_nobodys_error_in_common():
    verdict = pst.check_pots(scores_of(marks(np.random.default_rng(6))), pots="own").verdicts[0]
    assert "own pots" in verdict.sentence


def test_equal_marks_everywhere_are_no_difference():
    found = pst.check_pots(scores_of(np.full((12, 2, 3, len(WORDS)), 5.0)))
    assert not len(found.named)
    assert "marked alike to the last digit" in found.verdicts[0].sentence


def test_ordinary_rooms_are_seldom_accused():
    rng = np.random.default_rng(7)
    named = sum(bool((odd_replicates(marks(rng).mean(axis=2), draws=199).p < 0.05).any()) for _ in range(60))
    assert named <= 60 * 0.05 + 4 * np.sqrt(60 * 0.05 * 0.95)


def test_a_pot_two_points_off_is_found_by_nine_tasters():
    rng = np.random.default_rng(8)
    rooms = [marks(rng, tasters=9).mean(axis=2) for _ in range(40)]
    for room in rooms:
        room[3, 1, :3] += 2.0
    found = sum(odd_replicates(room, draws=199).p[3] < 0.05 for room in rooms)
    assert found >= 40 * 0.9 - 4 * np.sqrt(40 * 0.9 * 0.1)


@given(st.integers(0, 10_000))
def test_the_scale_of_a_unit_is_the_trimmed_mean_of_the_others(seed):
    squares = np.random.default_rng(seed).chisquare(1, (1, 14, 2))
    others = [np.sort(np.delete(squares[0, :, 0], n))[:-2].mean() for n in range(14)]
    np.testing.assert_allclose(_of_others(squares, np.sort(squares, axis=1), np.ones((14, 2), bool))[0, :, 0], others)
    np.testing.assert_allclose(
        _pooled(np.sort(squares, axis=1), np.ones((14, 2), bool))[0, 1], np.sort(squares[0, :, 1])[:-2].mean()
    )


def test_the_smaller_p_is_ranked_among_the_smaller_ones():
    single, several = np.arange(100.0), np.arange(100.0)[::-1]
    # 99.5 is passed by none of 100 tables on one statistic: of them 2 have a statistic passed by itself alone.
    np.testing.assert_allclose(_joined(np.array([99.5, 0.0]), np.array([0.0, 0.0]), single, several), [3 / 101, 1.0])


def test_shift_and_order_of_the_lots_change_nothing():
    values = marks(np.random.default_rng(9)).mean(axis=2)
    values[4, 0] += 1.5
    found, moved = odd_replicates(values, draws=99), odd_replicates(values[::-1] + 3.0, draws=99)
    np.testing.assert_allclose(found.z, moved.z[::-1], atol=1e-9)
    np.testing.assert_allclose(found.scale, moved.scale)
