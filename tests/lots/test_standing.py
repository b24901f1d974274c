"""Orders and tables of lots made again from the columns beside them: standings, what marks out, weeks, pots."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import norm
from scipy.stats import t as student

import panelstats as pst
from panelstats.lots.compare.standing import marked_out, standings, weights
from panelstats.lots.pots.fit import _call
from panelstats.lots.track.fit import _alarms
from panelstats.lots.track.weekcalls import call_of
from panelstats.models.oddreplicates import odd_replicates
from tests.lots.test_pots import WORDS, marks, scores_of
from tests.lots.test_standard import drawn
from tests.lots.test_tracking import weekly

# ── standings ────────────────────────────────────────────────────────────────────────────────────────────────────────

REGISTER = pd.DataFrame({"descriptor": ["brisk", "harsh", "colour", "thin"], "tolerance": [0.5, 0.5, 0.5, np.nan],
                         "wanted": ["more", "less", "either", "less"]})  # fmt: skip


def comparison():
    """Two classes of three lots: harsh does not differ in the second, colour nowhere."""
    lots = {"x": ["a", "b", "c"], "y": ["d", "e", "f"]}
    away = {"brisk": [1.0, -0.4, -0.6, -2.0, 1.5, 0.5], "harsh": [0.9, 0.1, -1.0, 3.0, -1.0, -2.0],
            "colour": [2.0, -1.0, -1.0, 2.0, -1.0, -1.0], "thin": [0.2, -0.1, -0.1, -0.3, 0.1, 0.2]}  # fmt: skip
    p = {("x", "brisk"): 0.01, ("y", "brisk"): 0.04, ("x", "harsh"): 0.049, ("y", "harsh"): 0.051,
         ("x", "colour"): 0.2, ("y", "colour"): 0.9, ("x", "thin"): 0.01, ("y", "thin"): 0.3}  # fmt: skip
    means = pd.DataFrame([
        {"class": group, "lot": lot, "descriptor": name, "deviation": values[3 * (group == "y") + k]}
        for name, values in away.items() for group, some in lots.items() for k, lot in enumerate(some)
    ])  # fmt: skip
    means["deviation_low"], means["deviation_high"] = means["deviation"] - 0.55, means["deviation"] + 0.55
    anova = pd.DataFrame([{"class": g, "descriptor": d, "source": "lot", "p_adjusted": v} for (g, d), v in p.items()])
    return SimpleNamespace(means=means, anova=anova, level=0.95)


def test_lots_stand_by_their_mean_deviation_on_what_differs_the_wanted_way():
    found = standings(comparison(), REGISTER)
    assert found["lot"].tolist() == ["c", "a", "b", "e", "f", "d"]
    # x: (brisk - harsh - thin) / 3; y: brisk alone
    wanted = {"a": (1.0 - 0.9 - 0.2) / 3, "b": (-0.4 - 0.1 + 0.1) / 3, "c": (-0.6 + 1.0 + 0.1) / 3,
              "d": -2.0, "e": 1.5, "f": 0.5}  # fmt: skip
    assert found.set_index("lot")["standing"].to_dict() == pytest.approx(wanted)


def test_a_rooms_own_weights_take_the_place_of_what_is_wanted():
    register = REGISTER.assign(weight=[2.0, 0.0, np.nan, -1.0])
    assert weights(register).to_dict() == {"brisk": 2.0, "harsh": 0.0, "colour": 0.0, "thin": -1.0}
    assert weights(REGISTER).to_dict() == {"brisk": 1.0, "harsh": -1.0, "colour": 0.0, "thin": -1.0}
    found = standings(comparison(), register).set_index("lot")["standing"]
    assert found["a"] == pytest.approx((2 * 1.0 - 0.2) / 3)
    nothing = standings(comparison(), REGISTER.assign(wanted="either"))
    assert nothing["standing"].isna().all()
    assert nothing["lot"].tolist() == list("abcdef")


def test_a_lot_is_marked_out_beyond_the_tolerance_where_zero_is_left_out():
    found = marked_out(comparison(), REGISTER)
    keys = list(zip(found["lot"], found["descriptor"], strict=True))
    # beyond 0.5, interval (plus and minus 0.55) clear of 0, on what differs in the class; largest first
    assert keys == [("d", "brisk"), ("e", "brisk"), ("a", "brisk"), ("c", "harsh"), ("a", "harsh"), ("c", "brisk")]
    assert found["worth"].tolist() == pytest.approx([-2.0, 1.5, 1.0, 1.0, -0.9, -0.6])


# ── weeks ────────────────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.fixture(scope="module")
def season():
    rng = np.random.default_rng(7)
    y = drawn(rng, sessions=9, tasters=5, pots=2, apart=0.0, pot_sd=0.2, own=True, descriptors=2)
    y[:, 1, ..., 1] -= np.linspace(0, 3, 9)[:, None, None]
    return weekly(y)


def test_a_smoothed_level_is_the_weighted_mean_of_the_weeks_so_far(season):
    """Weights .8 ** age / (se^2 + w^2); w^2 is what the first week's sd has beyond its se."""
    for _, mine in season.table.groupby("descriptor"):
        total = mine["se"].to_numpy() ** 2 + mine["sd"].iloc[0] ** 2 - mine["se"].iloc[0] ** 2
        for n in range(1, 10):
            w = 0.8 ** np.arange(n)[::-1] / total[:n]
            row = mine.iloc[n - 1]
            assert row["smoothed"] == pytest.approx(w @ mine["difference"].to_numpy()[:n] / w.sum())
            assert row["sd"] == pytest.approx(np.sqrt(w**2 @ total[:n]) / w.sum())
            assert row["z"] == pytest.approx(row["smoothed"] / row["sd"])
            assert row["alarm"] == (abs(row["z"]) > season.limit)


def test_the_summary_is_the_last_week_with_a_students_interval(season):
    for row in season.summary.to_dict("records"):
        mine = season.table[season.table["descriptor"] == row["descriptor"]]
        last = mine.iloc[-1]
        reach = student.ppf(0.975, last["df"]) * last["sd"]
        assert [row["smoothed"], row["low"], row["high"]] == pytest.approx(
            [last["smoothed"], last["smoothed"] - reach, last["smoothed"] + reach]
        )
        assert (row["weeks"], row["tolerance"]) == (9, 1.0)
        alarm, session = mine["alarm"].to_numpy(), mine["session"].astype(str).to_numpy()
        since = "" if not alarm[-1] else session[len(alarm) - alarm[::-1].argmin() if not alarm.all() else 0]
        assert row["since"] == since
        if alarm[-1]:
            outside = row["low"] > 1 or row["high"] < -1
            assert row["call"] == ("left the standard" if outside else "creeping")
    assert season.summary["since"].iloc[1] != ""
    assert season.summary["since"].iloc[0] == ""
    moved = next(v for v in season.verdicts if v.subject == season.summary["descriptor"].iloc[1])
    assert season.summary["since"].iloc[1] in moved.sentence
    assert moved.numbers["smoothed"] == pytest.approx(season.summary["smoothed"].iloc[1])


@pytest.mark.parametrize(("alarm", "since", "past"), [
    ([0, 1, 0, 1, 1], "w4", "w2"), ([1, 1, 1], "w1", ""), ([0, 1, 1, 0], "", "w2, w3"), ([0, 0], "", ""),
    ([0, 1], "w2", ""),
])  # fmt: skip
def test_an_alarm_stands_since_it_was_last_off(alarm, since, past):
    names = [f"w{n + 1}" for n in range(len(alarm))]
    assert _alarms(pd.DataFrame({"alarm": np.array(alarm, bool), "session": names})) == (since, past)


@pytest.mark.parametrize(("low", "high", "alarm", "weeks", "call"), [
    (0.6, 0.9, True, 4, "left the standard"), (-0.9, -0.6, True, 4, "left the standard"),
    (0.4, 0.9, True, 4, "creeping"), (-0.9, -0.4, True, 9, "creeping"), (0.6, 0.9, True, 3, "cannot tell"),
    (-0.4, 0.4, False, 4, "on the standard"), (-0.6, 0.4, False, 9, "cannot tell"),
    (-0.4, 0.6, False, 9, "cannot tell"), (0.6, 0.9, False, 9, "cannot tell"),
])  # fmt: skip
def test_calls_of_a_week(low, high, alarm, weeks, call):
    assert call_of(low, high, 0.5, alarm=alarm, weeks=weeks) == call
    assert call_of(low, high, 0.5, alarm=alarm, weeks=weeks, one_brew=True) == "cannot tell"


# ── pots ─────────────────────────────────────────────────────────────────────────────────────────────────────────────


def test_every_lot_of_a_pot_check_carries_its_own_difference():
    values = marks(np.random.default_rng(3), lots=10, tasters=5)
    values[4, 1, :, 2] += 2.5
    found = pst.check_pots(scores_of(values), tolerance=1.0)
    rounded = np.round(2 * values) / 2
    assert found.table["p"].is_monotonic_increasing
    assert found.table["p"].between(0, 1).all()
    assert set(found.table["lot"]) == {f"L{n:02d}" for n in range(10)}
    assert (found.table[["pots", "tasters"]] == [2, 5]).all().all()
    pot = found.table.set_index("lot")["pot"].astype(int)
    for row in found.differences.to_dict("records"):
        n, d, odd = int(row["lot"][1:]), WORDS.index(row["descriptor"]), pot[row["lot"]] - 1
        gaps = rounded[n, odd, :, d] - rounded[n, 1 - odd, :, d]
        assert row["difference"] == pytest.approx(gaps.mean())
        assert row["same_way"] == (np.sign(gaps) == np.sign(gaps.mean())).sum()
        assert int(row["pot"]) == pot[row["lot"]]
        assert found.table.set_index("lot").loc[row["lot"], "sisters"] == str(2 - odd)
    large = found.differences.groupby("lot")["difference"].apply(lambda gap: (gap.abs() >= 1.0).any())
    named = found.table[found.table["call"].str.contains("disagree")]
    assert (named["p"] < 0.05).all()
    assert large[named["lot"]].all()
    assert "L04" in set(named["lot"])


@pytest.mark.parametrize(("unlikely", "large", "steady", "pots", "reason"), [
    (False, True, True, 2, "no farther apart"), (True, False, False, 2, "within the tolerance"),
    (True, True, False, 3, "one taster"), (True, True, True, 2, "which of two"), (True, True, True, 3, "farther out"),
])  # fmt: skip
def test_a_pot_is_named_only_where_it_is_unlikely_large_and_everybodys(unlikely, large, steady, pots, reason):
    assert reason in _call(unlikely, large, steady, pots)[1]


def test_where_no_pot_stands_out_the_difference_that_would_have_been_found_is_told():
    """Two pots lie sqrt(2) apart for each of their SDs; 0.84 SDs beyond the limit are found in four of five cases."""
    values = marks(np.random.default_rng(11), lots=14, tasters=5)
    verdict = pst.check_pots(scores_of(values)).verdicts[0]
    assert verdict.call == "none shown"
    means = (np.round(2 * values) / 2).mean(axis=2)
    found = odd_replicates(means)
    least = np.sqrt(2) * np.median(found.scale) * (found.limit + norm.ppf(0.8))
    assert verdict.numbers["least"] == pytest.approx(least)
    assert f"{least:.1f}" in verdict.sentence
