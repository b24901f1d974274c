"""Each taster's wander from session to session: against its closed form, in quiet panels, told where it is far."""

import dataclasses
from types import SimpleNamespace

import numpy as np
import pytest
from scipy import stats

import panelstats as pst
from panelstats.models.charts import between_sessions
from panelstats.panel.season.wander import wander
from tests.calibration.rooms.months import Months


def charts(value, se, alarmed=False):
    return SimpleNamespace(
        series=SimpleNamespace(value=value, se=np.broadcast_to(se, value.shape)),
        alarmed=np.broadcast_to(alarmed, value.shape[1:]),
        between=between_sessions(value, np.broadcast_to(se, value.shape), pooled=(1,)),
    )


def test_one_descriptor_is_half_the_mean_squared_difference_less_the_errors():
    rng = np.random.default_rng(1)
    value, se = rng.normal(0, 0.4, (20, 3, 1)), 0.2
    value[4, 0] = np.nan  # the session before and after make a pair
    found = wander(charts(value, se))
    for i in range(3):
        seen = value[:, i, 0][np.isfinite(value[:, i, 0])]
        pairs = len(seen) - 1
        square = (np.diff(seen) ** 2).mean() / 2
        df = 2 * pairs**2 / (3 * pairs - 1)  # var of the mean squared difference: von Neumann 1941
        assert found.sd[i] == pytest.approx(np.sqrt(square - se**2))
        low, high = (np.sqrt(max(square * df / stats.chi2.ppf(q, df) - se**2, 0)) for q in (0.975, 0.025))
        assert (found.low[i], found.high[i]) == pytest.approx((low, high))


def test_the_test_is_f_on_the_others_and_holm_over_tasters():
    value = np.random.default_rng(2).normal(0, [[[1.0], [1.0], [3.0]]], (15, 3, 1))
    found = wander(charts(value, 0.0))
    squares, df = (np.diff(value[..., 0], axis=0) ** 2).mean(axis=0), 2 * 14**2 / (3 * 14 - 1)
    p = stats.f.sf(squares[2] / squares[:2].mean(), df, 2 * df)
    assert found.p[2] == pytest.approx(3 * p)
    assert found.far.tolist() == [False, False, True]


@pytest.mark.parametrize("correlation", [0.0, 0.6])
def test_in_quiet_panels_few_are_told_and_intervals_hold(correlation):
    rng, runs, se, sd = np.random.default_rng(3), 400, 0.25, 0.3
    told, held = 0, []
    for _ in range(runs):
        common, own = rng.normal(size=(25, 6, 1)), rng.normal(size=(25, 6, 5))
        z = np.sqrt(correlation) * common + np.sqrt(1 - correlation) * own
        found = wander(charts(np.hypot(se, sd) * z, se))
        told += bool((found.p < 0.05).any())
        held.append((found.low <= sd) & (sd <= found.high))
    assert told / runs <= 0.05 + 4 * np.sqrt(0.05 * 0.95 / runs)
    assert np.mean(held) == pytest.approx(0.95, abs=0.02)


def test_what_alarmed_is_left_out_and_too_few_sessions_tell_nothing():
    value = np.random.default_rng(4).normal(0, 0.3, (12, 3, 2))
    moved = value.copy()
    moved[6:, 0, 0] += 5
    alarmed = np.zeros((3, 2), bool)
    alarmed[0, 0] = True
    assert wander(charts(moved, 0.1, alarmed)).sd[0] == pytest.approx(wander(charts(value, 0.1, alarmed)).sd[0])
    assert np.isnan(wander(charts(value[:4], 0.1)).sd).all()
    alone = wander(charts(value[:, :1], 0.1))
    assert np.isfinite(alone.sd).all()
    assert np.isnan(alone.p).all()
    assert not alone.far.any()


def wild(rng, *, sd):
    """The audit of a season in which the first taster's levels of the day have this standard deviation besides."""
    room = Months(tasters=6, sessions=24, absent=0.0)
    cells = room.draw(rng)
    day, word = (cells.frame[key].cat.codes.to_numpy() for key in ("session", "descriptor"))
    mine = (cells.frame["taster"].astype(str) == "taster 01").to_numpy()
    moved = np.where(mine, sd * rng.normal(size=(room.sessions, room.descriptors))[day, word], 0.0)
    return pst.audit_season(
        dataclasses.replace(cells, frame=cells.frame.assign(mean=cells.frame["mean"] + moved), _memo={})
    )


def test_who_wanders_far_more_than_the_others_is_told_beside_the_charts():
    found = wild(np.random.default_rng(5), sd=0.6)
    (told,) = [v for v in found.verdicts if v.call == "wanders"]
    assert told.subject == "taster 01"
    row = found.summary.set_index("taster").loc["taster 01"]
    assert row["wander_low"] < np.hypot(0.6, 0.15) < row["wander_high"]
    assert row["p_wander"] < 0.001
    assert row["wander_others"] == pytest.approx(0.2, abs=0.1)
    assert "less sure than promised" in told.sentence


def test_in_quiet_seasons_nobody_is_told_to_wander():
    found = wild(np.random.default_rng(6), sd=0.0)
    assert not any(v.call == "wanders" for v in found.verdicts)
    assert found.summary["wander"].between(0.0, 0.4).all()
