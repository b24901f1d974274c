"""The weekly blend against its master: the chart, its limit, what was planted, and the honest chain of weeks.

Source of each file: tests/published/lots/README.md.
"""

import dataclasses
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.lots.track.fit import chart_weeks, track_standard
from panelstats.lots.track.weekcalls import call_of
from panelstats.models.charts import weighted_ewma

PUBLISHED = Path(__file__).parents[1] / "published" / "lots"


def test_chart_agrees_with_explicit_weights():
    weeks = pd.read_csv(PUBLISHED / "tracking.csv")
    wanted = json.loads((PUBLISHED / "tracking.json").read_text())
    found = chart_weeks(weeks[["difference"]].to_numpy(), weeks[["se"]].to_numpy(), steady=True)
    np.testing.assert_allclose(found.smoothed[:, 0], [row["level"] for row in wanted["chart"]], atol=1e-9)
    np.testing.assert_allclose(found.sd[:, 0], [row["se"] for row in wanted["chart"]], atol=1e-9)
    assert found.limit == pytest.approx(wanted["limits_40_weeks_5_percent"]["1"], abs=0.06)


@pytest.fixture(scope="module")
def season():
    """The invented season, its blends and master only, every other week and four descriptors: quick to fit."""
    room = pst.example.season()
    scores = pst.read_scores(room.frame, room=room.registers)
    lots = scores.lots.loc[scores.lots["role"].isin(["trial", "standard"]), "lot"]
    sessions = scores.sessions["session"].astype(str).tolist()[::2]
    return scores.select(lot=set(lots), session=set(sessions), descriptor={"strength", "colour", "bright", "harsh"})


@pytest.fixture(scope="module")
def found(season):
    return track_standard(season, "S")


def test_planted_creep_is_found_and_nothing_else(found):
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
        shape = (40, int(descriptors))
        limit = chart_weeks(np.zeros(shape), np.full(shape, 0.25), steady=True).limit
        assert limit == pytest.approx(wanted[descriptors], abs=0.06)


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
    limit = chart_weeks(np.zeros((40, 4)), np.full((40, 4), 0.25), steady=True).limit
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
    room = pst.example.blends()
    with pytest.raises(DesignError, match="name the blend of each week"):
        track_standard(pst.read_scores(room.frame, room=room.registers), "S")
