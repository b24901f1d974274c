"""The weekly blend against its master: the chart, its limit, what was planted, and the honest chain of weeks.

Source of each file: tests/published/lots/README.md.
"""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.lots.track.fit import track_standard
from panelstats.lots.track.weekcalls import call_of
from panelstats.lots.track.weeklychart import RESEMBLANCE, chart_weeks, newest_inside, pooled_errors
from panelstats.models.charts import family_limit, weighted_ewma
from tests import known
from tests.lots.test_standard import drawn, panel

PUBLISHED = Path(__file__).parents[1] / "published" / "lots"


def steady_limit(weeks, descriptors):
    """The limit where the standard errors are all the variance there is."""
    se = np.full((weeks, descriptors), 0.25)
    return family_limit(se, None, alpha=0.05, baseline=0, alike=RESEMBLANCE)


def test_chart_agrees_with_explicit_weights():
    weeks = pd.read_csv(PUBLISHED / "tracking.csv")
    wanted = json.loads((PUBLISHED / "tracking.json").read_text())
    found = weighted_ewma(weeks["difference"].to_numpy(), weeks["se"].to_numpy() ** 2, baseline=0)
    np.testing.assert_allclose(found.level, [row["level"] for row in wanted["chart"]], atol=1e-9)
    np.testing.assert_allclose(found.sd, [row["se"] for row in wanted["chart"]], atol=1e-9)
    assert steady_limit(40, 1) == pytest.approx(wanted["limits_40_weeks_5_percent"]["1"], abs=0.06)


@pytest.fixture(scope="module")
def every_week():
    """The invented season, its blends and master only, four descriptors."""
    room = pst.example.season()
    scores = pst.read_scores(room.frame, room=room.registers)
    lots = scores.lots.loc[scores.lots["role"].isin(["trial", "standard"]), "lot"]
    return scores.select(lot=set(lots), descriptor={"strength", "colour", "bright", "harsh"})


@pytest.fixture(scope="module")
def season(every_week):
    """Every other week: quick to fit."""
    return every_week.select(session=set(every_week.sessions["session"].astype(str).tolist()[::2]))


@pytest.fixture(scope="module")
def found(season):
    return track_standard(season, "S")


def test_planted_creep_is_found_and_nothing_else(every_week):
    found = track_standard(every_week, "S")
    calls = found.summary.set_index("descriptor")["call"]
    assert set(calls[["strength", "colour"]]) <= {"left the standard", "creeping"}
    assert not set(calls[["bright", "harsh"]]) & {"left the standard", "creeping"}
    assert (found.summary.set_index("descriptor").loc[["strength", "colour"], "smoothed"] < -0.4).all()


def test_both_sentences_stand_side_by_side(found):
    told = next(str(verdict) for verdict in found.verdicts if verdict.subject == "strength")
    assert "a chain of matches is not a match" in told
    assert "from the master" in told
    assert "not against last week's" in told


def test_since_is_the_start_of_the_standing_alarm(found):
    mine = found.table[found.table["descriptor"] == "strength"].reset_index(drop=True)
    since = found.summary.set_index("descriptor").loc["strength", "since"]
    start = mine.index[mine["session"] == since][0]
    assert mine["alarm"][start:].all()
    assert start == 0 or not mine["alarm"][start - 1]


def test_an_alarm_is_a_level_beyond_the_limit_of_all_weeks_and_descriptors(found):
    assert (found.table["alarm"] == (found.table["z"].abs() > found.limit)).all()
    # four descriptors, 40 weeks: 3.50 where the variance is known, and more where it is estimated
    assert found.limit > 3.4
    wanted = json.loads((PUBLISHED / "tracking.json").read_text())["limits_40_weeks_5_percent"]
    for descriptors in ("4", "8"):
        assert steady_limit(40, int(descriptors)) == pytest.approx(wanted[descriptors], abs=0.06)


def test_distances_grow_with_the_creep(found):
    assert len(found.distances) == found.table["session"].nunique()
    early, late = found.distances["distance"][:5].mean(), found.distances["distance"][-5:].mean()
    assert late > early


def test_few_weeks_are_points_and_intervals_only(season):
    few = season.select(session=set(season.sessions["session"].astype(str).tolist()[:5:2]))
    found = track_standard(few, "S")
    assert set(found.summary["call"]) == {"cannot tell"}
    assert "too few to chart" in str(found)


@pytest.mark.parametrize(
    ("low", "high", "alarm", "call"),
    [
        (-0.2, 0.3, False, "on the standard"),
        (0.2, 0.4, True, "creeping"),
        (0.6, 0.9, True, "left the standard"),
        (-0.9, -0.6, True, "left the standard"),
        (0.3, 0.7, True, "creeping"),
        (-0.1, 0.7, False, "cannot tell"),
    ],
)
def test_calls(low, high, alarm, call):
    assert call_of(low, high, 0.5, alarm=alarm, weeks=12) == call
    assert call_of(low, high, 0.5, alarm=alarm, weeks=3) == "cannot tell"


def test_no_creep_rarely_alarms():
    rng, runs = np.random.default_rng(2), 200
    limit = steady_limit(40, 4)
    chart = weighted_ewma(rng.normal(0, 0.25, (40, runs, 4)), 0.25**2, baseline=0)
    alarms = np.abs(chart.z).max(axis=(0, 2)) > limit
    assert alarms.mean() <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / runs)


def test_a_missed_week_is_no_error(season):
    sessions = season.frame["session"].astype(str)
    gone = sessions.eq(sorted(set(sessions))[4]) & season.frame["lot"].astype(str).str.startswith("B")
    found = track_standard(dataclasses.replace(season, frame=season.frame[~gone], _memo={}), "S")
    assert len(found.distances) == sessions.nunique() - 1


def test_impossible_questions_are_refused_in_words(season):
    with pytest.raises(DesignError, match="no such lot"):
        track_standard(season, "Z9")
    with pytest.raises(DesignError, match="weeks is no count"):
        track_standard(season, "S", weeks=0)
    with pytest.raises(DesignError, match="no such lot"):
        track_standard(season, "S", lots=["nothing"])
    with pytest.raises(DesignError, match="not a probability"):
        track_standard(season, "S", false_alarm=0)


def test_two_blends_in_one_session_are_asked_about():
    with pytest.raises(DesignError, match="name the blend of each week"):
        track_standard(known.scores("blends"), "S")


def test_errors_are_pooled_over_the_weeks_by_their_degrees_of_freedom():
    """Textbook pooled variance; weeks of half the looks have twice the variance."""
    se, df = np.array([[0.2], [0.4], [np.nan]]), np.array([[4.0], [8.0], [np.nan]])
    found = pooled_errors(se, df, np.array([[8.0], [4.0], [8.0]]))
    one_look = (4 * 0.2**2 * 8 + 8 * 0.4**2 * 4) / 12
    np.testing.assert_allclose(found.se[:2, 0], np.sqrt(one_look / np.array([8, 4])))
    assert np.isnan(found.se[2, 0])
    assert found.df[0] == 12


def test_quiet_weeks_on_few_degrees_of_freedom_rarely_alarm():
    """Four df a week, 20 weeks, six descriptors: without pooling about half of all seasons alarmed."""
    rng, runs, alarms = np.random.default_rng(4), 25, 0
    for _ in range(runs):
        own = 0.25 * np.sqrt(rng.chisquare(4, (20, 6)) / 4)
        errors = pooled_errors(own, np.full((20, 6), 4.0), np.full((20, 6), 10.0))
        chart = chart_weeks(rng.normal(0, 0.25, (20, 6)), errors.se, df=errors.df, weeks=20)
        alarms += bool((np.abs(chart.smoothed / chart.sd) > chart.limit).any())
    assert alarms / runs <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / runs)


def test_newest_weeks_must_lie_inside_by_themselves():
    """Two one-sided tests on the mean of the last three weeks: 0.9 from the master is not inside 1 (Schuirmann)."""
    se = np.full(12, 0.2)
    jumped = np.r_[np.zeros(9), np.full(3, 0.9)]
    assert newest_inside(np.zeros(12), se, 40.0, 0.0, 1.0, 0.95)
    assert not newest_inside(jumped, se, 40.0, 0.0, 1.0, 0.95)
    edge = 1.0 - student.ppf(0.95, 40) * 0.2 / np.sqrt(3)
    for apart, inside in ((edge - 1e-6, True), (edge + 1e-6, False)):
        assert newest_inside(np.full(3, apart), se[:3], 40.0, 0.0, 1.0, 0.95) == inside
    assert call_of(-0.2, 0.2, 0.5, alarm=False, weeks=9, newest=False) == "cannot tell"


def weekly(y):
    """A master and one blend, week by week: scores from an array (session, lot, taster, pot, descriptor)."""
    return track_standard(panel(y, tolerance=1.0), "L0", lots=["L1"])


def test_a_week_s_interval_is_students_t_on_the_pooled_degrees_of_freedom():
    y = drawn(np.random.default_rng(7), sessions=5, tasters=4, pots=3, apart=0.0, pot_sd=0.2, own=False, descriptors=2)
    table = weekly(y).table
    reach = student.ppf(0.975, table["df"]) * table["se"]
    np.testing.assert_allclose(table["high"] - table["difference"], reach)
    np.testing.assert_allclose(table["difference"] - table["low"], reach)
    for _, mine in table.groupby("descriptor"):
        assert np.ptp(mine["se"]) < 1e-9  # one design every week: one pooled error
        assert mine["se_own"].min() <= mine["se"].iloc[0] <= mine["se_own"].max()


def test_one_shared_brew_a_week_says_no_more_than_one_match():
    y = drawn(np.random.default_rng(8), sessions=8, tasters=8, pots=1, apart=0.0, pot_sd=0.0, own=False)
    found = weekly(y)
    assert set(found.summary["call"]) == {"cannot tell"}
    assert "one shared brew a week says no more than one match" in str(found)


def test_an_alarm_that_came_and_went_is_told_at_the_end():
    rng = np.random.default_rng(9)
    y = drawn(rng, sessions=14, tasters=8, pots=3, apart=0.0, pot_sd=0.1, own=False)
    y[2:5, 1, :, :, 0] += 3.0
    found = weekly(y)
    ended = found.summary.set_index("descriptor").loc["d0", "past_alarms"]
    assert "w004" in ended
    alarms = found.table[found.table["alarm"] & (found.table["descriptor"] == "d0")]["session"].astype(str)
    if not found.table.loc[found.table["descriptor"] == "d0", "alarm"].iloc[-1]:
        assert ended == ", ".join(alarms)
        assert "It had alarmed before: d0" in str(found)
