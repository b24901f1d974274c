"""First sessions that were moving, and tasters who no longer come: against statsmodels, and through the audit."""

import dataclasses
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats

import panelstats as pst
from panelstats.panel.season.firstsessions import moving_baselines
from panelstats.panel.season.tables import orders
from tests.calibration.rooms.months import Months

ROOM = Months(tasters=4, sessions=14, lots=6, descriptors=2, absent=0.0)
QUESTION = "Were the first sessions quiet, which say what is usual?"


def charts(value, variance, baseline=8):
    counted = np.broadcast_to(variance, value.shape)
    per_taster = np.full((value.shape[1], 1), baseline)
    return SimpleNamespace(series=SimpleNamespace(value=value), variance=counted, baseline=per_taster)


def test_a_baseline_s_line_is_that_of_weighted_least_squares_with_known_errors():
    rng = np.random.default_rng(2)
    value = 0.2 * rng.normal(size=(14, 1, 1)) + 0.3 * np.arange(14)[:, None, None]
    variance = 0.04 * rng.uniform(0.5, 2, size=value.shape)
    value[3] = np.nan  # absent: the baseline reaches a session further
    (found,) = moving_baselines(charts(value, variance))
    at = np.array([0, 1, 2, 4, 5, 6, 7, 8])
    fit = sm.WLS(value[at, 0, 0], sm.add_constant(at), weights=1 / variance[at, 0, 0]).fit()
    assert found.change == pytest.approx(8 * fit.params[1])
    assert found.se == pytest.approx(8 * fit.bse[1] / np.sqrt(fit.scale))
    assert found.sessions == 8


def test_the_bound_is_three_standard_errors_or_that_of_so_many_looks():
    x = np.arange(8) - 3.5
    slope = x / (x**2).sum()  # of one standard error with unit variance: 1 / root of the sum of squares
    for cells in (1, 60):
        z = max(3.0, stats.norm.isf((1 - 0.95 ** (1 / cells)) / 2))
        for size, told in ((z - 0.01, 0), (z + 0.01, 1)):
            value = np.zeros((12, cells, 1))
            value[:8, 0, 0] = size * slope * np.sqrt((x**2).sum())
            assert len(moving_baselines(charts(value, np.ones(value.shape)))) == told
    short = np.zeros((10, 1, 1))  # eight sessions and two more: no chart, so nothing rests on them
    short[:8, 0, 0] = 9 * x
    assert moving_baselines(charts(short, np.ones(short.shape))) == []


def test_first_sessions_that_move_are_told_and_quiet_ones_are_not():
    moving = pst.audit_season(dataclasses.replace(ROOM, since=0, drift=0.25).draw(np.random.default_rng(3)))
    (told,) = [v for v in moving.verdicts if v.question == QUESTION]
    assert told.subject == "taster 01"
    assert told.sentence.startswith("The first 8 sessions of taster 01 were themselves moving on word 01 (+")
    assert told.call == "cannot tell"
    assert "longer baseline" in told.next_step
    quiet = pst.audit_season(ROOM.draw(np.random.default_rng(4)))
    assert not any(v.question == QUESTION for v in quiet.verdicts)


def test_who_missed_four_sessions_is_said_not_to_have_been_seen_since():
    cells = ROOM.draw(np.random.default_rng(5))
    days = sorted(set(cells.frame["session"].astype(str)))
    day, who = cells.frame["session"].astype(str), cells.frame["taster"].astype(str)
    for missed, told in ((4, True), (3, False)):
        gone = (who == "taster 02") & day.isin(days[-missed:])
        found = pst.audit_season(cells.where(~gone.to_numpy()))
        (own,) = [v for v in found.verdicts if v.subject == "taster 02"]
        assert (f"Not seen since {days[-missed - 1]}." in own.sentence) == told
        mine = found.summary.set_index("taster").loc["taster 02"]
        assert mine["last"] == days[-missed - 1]
        assert mine["away"] == (days[-missed - 1] if told else "")
        (row,) = [row for row in found.chart("word 01").rows if row.label == "taster 02"]
        assert (row.mark is None) == told  # grey: of long ago
        assert (f"not seen since {days[-missed - 1]}" in row.note) == told
        level = [row.level for row in found.chart("word 01", taster="taster 02").rows]
        assert level[-missed - 1 :] == [level[-missed - 1]] * (missed + 1)  # what was last told stands
    assert not any("Not seen since" in v.sentence for v in found.verdicts if v.subject != "taster 02")


def test_an_order_lost_from_the_first_session_on_is_held_against_the_baseline():
    z = np.r_[np.full(8, 1.2), np.full(6, 0.4)][:, None, None]
    series = SimpleNamespace(plain=z)
    table = pd.DataFrame({"chart": "agreement", "call": "drifting", "taster": "elm", "since": ["s00"]})
    judged = {"agreement": SimpleNamespace(charts=charts(z, np.ones(z.shape)), tasters=["elm"])}
    judged["agreement"].charts.series = series
    sessions = np.array([f"s{k:02d}" for k in range(14)])
    assert orders(judged, table, sessions)["elm"] == pytest.approx((np.tanh(1.2), np.tanh(0.4)))
    assert orders(judged, table.assign(since="s10"), sessions)["elm"][1] == pytest.approx(np.tanh(0.4))
