"""Whether the tasters drift at all: their lines against statsmodels, and what is said of panels that do and do not."""

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats
from scipy.signal import lfilter

import panelstats as pst
from panelstats.panel.season.drift import by_resemblance
from panelstats.report.pages.page import page_of
from tests.calibration.rooms.months import Months

ROOM = Months(tasters=5, sessions=20, lots=6, descriptors=3, absent=0.1)
QUESTION = "Do the tasters drift at all?"


def audited(seed, **more):
    return pst.audit_season(dataclasses.replace(ROOM, **more).draw(np.random.default_rng(seed)))


@pytest.fixture(scope="module")
def drifting():
    return audited(1, trend_sd=0.05)


def test_a_tasters_trend_is_the_weighted_line_through_the_sessions_told_against_all(drifting):
    days = sorted(set(drifting.series["session"]))
    level = drifting.series[drifting.series["chart"] == "level"]
    rss, df, lines = 0.0, 0, {}
    for name, mine in level[level["descriptor"] == "word 02"].groupby("taster"):
        x = sm.add_constant(mine["session"].map(days.index).to_numpy(float))
        fit = sm.WLS(mine["value"].to_numpy(), x, weights=1 / mine["se"].to_numpy() ** 2).fit()
        rss, df = rss + fit.ssr, df + fit.df_resid
        lines[name] = fit.params[1], np.sqrt(fit.normalized_cov_params[1, 1])
    found = drifting.trends[drifting.trends["descriptor"] == "word 02"].set_index("taster")
    row = drifting.drift.set_index("descriptor").loc["word 02"]
    assert row["df_error"] == df
    for name, (slope, se) in lines.items():
        assert found.loc[name, "slope"] == pytest.approx(10 * 4 / 5 * slope)
        reach = (found.loc[name, "high"] - found.loc[name, "low"]) / 2
        own = len(level[(level["taster"] == name) & (level["descriptor"] == "word 02")]) - 2
        assert reach == pytest.approx(stats.t.ppf(0.975, own) * 10 * np.sqrt(4 / 5 * max(rss / df, 1)) * se)


def test_a_panel_that_drifts_is_told_so_and_by_how_much(drifting):
    rows = drifting.drift.set_index("descriptor")
    words = [name for name in rows.index if name]
    assert (rows.loc[words, "p_adjusted"] < 0.05).all()
    assert (rows.loc[words, "low"] < 0.5).all()
    assert (rows.loc[words, "high"] > 0.5).all()
    (told,) = [v for v in drifting.verdicts if v.question == QUESTION]
    assert told.call == "they drift"
    assert "word 03" in told.sentence
    assert "Viechtbauer" in drifting.method
    trends = drifting.trends
    assert (trends["shrunken"].abs() <= trends["slope"].abs() + 0.2).all()
    assert 'id="drift"' in page_of(pst.review_season(ROOM.draw(np.random.default_rng(1)))).decode()


def test_of_a_quiet_panel_the_most_it_may_drift_is_told():
    found = audited(2)
    (told,) = [v for v in found.verdicts if v.question == QUESTION]
    assert told.call == "not shown"
    assert told.numbers["high"] == found.drift["high"].max()
    assert "at most" in told.sentence


def test_moves_of_single_tasters_are_no_drift_of_the_panel():
    found = audited(5, tasters=7, jump=2.0, since=10)
    row = found.drift.set_index("descriptor").loc["word 01"]
    assert row["p_adjusted"] < 0.05
    assert row["p_rest"] > 0.05
    (told,) = [v for v in found.verdicts if v.question == QUESTION]
    assert told.call == "not shown"
    assert "those are the moves told above" in told.sentence
    assert found.table.query("taster == 'taster 01' and descriptor == 'word 01'")["call"].eq("jumped").all()


def test_two_tasters_and_few_sessions_have_no_trends():
    assert audited(3, tasters=2).drift.empty
    few = audited(4, sessions=4)
    assert few.drift.empty
    assert few.trends.empty
    assert not any(v.question == QUESTION for v in few.verdicts)


def test_trends_of_sessions_that_resemble_each_other_vary_as_those_of_a_drawn_autoregression():
    rng, alike, sessions = np.random.default_rng(3), 0.3, 200
    start = rng.normal(size=(1, 4000))
    new = np.sqrt(1 - alike**2) * rng.normal(size=(sessions - 1, 4000))
    rest = lfilter([1.0], [1.0, -alike], new, axis=0, zi=alike * start)[0]
    wander, error = 0.4, 0.3
    level = wander * np.concatenate([start, rest]) + error * rng.normal(size=(sessions, 4000))
    time = np.arange(sessions) - (sessions - 1) / 2
    drawn = np.var(time @ level / (time @ time))
    plain = (wander**2 + error**2) / (time @ time)  # least squares, were the sessions independent
    charts = SimpleNamespace(
        series=SimpleNamespace(se=np.full((sessions, 5, 1), error)),
        between=np.array([[wander**2 * (1 - alike)]]),  # what differences of neighbours show
        alike=alike,
    )
    assert by_resemblance(charts) == pytest.approx(drawn / plain, rel=0.06)
    charts.alike, charts.between = 0.0, np.array([[wander**2]])
    assert by_resemblance(charts) == pytest.approx(1.0)
