"""The invented room of new tasters: what was planted is found, and nobody else is accused."""

import pytest

import panelstats as pst


@pytest.mark.parametrize("seed", [3, 8])
def test_planted_faults_are_named_and_nobody_else(seed):
    room = pst.example.new_tasters(seed=seed)
    cells = pst.read_scores(room.frame, room=room.registers).cells()
    result = pst.assess_tasters(cells)
    planted = [fault for fault in room.truth["planted"] if fault["about"] == "taster"]
    apart = result.summary.query("call == 'apart'")
    assert set(apart["taster"]) == {fault["who"] for fault in planted}
    named = result.table.query("call == 'apart'")
    swaps = next(fault["who"] for fault in planted if fault["what"] == "swapped")
    assert "strength" in set(named.loc[named["taster"] == swaps, "descriptor"]) <= {"strength", "flavour"}
    noisy = next(fault["who"] for fault in planted if fault["what"] == "repeatability")
    over_all = named.query("aspect == 'repeatability' and descriptor == ''")
    assert list(over_all["taster"]) == [noisy]

    trainees = pst.assess_trainees(cells)
    truth = {fault["who"]: fault["what"] for fault in room.truth["planted"] if fault["about"] == "trainee"}
    assert dict(zip(trainees.summary["trainee"], trainees.summary["call"], strict=True)) == truth
    assert set(trainees.taste_again.groupby("trainee").size()) == {3}
