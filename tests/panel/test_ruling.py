"""Hidden controls as judge between tasters who have moved apart: who is named, and when nobody is."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import panelstats as pst
from panelstats.panel.season.rulingverdicts import ruling_verdicts

QUESTION = "Who has moved, by the hidden controls?"


def audited(moves, *, tasters=("elm", "yew", "larch"), seed=1, served=True, controls=0.0):
    """Twenty-four sessions of six lots and two controls; the tasters' moves from session 12 on, and the controls'."""
    rng = np.random.default_rng(seed)
    rows = []
    for week in range(24):
        day = f"2031-{1 + week // 4:02d}-{1 + 7 * (week % 4):02d}"
        for lot in [f"{week}-{n}" for n in range(6)] + ["C1", "C2"] * served:
            tea = {"C1": 5.0, "C2": 6.5}.get(lot, 5 + rng.normal()) + controls * (week >= 12) * lot.startswith("C")
            rows += [
                (day, lot, name, tea + moves.get(name, 0.0) * (week >= 12) + rng.normal(0, 0.3)) for name in tasters
            ]
    sheet = pd.DataFrame(rows, columns=["session", "lot", "taster", "brisk"]).round(1)
    room = {"descriptors": pd.DataFrame({"descriptor": ["brisk"], "low": [0.0], "high": [10.0], "tolerance": [0.5]})}
    if served:
        room["lots"] = pd.DataFrame({"lot": ["C1", "C2"], "role": "control"})
    return pst.audit_season(pst.read_scores(sheet, room=room))


def ruled(audit):
    return [v for v in audit.verdicts if v.question == QUESTION]


def test_of_two_who_moved_apart_the_controls_name_the_one_who_moved():
    found = audited({"yew": 1.2}, tasters=("elm", "yew"))
    (told,) = ruled(found)
    assert (told.subject, told.call) == ("yew", "moved")
    assert told.numbers["low"] < 1.2 < told.numbers["high"]
    assert "since 2031-04-01" in told.sentence
    assert set(found.rulings["bound"].round(2)) == {2.24}  # 5 % over two tasters, two-sided


def test_each_change_is_a_weighted_difference_of_means_held_to_the_normal_bound():
    found = audited({"yew": 1.2})
    series = found.series[found.series["chart"] == "controls"]
    for _, row in found.rulings.iterrows():
        mine = series[series["taster"] == row["taster"]]
        late, w = (mine["session"] >= row["since"]).to_numpy(), 1 / mine["se"].to_numpy() ** 2
        value = mine["value"].to_numpy()
        change = np.average(value[late], weights=w[late]) - np.average(value[~late], weights=w[~late])
        sd = np.sqrt(1 / w[late].sum() + 1 / w[~late].sum())
        assert row["change"] == pytest.approx(change)
        assert row["z"] == pytest.approx(change / sd)
        assert row["high"] - row["change"] == pytest.approx(stats.norm.ppf(0.975) * sd)
        assert row["bound"] == pytest.approx(stats.norm.ppf(1 - 0.025 / 3))


def test_two_of_three_who_move_together_are_both_told_and_not_the_third():
    found = audited({"elm": 1.2, "yew": 1.2})
    (told,) = ruled(found)
    assert told.call == "cannot tell"
    assert "elm and yew have moved on brisk" in told.sentence


def test_a_control_that_moves_with_one_taster_apart_is_not_blamed_on_anybody():
    found = audited({"yew": 1.5}, controls=-3.0)
    (told,) = ruled(found)
    assert "the control or the whole panel has moved" in told.sentence
    assert "fresh control" in told.next_step


def test_controls_say_nothing_where_nobody_moved_apart_or_none_were_served():
    quiet = audited({})
    assert quiet.rulings.empty
    assert ruled(quiet) == []
    assert ruled(audited({"yew": 1.2}, served=False)) == []


def test_noisy_controls_cannot_tell_yet():
    found = audited({"yew": 1.2}, tasters=("elm", "yew"), seed=2)
    (told,) = ruling_verdicts(found.rulings.assign(z=0.5))
    assert told.call == "cannot tell"
    assert "cannot tell yet" in told.sentence
    assert "two cups of each" in told.next_step
