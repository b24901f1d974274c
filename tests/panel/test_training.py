"""Licences: given where shown, refused where shown otherwise, and never because nothing was found."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.panel.tasters.level import level
from panelstats.panel.training.learning import learning_curve
from panelstats.panel.training.licence import licence
from panelstats.panel.training.trial import MINE, TRAINEE, trial
from tests.panel.invented_trainees import Trainee, invent_trainee
from tests.panel.sheets import NAMES, PUBLISHED, cells_of, published, scores_of


def room(off=0.0, lots=48, seniors=3, pots=2, words=6, *, seed=1, noise=0.4):
    """The trainee is the first taster."""
    rng = np.random.default_rng(seed)
    y = 5 + rng.normal(size=(lots, 1, 1, words)) + noise * rng.normal(size=(lots, seniors + 1, pots, words))
    y[:, 0] += off
    return y


def assess(y, sessions=4, **options):
    cells = scores_of(y, sessions=sessions)
    return pst.assess_trainees(cells, trainees=NAMES[0], tolerance=0.5, **options)


def test_a_trainee_like_the_seniors_is_licensed_and_ready():
    result = assess(room())
    assert set(result.table["call"]) == {"ready"}
    assert set(result.table["licence"]) == {"full"}
    assert list(result.summary["call"]) == ["ready"]
    assert "Count all 6 descriptors from today." in result.verdicts[0].sentence


def test_a_trainee_a_point_off_on_one_word_is_refused_there_and_licensed_elsewhere():
    result = assess(room(off=np.array([1.0, 0, 0, 0, 0, 0])))
    assert list(result.table["call"]) == ["not yet"] + ["ready"] * 5
    (verdict,) = result.verdicts
    assert verdict.call == "not yet"
    assert "above the seniors' on word 1" in verdict.sentence
    assert "reference bowls" in verdict.next_step
    assert set(result.taste_again["descriptor"]) == {"word 1"}


def test_one_good_day_is_no_licence():
    result = assess(room(), sessions=1)
    assert set(result.table["call"]) == {"cannot tell"}
    assert result.table["reason"].str.contains("one session only").all()
    assert list(result.summary["call"]) == ["cannot tell"]


def test_few_lots_cannot_tell_and_say_how_many_more():
    y = room(lots=16, noise=1.6)
    result = assess(y, sessions=2)
    assert "ready" not in set(result.table["call"])
    needed = result.table["lots_in_all"]
    assert (needed.dropna() > 16).all()
    assert "more lots" in result.verdicts[0].sentence


def test_alike_lots_give_a_licence_on_level_only():
    rng = np.random.default_rng(4)
    y = room(noise=0.3)
    y[..., 0] = 5 + 0.3 * rng.normal(size=y.shape[:3])
    first = assess(y).table.iloc[0]
    assert (first["call"], first["licence"]) == ("ready", "level only")
    assert "order not tested" in first["reason"]


def test_constant_scores_are_no_licence():
    y = room()
    y[:, 0, :, 0] = 5.0
    assert assess(y).table.iloc[0]["call"] != "ready"


def test_a_blind_trainee_is_refused_though_the_level_is_right():
    y = room(lots=60)
    y[:, 0, :, 2] = 5 + 0.4 * np.random.default_rng(3).normal(size=(60, 2))
    result = assess(y)
    assert result.table.iloc[2]["call"] == "not yet"
    assert "scale use" in result.table.iloc[2]["reason"]


def test_a_noisy_trainee_is_refused_over_all():
    y = room()
    y[:, 0] += 1.2 * np.random.default_rng(3).normal(size=y[:, 0].shape)
    result = assess(y)
    assert list(result.summary["call"]) == ["not yet"]
    assert "ready" not in set(result.table["call"])
    assert "hidden repeats" in result.summary["lesson"].iloc[0]


def test_one_pot_measures_steadiness_by_scatter():
    assert set(assess(room(pots=1, lots=60)).table["spread_from"]) == {"scatter"}


def test_a_master_without_repeats_licenses_level_only():
    result = assess(room(pots=1), reference=NAMES[1])
    assert set(result.table["licence"]) <= {"level only", ""}
    assert (result.table["call"] == "ready").any()
    assert "Agrees with beech on" in result.verdicts[0].sentence
    for word in ("right", "correct", "the panel"):
        assert word not in result.verdicts[0].sentence
    assert result.table["reason"].str.contains("no hidden repeats").any()


def test_a_master_is_measured_by_his_own_repeats():
    data, values = published("small_panels", "master")
    long = data.melt("lot", var_name="who", value_name="score")
    long = long.assign(
        taster=np.where(long["who"] == "trainee", "spindle", "beech"),
        pot=np.where(long["who"] == "master_cup2", 2, 1),
        session=np.where(long["lot"] <= "L10", "2031-01-01", "2031-01-02"),
    )
    del long["who"]
    one = long.assign(session="2031-01-01")
    result = pst.assess_trainees(cells_of(one), trainees="spindle", reference="beech", tolerance=1.0)
    found, limits = result.table.iloc[0], result.limits.iloc[0]
    assert found["difference"] == pytest.approx(values["bias"])
    assert found["slope"] == pytest.approx(values["slope"], rel=1e-8)
    assert limits["wavering"] == pytest.approx(values["kappa"], rel=1e-8)
    assert [limits["wavering_low"], limits["wavering_high"]] == pytest.approx(values["kappa_interval"], rel=1e-8)
    assert [limits["freed_limit_low"], limits["freed_limit_high"]] == pytest.approx(
        values["limits_corrected"], abs=5e-5
    )
    assert len(pst.assess_trainees(cells_of(long), trainees="spindle", reference="beech", tolerance=1.0).table) == 1


def test_a_senior_apart_from_the_others_leaves_the_reference():
    y = room(seniors=5)
    y[:, 1] += 2
    result = assess(y)
    assert list(result.summary["call"]) == ["ready"]
    assert "beech left the reference" in result.verdicts[0].sentence


def test_two_trainees_never_stand_in_each_others_reference():
    y = room(seniors=4)
    y[:, 1] += 3  # beech, a trainee too
    both = pst.assess_trainees(scores_of(y, sessions=4), trainees=list(NAMES[:2]), tolerance=0.5)
    alone = pst.assess_trainees(scores_of(np.delete(y, 1, axis=1), sessions=4), trainees=NAMES[0], tolerance=0.5)
    mine = both.table[both.table["trainee"] == NAMES[0]]
    assert mine["difference"].to_numpy() == pytest.approx(alone.table["difference"].to_numpy())


@pytest.mark.parametrize(
    ("options", "what"),
    [
        ({"trainees": "nobody"}, "no such taster"),
        ({"trainees": NAMES[0], "reference": NAMES[0]}, "measured against himself"),
        ({}, "nobody is a trainee"),
        ({"trainees": list(NAMES[:4])}, "nobody to be measured against"),
    ],
)
def test_impossible_people_are_refused(options, what):
    with pytest.raises(pst.DesignError, match=what):
        pst.assess_trainees(scores_of(room(lots=8), sessions=2), tolerance=0.5, **options)


def test_half_the_scale_on_one_word_is_no_full_licence_there():
    """Slope 1/2 on one word of six: not shown inside 2/3 to 3/2 (Schuirmann 1987), whatever the others show."""
    y = room(lots=60)
    lot = y[:, 1:, :, 2].mean(axis=(1, 2))
    y[:, 0, :, 2] -= 0.5 * (lot - lot.mean())[:, None]
    found = assess(y).table
    assert found["licence"].iloc[2] != "full"
    assert (found["licence"].drop(2) == "full").all()


def test_a_spread_not_shown_inside_on_a_word_leaves_its_licence_at_level():
    y = room(lots=48, seed=2)
    y[:, 0, :, 1] += 0.45 * np.random.default_rng(1).normal(size=(48, 2))
    row = assess(y).table.iloc[1]
    assert row["spread_high"] > 1.5
    assert (row["call"], row["licence"]) == ("ready", "level only")
    assert "steadiness not yet shown" in row["reason"]


def test_where_most_marks_are_0_a_licence_is_for_what_is_noticed_alone():
    rng = np.random.default_rng(2)
    y = room(lots=80)
    there = rng.random((80, 1, 1)) < 0.3
    y[..., 0] = np.where(there & (rng.random((80, 4, 2)) < 0.95), 2.0, 0.0)
    found = assess(y)
    assert tuple(found.table.iloc[0][["call", "licence"]]) == ("ready", "noticed")
    assert "whether something is noticed, not how much" in found.verdicts[0].sentence
    y[:, 0, :, 0] = 2.0  # always
    assert assess(y).table.iloc[0]["call"] == "not yet"


def test_first_weeks_are_not_paid_for_later():
    rng = np.random.default_rng(5)
    y = room(lots=120, words=6, seniors=5)
    week = np.arange(120) // 10
    y[:, 0] += (2.5 * rng.normal(size=6) * np.exp(-1.2 * week)[:, None])[:, None]
    found = assess(y, sessions=12)
    row = found.summary.iloc[0]
    assert (row["sessions_seen"], row["licensed"]) == (12, 6)
    assert 3 <= row["sessions"] < 12
    assert row["counted_from"] == f"2031-01-{13 - row['sessions']:02d}"
    assert "since" in found.verdicts[0].sentence
    assert set(found.taste_again["session"]) <= {f"2031-01-{k:02d}" for k in range(13 - row["sessions"], 13)}
    assert len(found.curve) == 12


def test_a_trainee_at_random_beside_seniors_at_random_is_not_ready():
    y = 5 + 0.3 * np.random.default_rng(3).normal(size=(60, 5, 2, 6))
    found = assess(y)
    assert list(found.summary["call"]) == ["cannot tell"]
    assert "full" not in set(found.table["licence"])
    assert "known to differ" in found.verdicts[0].next_step


def test_without_learning_every_session_counts():
    found = assess(room(lots=80), sessions=8).summary.iloc[0]
    assert (found["sessions"], found["sessions_seen"]) == (8, 8)


# ── the learning curve ───────────────────────────────────────────────────────────────────────────────────────────────


def learner(sessions, start, seed=0, lots=8):
    """A trainee whose distance to the seniors falls by the power law of practice."""
    rng = np.random.default_rng(seed)
    n = sessions * lots
    session = np.arange(n) // lots
    y = 5 + rng.normal(size=(n, 1, 2, 6)) + 0.8 * rng.normal(size=(n, 4, 2, 6))
    y[:, 0] += (start / (session + 1))[:, None, None] * rng.normal(size=(n, 1, 6))
    return y


def curve_of(y, sessions):
    from tests.panel.invented import pool

    session = np.arange(len(y)) * sessions // len(y)
    active = np.ones((y.shape[1], y.shape[3]), bool)
    active[TRAINEE] = False
    return learning_curve(trial(pool(y, shared=False, session=session), active, np.full(y.shape[3], 0.5)))


def test_a_curve_that_falls_foretells_no_further_than_its_horizon():
    found = curve_of(learner(12, 4.0), 12)
    assert found.table["ratio"].iloc[0] > 2 > found.table["ratio"].iloc[-1]
    assert found.forecast.startswith("between session")
    numbers = [int(word) for word in found.forecast.replace("(", " ").split() if word.isdigit()]
    assert max(numbers) <= 18


def test_nothing_is_foretold_beyond_half_as_many_sessions_again():
    found = curve_of(learner(8, 12.0, seed=1), 8)
    assert found.table["ratio"].iloc[-1] > 1.5
    numbers = [int(word) for word in found.forecast.replace("(", " ").split() if word.isdigit()]
    assert numbers
    assert max(numbers) <= 12


def test_a_trainee_who_does_not_learn_gets_no_forecast():
    y = room(lots=64)
    y[:, 0] += 1.5 * np.random.default_rng(2).normal(size=(64, 1, 6))
    assert curve_of(y, 8).forecast == "no learning shown yet"


def test_few_sessions_give_no_curve():
    assert "needs 3 sessions" in curve_of(room(lots=16), 2).forecast


# ── rates: a small run of published settings ──────────────────────────────────────────────────────────────────────────


def licence_rates(case, trainees=25, seed=3):
    """Share licensed, licence on the descriptor in question, not yet on it; one planned look, 90 % interval."""
    rng, d = np.random.default_rng(seed), case.descriptors
    out = np.zeros(3)
    for _ in range(trainees):
        active = np.ones((case.seniors + 1, d), bool)
        active[TRAINEE] = False
        found = trial(invent_trainee(case, rng), active, np.full(d, 0.5))
        wide = np.full(found.levels.bias.shape, 0.5)
        why = np.repeat(found.level.why, len(wide), axis=0)
        planned = replace(found, level=level(found.levels, wide, why, tail=0.05)[MINE])
        call = licence(planned).call
        out += (call == "ready").mean(), call[d // 2] == "ready", call[d // 2] == "not yet"
    return out / trainees


@pytest.mark.parametrize(
    ("case", "name"),
    [
        (Trainee(lots=40, sessions=4), "perfect"),
        (Trainee(lots=40, sessions=4, off=1.0), "off by 1 on one"),
        (Trainee(lots=40, sessions=4, blind=True), "blind on one"),
    ],
)
def test_licences_come_at_their_published_rates(case, name):
    rates = pd.read_csv(PUBLISHED / "small_panels" / "rates_trainee_fixed.csv")
    (theirs,) = rates.query(
        "seniors == 3 and descriptors == 16 and pots == 2 and lots == 40 and trainee == @name"
    ).to_dict("records")
    ours = licence_rates(case)
    names = ("licensed_share", "licensed_this_descriptor", "not_yet_this_descriptor")
    for value, column in zip(ours, names, strict=True):
        p = theirs[column]
        assert value == pytest.approx(p, abs=4 * np.sqrt(max(p * (1 - p), 0.01) / 25)), column
