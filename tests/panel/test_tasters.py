"""Who is named, who is not, and what is said where nothing can be said."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import panelstats as pst
from panelstats.panel.tasters.crossedwords import williams_t
from panelstats.panel.tasters.judgement import Bench
from panelstats.panel.tasters.naming import name_tasters
from panelstats.panel.tasters.repeats import repeats
from tests.panel.invented import BLIND, DESCRIPTORS, LEVEL, NOISY, REVERSED, Setting, invent, pool
from tests.panel.sheets import NAMES, scores_of

EVERYONE = 15


def room(lots=24, tasters=5, pots=2, words=4, *, seed=0, spread=1.2, noise=0.6):
    """Scores of tasters who are alike but for noise: (lot, taster, pot, descriptor)."""
    rng = np.random.default_rng(seed)
    lot = spread * rng.normal(size=(lots, 1, 1, words))
    return 5 + lot + noise * rng.normal(size=(lots, tasters, pots, words))


def assess(y, **options):
    shared = options.pop("shared", False)
    sessions = options.pop("sessions", 1)
    return pst.assess_tasters(scores_of(y, sessions=sessions, shared=shared), tolerance=0.5, **options)


def called(result):
    return dict(zip(result.summary["taster"], result.summary["call"], strict=True))


def row(result, taster, aspect, descriptor=""):
    t = result.table
    (found,) = t[(t["taster"] == taster) & (t["aspect"] == aspect) & (t["descriptor"] == descriptor)].to_dict("records")
    return found


def test_a_taster_a_point_above_is_named_by_how_much_and_where():
    y = room()
    y[:, 1] += 1.2
    result = assess(y)
    assert called(result) == dict.fromkeys(NAMES[:5], "with the panel") | {"beech": "apart"}
    verdict = result.verdicts[0]
    assert verdict.subject == "beech"
    assert verdict.act is pst.Act.DECIDE
    assert verdict.numbers["low"] > 0.5
    assert row(result, "beech", "level", "word 1")["call"] == "apart"
    assert row(result, "beech", "level", "word 1")["estimate"] == pytest.approx(1.2, abs=0.4)


@pytest.mark.parametrize("fault", ["reversed", "blind", "noisy"])
def test_each_general_fault_is_named_for_what_it_is(fault):
    y = room(lots=30, seed=2)
    rng = np.random.default_rng(7)
    if fault == "reversed":
        y[:, 2] = 10 - y[:, 2]
    elif fault == "blind":
        y[:, 2] = 5 + 0.6 * rng.normal(size=y[:, 2].shape)
    else:
        y[:, 2] += 1.8 * rng.normal(size=y[:, 2].shape)
    result = assess(y)
    assert called(result)["elm"] == "apart"
    aspect = {"reversed": "scale_use", "blind": "scale_use", "noisy": "repeatability"}[fault]
    assert row(result, "elm", aspect)["call"] == "apart"
    assert [name for name, call in called(result).items() if call == "apart"] == ["elm"]
    if fault == "reversed":
        assert "wrong way round" in row(result, "elm", "scale_use", "word 2")["reason"]


def test_two_against_two_is_a_split_and_nobody_is_named():
    y = room(tasters=4, lots=40)
    y[:, :2] += 1.5
    result = assess(y)
    assert "apart" not in called(result).values()
    (split,) = [v for v in result.verdicts if v.subject == "" and "over all descriptors" in v.sentence]
    assert "alder and beech against elm and hornbeam" in split.sentence
    assert split.call == "cannot tell"


def test_of_three_the_one_apart_is_named_only_because_the_others_agree():
    y = room(tasters=3, lots=40)
    y[:, 0] += 1.5
    result = assess(y)
    assert called(result) == {"alder": "apart", "beech": "with each other", "elm": "with each other"}
    assert "beech and elm, who agree" in result.verdicts[0].sentence
    assert "hidden control" in result.verdicts[0].next_step
    y[:, 1] -= 1.5
    assert "apart" not in called(assess(y)).values()


def test_two_tasters_are_with_each_other_or_cannot_tell_and_never_apart():
    y = room(tasters=2, lots=60)
    assert set(called(assess(y)).values()) == {"with each other"}
    y[:, 0] += 2
    result = assess(y)
    assert set(called(result).values()) == {"cannot tell"}
    assert any("cannot tell which is off" in v.sentence for v in result.verdicts)


def test_one_taster_alone_is_told_only_of_the_own_repeats():
    result = assess(room(tasters=1))
    (verdict,) = result.verdicts
    assert "alone" in verdict.sentence
    assert verdict.numbers["low"] < 1.96 * np.sqrt(2) * 0.6 < verdict.numbers["high"]
    (once,) = assess(room(tasters=1, pots=1)).verdicts
    assert once.call == "cannot tell"


def test_one_pot_says_that_repeatability_was_not_tested():
    result = assess(room(pots=1, lots=40))
    assert set(result.summary["not_tested"]) == {"repeatability, telling lots apart"}
    assert all("repeatability, telling lots apart not tested" in v.sentence for v in result.verdicts)
    assert row(result, "alder", "repeatability", "word 1")["reason"] == "not tested: each lot was served once"
    assert row(result, "alder", "scatter")["call"] == "with the panel"


def test_one_lot_cannot_tell():
    result = assess(room(lots=1))
    assert set(called(result).values()) == {"cannot tell"}
    assert all("fewer than 4 lots" in v.next_step.lower() or "4 lots" in v.next_step for v in result.verdicts)


def test_constant_scores_leave_level_standing_and_say_why_the_rest_does_not():
    y = room(lots=40)
    y[:, 0] = 5.0
    result = assess(y)
    assert np.isfinite(row(result, "alder", "level", "word 1")["estimate"])
    for aspect in ("agreement", "scale_use"):
        found = row(result, "alder", aspect, "word 1")
        assert np.isnan(found["estimate"])
        assert found["reason"] == "gave every lot the same mark"


def test_identical_tasters_give_defined_answers():
    y = np.repeat(room(tasters=1), 4, axis=1)
    result = assess(y)
    assert "apart" not in called(result).values()
    assert row(result, "alder", "level")["estimate"] == pytest.approx(0, abs=1e-12)
    assert "identical" in row(result, "alder", "scatter", "word 1")["reason"]


def test_alike_lots_are_no_fault_of_the_tasters():
    result = assess(room(spread=0.0, lots=12, seed=4))
    found = row(result, "alder", "scale_use", "word 1")
    assert found["call"] == "cannot tell"
    assert "too alike" in found["reason"]
    assert "apart" not in called(result).values()


def test_missing_cells_do_not_move_the_reference():
    y = room(lots=40, noise=0.05)
    y[:, 1] += 3  # a severe taster
    y[::2, 1] = np.nan  # away from every second lot
    result = assess(y)
    assert called(result)["beech"] == "apart"
    level = [row(result, name, "level", "word 1")["estimate"] for name in ("alder", "elm")]
    assert level[0] == pytest.approx(level[1], abs=0.1)  # equal, though the lots beech missed look lower to a mean


def test_unlinked_groups_are_compared_inside_their_group_only():
    y = room(lots=24, tasters=6, words=1, noise=0.3)
    y[:12, 3:] = np.nan
    y[12:, :3] = np.nan
    y[12:, 3:] += 4
    result = assess(y)
    found = row(result, "alder", "level", "word 1")
    assert abs(found["estimate"]) < 0.6
    assert "share no lot" in found["reason"]


def test_classes_far_apart_are_not_taken_for_telling_lots_apart():
    rng = np.random.default_rng(3)
    y = 3 + 0.6 * rng.normal(size=(40, 4, 2, 4))  # blind within class
    y[20:] += 5
    frame = scores_of(y).frame
    lots = pd.DataFrame({"lot": [str(100 + j) for j in range(40)], "class": ["low"] * 20 + ["high"] * 20})
    wide = frame.assign(lot=frame["lot"].astype(str), taster=frame["taster"].astype(str))
    sheet = wide.pivot_table(index=["lot", "taster"], columns="descriptor", values="mean", observed=True).reset_index()
    result = pst.assess_tasters(pst.read_scores(sheet, room={"lots": lots}), tolerance=0.5)
    reason = result.table.query("aspect == 'agreement' and descriptor != ''")["reason"]
    assert reason.str.contains("too alike").mean() > 0.8


def test_shared_pots_are_taken_out_of_repeatability():
    rng = np.random.default_rng(5)
    y = room(lots=60, words=1, noise=0.4)
    y += 1.5 * rng.normal(size=(60, 1, 2, 1))  # the pot's own swing, met by all
    shared, own = (assess(y, shared=word) for word in (True, False))
    y[:, 0] += 0.8 * rng.normal(size=(60, 2, 1))
    found = [row(assess(y, shared=word), "alder", "repeatability", "word 1") for word in (True, False)]
    assert found[0]["low"] < np.hypot(0.4, 0.8) / 0.4 < found[0]["high"]
    assert found[1]["high"] < np.hypot(0.4, 0.8) / 0.4  # the swing hides him
    assert row(shared, "alder", "repeatability", "word 1")["call"] == "with the panel"
    assert "shared" in shared.method
    assert "shared" not in own.method


def test_a_missing_serving_is_fitted_and_complete_lots_agree_with_the_fit():
    rng = np.random.default_rng(6)
    y = rng.normal(size=(12, 4, 3, 2)) + rng.normal(size=(12, 1, 3, 2))
    everyone = np.ones((4, 2), bool)
    closed = repeats(pool(y, shared=True), everyone)
    y[0, 0, 0] = np.nan
    gaps = repeats(pool(y, shared=True), everyone)
    assert gaps.ss[1:] == pytest.approx(closed.ss[1:])
    # by least squares on the lot with the gap: the others' pots, then own minus pot, centred
    others, mine = y[0, 1:, :, 0], y[0, 0, 1:, 0]
    z = mine - others.mean(axis=0)[1:]
    assert gaps.ss[0, 0, 0] == pytest.approx(((z - z.mean()) ** 2).sum())
    assert gaps.noise[0, 0, 0] == pytest.approx(1 / 3)


def test_several_sessions_put_the_wander_of_sessions_into_the_error():
    y = room(lots=40, tasters=4)
    one = assess(y)
    y = y + np.repeat(0.8 * np.random.default_rng(1).normal(size=(4, 4, 1, 4)), 10, axis=0)
    four = assess(y, sessions=4)
    width = [
        r["high"] - r["low"] for r in (row(one, "alder", "level", "word 1"), row(four, "alder", "level", "word 1"))
    ]
    assert width[1] > 2 * width[0]
    assert "4 sessions" in four.method


def test_three_bowls_a_taster_are_those_farthest_off():
    y = room(words=1)
    y[7, 2] += 4
    again = assess(y).taste_again
    mine = again[again["taster"] == "elm"]
    assert len(mine) == 3
    assert mine.iloc[0]["lot"] == "107"
    assert again["difference"].to_numpy() == pytest.approx((again["own"] - again["others"]).to_numpy())


def test_trainees_are_left_to_their_own_assessment():
    y = room(tasters=4)
    cells = scores_of(y)
    tasters = cells.tasters.assign(role=["senior", "senior", "senior", "trainee"])
    result = pst.assess_tasters(pst.Cells(**{**vars(cells), "tasters": tasters, "_memo": {}}), tolerance=0.5)
    assert list(result.summary["taster"]) == list(NAMES[:3])


def test_marks_at_the_ends_of_the_scale_are_remarked():
    y = np.clip(room(lots=30).round(), 0, 10)
    y[:, 0, :, 0] = np.select([y[:, 0, :, 0] > 5, y[:, 0, :, 0] < 5], [10, 0], 5)
    cells = scores_of(y)
    described = cells.descriptors.assign(low=0.0, high=10.0)
    result = pst.assess_tasters(pst.Cells(**{**vars(cells), "descriptors": described, "_memo": {}}), tolerance=0.5)
    assert "ends of the scale" in row(result, "alder", "scale_use", "word 1")["reason"]
    assert "ends of the scale" not in row(result, "beech", "scale_use", "word 1")["reason"]


@pytest.mark.parametrize("tasters", [2, 3, 6])
def test_random_marks_reassure_of_nobody_and_the_next_step_can_tell(tasters):
    y = 5 + 0.25 * np.random.default_rng(tasters).normal(size=(24, tasters, 2, 6))  # level, and nothing else
    result = assess(y)
    assert set(called(result).values()) == {"cannot tell"}
    assert "with" not in set(result.table["call"].str.split().str[0])
    (panel,) = [v for v in result.verdicts if v.subject == "" and "no common order" in v.sentence]
    assert "the lots may be alike, or the tasters tell nothing apart" in panel.sentence
    assert "two lots you know to differ" in panel.next_step
    assert (result.summary["panel_order_p"] > 0.01).all()


def test_marks_drawn_over_the_whole_scale_are_called_that():
    """The standard deviation of a uniform on 0 to 10 is 10 / sqrt(12)."""
    y = np.random.default_rng(1).integers(0, 21, (60, 4, 1, 6)) / 2
    result = assess(y)
    assert result.summary["marks_spread"].to_numpy() == pytest.approx(
        y[:, :, 0].std(axis=0, ddof=1).mean(axis=1) / (10 / 12**0.5)
    )
    assert (result.summary["marks_spread"] > 0.9).all()


def test_one_who_tells_nothing_among_those_who_do_is_not_called_with_them():
    y = room(lots=24, tasters=6, words=6)
    y[:, 2] = 5 + 0.5 * np.random.default_rng(3).normal(size=y[:, 2].shape)
    result = assess(y)
    calls_ = called(result)
    assert calls_.pop("elm") != "with the panel"
    level = row(result, "elm", "level")
    assert level["high"] < level["ceiling"]  # level, and yet
    assert level["call"] == "cannot tell"
    assert set(calls_.values()) == {"with the panel"}
    orders = result.summary.set_index("taster")["order_p"]
    assert orders["elm"] > 0.01
    assert (orders.drop("elm") == 1 / 500).all()


def crossed_room(lots=40, tasters=6, words=4, *, seed=0):
    y = room(lots=lots, tasters=tasters, words=words, seed=seed)
    y[:, 2, :, [0, 1]] = y[:, 2, :, [1, 0]]
    return y


def test_swapped_words_are_said_in_place_of_blindness_to_them():
    result = assess(crossed_room())
    (found,) = result.crossed_words.to_dict("records")
    assert (found["taster"], found["kind"]) == ("elm", "swapped")
    assert {found["descriptor"], found["other"]} == {"word 1", "word 2"}
    assert found["across"] > 0.7
    assert found["own"] < 0.5
    cell = crossed_room().mean(axis=2)
    own, others = cell[:, 2, :2], np.delete(cell, 2, axis=1).mean(axis=1)[:, :2]
    r = np.corrcoef(own, others, rowvar=False)[:2, 2:]
    t = williams_t(r, np.corrcoef(others, rowvar=False), np.full((2, 2), 40.0))
    assert found["statistic"] == pytest.approx((t[0, 1] + t[1, 0]) / np.sqrt(2), rel=1e-9)
    (verdict,) = [v for v in result.verdicts if v.subject == "elm"]
    assert "swapped columns or words?" in verdict.sentence
    assert verdict.act is pst.Act.DECIDE
    assert "Check the columns" in verdict.next_step
    assert assess(room(lots=40, tasters=6)).crossed_words.empty


def test_a_word_that_follows_another_is_told_from_a_swap():
    y = room(lots=40, tasters=6)
    y[:, 2, :, 0] = y[:, 2, :, 1]
    (found,) = assess(y).crossed_words.to_dict("records")
    assert (found["kind"], found["descriptor"], found["other"]) == ("follows", "word 1", "word 2")


def test_words_of_two_stages_are_not_held_against_each_other():
    cells = scores_of(crossed_room())
    described = cells.descriptors.assign(stage=["dry leaf", "liquor", "liquor", "liquor"])
    pots = pd.concat([cells.pots.assign(stage=stage) for stage in ("dry leaf", "liquor")])
    staged = pst.Cells(**{**vars(cells), "descriptors": described, "pots": pots, "_memo": {}})
    assert pst.assess_tasters(staged, tolerance=0.5).crossed_words.empty


def test_two_correlations_of_one_variable_are_compared_as_williams_does():
    """Steiger 1980, Psychol Bull 87: 245, equation 7 (Williams 1959), worked out term by term."""
    r_dd, r_de, c, n = 0.2, 0.6, 0.3, 40
    r = np.array([[r_dd, r_de], [0.1, 0.5]])
    between = np.array([[1.0, c], [c, 1.0]])
    det = np.linalg.det([[1, r_de, r_dd], [r_de, 1, c], [r_dd, c, 1]])
    t = (r_de - r_dd) * np.sqrt(
        (n - 1) * (1 + c) / (2 * (n - 1) / (n - 3) * det + ((r_de + r_dd) / 2) ** 2 * (1 - c) ** 3)
    )
    assert williams_t(r, between, np.full((2, 2), float(n)))[0, 1] == pytest.approx(t, rel=1e-12)


def test_marks_that_sag_together_along_one_row_are_no_agreement():
    rng = np.random.default_rng(4)
    y = 5 + 0.5 * rng.normal(size=(24, 4, 1, 4)) - 3 * np.linspace(0, 1, 24)[:, None, None, None]
    lot, taster = (index.ravel() for index in np.indices((24, 4)))
    sheet = pd.DataFrame({"lot": 100 + lot, "taster": np.array(NAMES)[taster], "position": lot + 1})
    for d in range(4):
        sheet[f"word {d + 1}"] = y[lot, taster, 0, d].round(2)
    scores = pst.read_scores(sheet.astype({"lot": str}))
    known = pst.assess_tasters(scores, tolerance=0.5)
    unknown = pst.assess_tasters(scores.cells(), tolerance=0.5)  # cells no longer know the order
    assert known.summary["panel_order_p"].iloc[0] > 0.01
    assert unknown.summary["panel_order_p"].iloc[0] < 0.01


def test_a_generous_tolerance_reassures_of_no_more_than_a_tenth_of_the_scale():
    y = room(lots=40)
    y[:, 1] += 1.4
    cells = scores_of(y)
    described = cells.descriptors.assign(low=0.0, high=10.0)
    wide = pst.Cells(**{**vars(cells), "descriptors": described, "_memo": {}})
    result = pst.assess_tasters(wide, tolerance=3.0)
    assert called(result)["beech"] == "cannot tell"
    assert "a tenth of the scale" in str(next(v for v in result.verdicts if v.subject == "beech"))


def taints(lots=40, tasters=5, words=4, *, often=0.3, seed=0):
    """Whole points, 0 for most lots; every taster notices most of what there is."""
    rng = np.random.default_rng(seed)
    there = rng.random((lots, 1, 1, words)) < often
    seen = there & (rng.random((lots, tasters, 2, words)) < 0.9)
    return np.where(seen, 1.0 + rng.integers(0, 3, seen.shape), 0.0)


def test_where_most_marks_are_0_only_noticing_is_judged():
    y = taints()
    y[:, 0, :, 0] = 0  # never notices the first word
    result = assess(y)
    for aspect in ("repeatability", "discrimination", "agreement", "scale_use"):
        assert "end of the scale" in row(result, "beech", aspect, "word 1")["reason"]
    blind, other = (row(result, name, "noticed", "word 1") for name in ("alder", "beech"))
    assert (blind["call"], other["call"]) == ("cannot tell", "with the panel")
    share = (y[..., 0] > 0).any(axis=2)
    assert blind["estimate"] == pytest.approx(-share[:, 1:].mean(), abs=1e-9)


def test_who_never_notices_what_the_others_do_is_named_for_that():
    y = taints(lots=80, often=0.48)
    y[:, 0] = 0
    result = assess(y)
    assert called(result)["alder"] == "apart"
    assert row(result, "alder", "noticed")["call"] == "apart"
    (verdict,) = [v for v in result.verdicts if v.subject == "alder"]
    assert "% fewer of the lots" in verdict.sentence


def test_repeats_that_never_differ_are_no_proof_of_perfection():
    y = room(lots=30)
    y[:, 0, 1] = y[:, 0, 0]
    assert "no variation recorded" in row(assess(y), "alder", "repeatability", "word 1")["reason"]


def test_half_a_step_is_offered_where_the_scores_could_tell():
    fine, coarse = (pst.assess_tasters(scores_of(room(lots=20).round()), tolerance=t).method for t in (0.5, 1.0))
    assert "half a step can be asked for" in coarse
    assert "half a step" not in fine


def test_an_empty_selection_is_refused_in_words():
    with pytest.raises(pst.DesignError, match="nothing was scored"):
        pst.assess_tasters(scores_of(room(lots=4)).select(session="another day"))


@pytest.mark.parametrize("options", [{"tolerance": 0.0}, {"tolerance": {"nothing": 1.0}}, {"level": 1.0}])
def test_impossible_arguments_are_refused(options):
    with pytest.raises(pst.DesignError):
        pst.assess_tasters(scores_of(room(lots=4)), **options)


def test_every_number_in_a_sentence_has_its_interval():
    y = room(tasters=6, lots=30)
    y[:, 0] += 1.5
    for verdict in assess(y).verdicts:
        assert verdict.sentence.count("(") >= 1
        assert " to " in verdict.sentence
        assert verdict.next_step or verdict.call == "with the panel"


@settings(max_examples=10, deadline=None)
@given(shift=st.floats(-3, 3), seed=st.integers(0, 99))
def test_shift_of_every_score_and_order_of_tasters_change_nothing(shift, seed):
    y = room(lots=10, tasters=4, pots=2, words=4, seed=seed)
    everyone = np.ones((4, 4), bool)
    tolerance = np.full(4, 0.5)
    order = np.random.default_rng(seed).permutation(4)
    first = Bench(pool(y, shared=True), tolerance).judge(everyone)
    other = Bench(pool(y[:, order] + shift, shared=True), tolerance).judge(everyone)
    for aspect in first.judged:
        for name in ("estimate", "low", "high", "p"):
            assert getattr(other.cells[aspect], name) == pytest.approx(
                getattr(first.cells[aspect], name)[order], rel=1e-6, abs=1e-6, nan_ok=True
            )


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 99))
def test_a_pots_swing_moves_nothing_but_the_lots(seed):
    y = room(lots=10, tasters=4, words=4, seed=seed)
    swing = np.random.default_rng(seed).normal(size=(10, 1, 2, 4))
    everyone, tolerance = np.ones((4, 4), bool), np.full(4, 0.5)
    first, other = (Bench(pool(v, shared=True), tolerance).judge(everyone) for v in (y, y + swing))
    for aspect in ("level", "repeatability"):
        assert other.cells[aspect].estimate == pytest.approx(first.cells[aspect].estimate, rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("setting", "least"),
    [
        (Setting(4, 24, 2, fault=LEVEL, everywhere=True), 0.9),
        (Setting(3, 24, 1, fault=BLIND, everywhere=True), 0.9),
        (Setting(6, 24, 2, shared=True, fault=NOISY, everywhere=True), 0.85),
        (Setting(10, 24, 2, fault=REVERSED, everywhere=True), 0.95),
    ],
)
def test_a_general_fault_is_named_and_the_innocent_are_not(setting, least):
    """25 panels, so four standard errors below the measured rate."""
    rng = np.random.default_rng(11)
    guilty = innocent = 0
    for _ in range(25):
        bench = Bench(invent(setting, rng), np.full(DESCRIPTORS, 0.5), wander=0.0)
        names = name_tasters(bench, setting.tasters)
        named = np.any([names.cells[a].any(axis=1) | names.tasters[a] for a in names.judgement.judged], axis=0)
        guilty += named[0]
        innocent += named[1:].any()
    assert guilty / 25 >= least - 0.15
    assert innocent <= 3
