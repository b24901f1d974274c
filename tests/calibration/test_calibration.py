"""A small run of `python -m tests.calibration`: lines that hold go on holding, and the check can fail."""

from functools import partial

import numpy as np
import pytest

import panelstats as pst
from tests.calibration.rooms.lots import Lots
from tests.calibration.rooms.pots import SHARED, Pots
from tests.calibration.rooms.room import Room, together
from tests.calibration.rooms.season import Season
from tests.calibration.table import BEFORE, RATES, read, row, write
from tests.calibration.trial import Interval, Line, Trial
from tests.calibration.trials import TRIALS

# Trials whose every line is held to its bound, and how many runs each gets here.
HELD = {
    "lots own 8x6x2x6": 30,
    "lots shared 10x2x2 0.25": 30,
    "intervals own": 30,
    "agreement own": 30,
    "agreement missing few": 30,
    "agreement edge 8": 40,
    "standard own": 30,
    "tasters 4 own": 30,
    "tasters half floor": 25,
    "trainees level 40": 30,
    "trainees slope half 40": 30,
    "differences triangle": 0,
    "differences tetrad": 0,
    "differences ratings 3": 100,
    "differences guessing 12x4": 30,
    "differences repeated 5x10": 30,
    "shortlist small": 30,
    "advice answers": 0,
    "maps axes 4x6": 24,
    "maps places 4x6": 40,
}


@pytest.mark.parametrize("name", HELD)
def test_false_claims_and_missed_intervals_stay_within_their_bounds(name):
    lines = TRIALS[name].measure(HELD[name], seed=1)
    assert lines
    assert [line for line in lines if not line.holds] == []


def told_own(rng):
    """Pots that all tasters shared, taken for pots of their own: 12 alike lots, pot SD 0.25."""
    room = Room(8, lots=Lots(12), pots=Pots(2, SHARED))
    p = pst.compare_lots(room.scores(rng).cells(pots="own")).anova["p"]
    return {"lots differ, one test": float((p < 0.05).mean())}


def test_a_claim_that_is_false_too_often_is_seen():
    (line,) = Trial("pots told wrongly", "", told_own).measure(30, seed=1)
    assert line.rate > 0.15
    assert not line.holds


def test_every_run_has_a_seed_of_its_own_whatever_the_number_of_runs():
    trial = Trial("seeds", "", lambda rng: {"claim": rng.random()})
    assert trial.tell(("seeds", False, 1, 0, 3))[:2] == trial.tell(("seeds", False, 1, 0, 2))
    assert trial.measure(40, seed=1) == trial.measure(40, seed=1)
    assert trial.measure(40, seed=1) != trial.measure(40, seed=2)


def test_the_error_of_a_rate_is_that_of_runs_and_a_claim_never_made_counts_as_none():
    said = iter([1.0, 0.0, np.nan, 0.0, 0.0] * 20)
    (line,) = Trial("rates", "", lambda rng: {"claim": next(said)}).measure(100, seed=1)
    assert (line.rate, line.runs) == (0.25, 80)
    assert line.se == pytest.approx(np.sqrt(0.25 * 0.75 / 80))


def test_intervals_bring_their_half_width_and_claims_their_power():
    both = Trial("both", "", lambda rng: {"a": Interval(0.0, 2.0), "b": 0.0}, lambda rng: {"b": 1.0}, "elsewhere")
    width, claim = both.measure(8, seed=1)
    assert (width.power, width.alternative) == (2.0, "half width")
    assert (claim.power, claim.alternative) == (1.0, "elsewhere")


def test_the_table_is_read_back_as_written_worst_first(tmp_path):
    lines = [
        Line("a", "quiet", 0.05, 0.04, 0.01, runs=400),
        Line("b", "loud", 0.05, 0.4, 0.02, 0.9, 0.01, "there", 400),
    ]
    path = tmp_path / "rates.md"
    write({each.key: each for each in (row(line, "abc") for line in lines)}, path)
    rows = read(path)
    assert list(rows) == [("b", "loud"), ("a", "quiet")]
    assert rows["b", "loud"].cells[5] == "no"
    assert rows["b", "loud"].above == pytest.approx(0.35)
    assert "1 of 2 lines hold" in path.read_text(encoding="utf-8")


def test_the_committed_tables_hold_every_trial_once_and_name_their_commit():
    rows = read(RATES)
    assert len(rows) > 50
    assert all(len(each.cells[-1].rstrip("+")) >= 7 for each in rows.values())
    assert set(read(BEFORE)) & set(rows)


@pytest.mark.parametrize("pots", [Pots(4), Pots(2, SHARED)])
def test_panels_side_by_side_are_judged_as_each_alone(pots):
    room = Room(3, lots=Lots(3), pots=pots)
    tastings = [room.draw(np.random.default_rng(n)) for n in range(4)]
    alone = np.concatenate([pst.compare_lots(one.scores.cells()).anova["p"] for one in tastings])
    beside = pst.compare_lots(together(tastings).cells(), across="none").anova["p"]
    np.testing.assert_allclose(beside, alone, rtol=1e-6)


@pytest.mark.parametrize("shape", [(2, 8, 3), (12, 4, 1)])
def test_a_room_scores_every_serving_once_and_truth_is_where_marks_gather(shape):
    tasters, lots, pots = shape
    room = Room(tasters, lots=Lots(lots, sd=1.0), pots=Pots(pots))
    tasting = room.draw(np.random.default_rng(3))
    frame = tasting.scores.frame
    assert len(frame) == tasters * lots * pots * room.descriptors
    means = frame.groupby(["lot", "descriptor"], observed=True)["score"].mean().unstack().to_numpy()
    assert np.abs(means - tasting.lot).mean() < 1.0
    assert np.corrcoef(means.ravel(), tasting.lot.ravel())[0, 1] > 0.7


def test_a_season_keeps_the_master_and_moves_the_blend():
    season = Season(weeks=6, tasters=8, jump=3.0, jump_from=3)
    truth, scores = season.draw(np.random.default_rng(2))
    frame = scores.frame[scores.frame["descriptor"] == "word 01"]
    mean = frame.groupby(["session", frame["lot"] == "S"], observed=True)["score"].mean().unstack()
    apart = (mean[False] - mean[True]).to_numpy()
    assert truth[:, 0].tolist() == [0, 0, 0, 3, 3, 3]
    assert apart[:3].mean() + 2 < apart[3:].mean()


def test_a_partial_is_no_lambda_where_processes_share_the_work():
    assert [
        name for name, trial in TRIALS.items() if isinstance(trial, Trial) and not isinstance(trial.false, partial)
    ] == []
