"""Repeats of the second half against the first: F by scipy, its size under heavy tails, and through the audit."""

import dataclasses

import numpy as np
import pytest
from scipy import stats

import panelstats as pst
from panelstats.panel.season.halves import half_by_half
from tests.calibration.rooms.months import Months
from tests.calibration.rooms.pots import Pots
from tests.panel.invented import pool

SESSIONS = np.repeat(np.arange(10), 6)
QUESTION = "Does anybody repeat otherwise in the second half than in the first?"


def flat(rng, shape):
    """Errors of lighter tails than normal ones: no degrees of freedom are taken off for them."""
    return rng.uniform(-1, 1, shape)


def test_it_is_f_of_the_pooled_mean_squares():
    rng = np.random.default_rng(1)
    y = flat(rng, (60, 2, 3, 2))
    y[7, 0, 1:], y[8, 0, 2] = np.nan, np.nan  # once served, twice served
    y[30:, 1] *= 2.0
    table = half_by_half(pool(y, shared=False, session=SESSIONS)).set_index(["taster", "descriptor"])
    for t, d in np.ndindex(2, 2):
        ss, df = np.zeros(2), np.zeros(2)
        for row in range(60):
            marks = y[row, t, :, d][np.isfinite(y[row, t, :, d])]
            ss[int(row >= 30)] += marks.var() * len(marks)
            df[int(row >= 30)] += len(marks) - 1
        f = ss[1] / df[1] / (ss[0] / df[0])
        line = table.loc[(f"T{t}", f"d{d}")]
        assert line["ratio"] == pytest.approx(np.sqrt(f))
        assert (line["first"], line["second"]) == pytest.approx(tuple(np.sqrt(ss / df)))
        assert (line["df_first"], line["df_second"]) == pytest.approx(tuple(df))
        assert line["p"] == pytest.approx(2 * min(stats.f.sf(f, df[1], df[0]), stats.f.cdf(f, df[1], df[0])))
        assert line["low"] == pytest.approx(np.sqrt(f / stats.f.ppf(0.975, df[1], df[0])))
        assert line["high"] == pytest.approx(np.sqrt(f / stats.f.ppf(0.025, df[1], df[0])))
    assert table.loc[("T1", ""), "low"] > 1.5
    assert table.loc[("T1", ""), "p_adjusted"] < 1e-6
    assert set(table["since"]) == {"S5"}


@pytest.mark.parametrize(
    ("errors", "alike"), [("normal", 0.0), ("normal", 0.6), ("heavy", 0.0)], ids=["normal", "alike words", "heavy"]
)
def test_of_quiet_tasters_one_in_twenty_is_called_whatever_the_tails_and_the_likeness_of_words(errors, alike):
    rng, runs, small, plain = np.random.default_rng(2), 120, [], []
    for _ in range(runs):
        draw = rng.standard_normal if errors == "normal" else lambda shape: rng.standard_t(5, shape)
        y = np.sqrt(alike) * draw((60, 4, 2, 1)) + np.sqrt(1 - alike) * draw((60, 4, 2, 5))
        table = half_by_half(pool(y, shared=False, session=SESSIONS))
        small.append((table.loc[table["descriptor"] == "", "p"] < 0.05).mean())
        ss = ((y[:, :, 0] - y[:, :, 1]) ** 2).sum(axis=2)
        f = ss[30:].sum(axis=0) / ss[:30].sum(axis=0)
        plain.append((2 * np.minimum(stats.f.sf(f, 150, 150), stats.f.cdf(f, 150, 150)) < 0.05).mean())
    assert abs(np.mean(small) - 0.05) < 4 * np.sqrt(0.05 * 0.95 / (4 * runs))
    if errors == "heavy" or alike:
        assert np.mean(plain) > np.mean(small) + 0.02  # what F alone would do


def test_too_few_repeats_in_a_half_and_repeats_that_never_differ_have_a_row_without_numbers():
    rng = np.random.default_rng(3)
    y = rng.normal(size=(60, 3, 2, 1))
    y[30:, 0, 1] = np.nan
    y[:30, 1, 1] = y[:30, 1, 0]
    table = half_by_half(pool(y, shared=False, session=SESSIONS)).set_index("taster")
    assert table["ratio"].isna().tolist() == [True, True, False]
    assert table.loc["T2", "p_adjusted"] == pytest.approx(table.loc["T2", "p"])
    assert half_by_half(pool(y, shared=False, session=np.repeat(np.arange(5), 12))).empty
    y[:, :, 1] = np.nan
    assert half_by_half(pool(y, shared=False, session=SESSIONS)).empty


def audited(seed, **more):
    room = Months(tasters=4, sessions=16, lots=6, descriptors=3, absent=0.0)
    return pst.audit_season(dataclasses.replace(room, **more).draw(np.random.default_rng(seed)))


def test_whose_repeats_changed_is_told_and_of_the_others_what_would_not_show():
    found = audited(4, noise=2.0, since=8)
    told = [v for v in found.verdicts if v.question == QUESTION]
    (wider,) = [v for v in told if v.call == "repeats wider"]
    assert wider.subject == "taster 01"
    assert wider.numbers["low"] < 2.0 < wider.numbers["high"]
    assert "from 2031-03-01 on" in wider.sentence
    assert "hidden pots" in wider.next_step
    (rest,) = [v for v in told if v.call == "not shown"]
    assert "taster 02, taster 03 and taster 04" in rest.sentence
    assert "Layard" in found.method
    assert len(found.halves) == 4 * 4
    closer = [v for v in audited(4, noise=2.0, since=0).verdicts if v.call == "repeats closer"]
    assert not closer  # noisy from the first session on is no change


def test_without_repeats_nothing_is_asked():
    room = Months(tasters=4, sessions=10, lots=4, descriptors=1, pots=Pots(1))
    found = pst.audit_season(room.draw(np.random.default_rng(5)))
    assert found.halves.empty
    assert not any(v.question == QUESTION for v in found.verdicts)
    assert "Layard" not in found.method
