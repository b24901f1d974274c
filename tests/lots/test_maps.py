"""Maps of lots through the public function: check values, invariance, degenerate rooms, what is left out and said."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from scipy.optimize import lsq_linear
from scipy.stats import f as f_dist
from scipy.stats import ncf
from statsmodels.multivariate.pca import PCA

import panelstats as pst
from panelstats.lots.maps.ground import difference_factor, grounds
from panelstats.models.parallelaxes import parallel_axes
from tests.bench.made import cells_from_array

FOLDER = Path(__file__).parents[1] / "published" / "maps"
PANEL = json.loads((FOLDER / "invented_panel.json").read_text())
STAGES = {name: stage for stage, names in PANEL["stages"].items() for name in names}
FAST = {"resamples": 99}


def invented(**columns):
    """The invented panel of tests/published/maps/README.md, each taster with pots of his own."""
    sheet = pd.read_csv(FOLDER / "invented_panel.csv").rename(columns={"replicate": "pot"})
    register = pd.DataFrame({"descriptor": list(STAGES), "stage": list(STAGES.values())})
    lots = pd.DataFrame({"lot": PANEL["lots"], **columns})
    return pst.read_scores(sheet, room={"descriptors": register, "lots": lots})


def mapped(scores=None, **asked):
    return pst.map_lots(invented() if scores is None else scores, **({"pots": "own"} | FAST | asked))


def room(marks, **asked):
    """The map of marks (lot, taster, descriptor), NaN where not scored; own pots."""
    served = np.isfinite(marks)
    cells = cells_from_array(np.nan_to_num(marks)[:, :, None], served[:, :, None], shared=False)
    return pst.map_lots(cells, **(FAST | asked))


def made(lots=8, tasters=6, words=5, seed=0, noise=0.5):
    """Lots that differ along two axes."""
    rng = np.random.default_rng(seed)
    lot = (
        rng.normal(size=(lots, 2)) * [2.0, 1.2] @ np.linalg.qr(rng.normal(size=(words, 2)))[0].T[:2, :words]
        if words > 1
        else rng.normal(size=(lots, 1))
    )
    return 5 + lot[:, None] + rng.normal(size=(1, tasters, words)) + noise * rng.normal(size=(lots, tasters, words))


def places(found):
    return found.lots.filter(like="axis_").to_numpy()


def ends_told(found):
    return [verdict.call for verdict in found.verdicts if verdict.question == "Is there a map to draw?"]


# --- check values


def test_the_invented_panel_is_placed_where_r_places_it():
    found, known = mapped(), PANEL["pca_covariance"]
    assert found.axes["trusted"].tolist() == [True, True, False, False, False]
    assert found.axes["variance"].to_numpy() == pytest.approx(known["eigenvalues"], abs=1e-8)
    assert places(found) == pytest.approx(np.array(known["scores"])[:, :2], abs=1e-8)
    loadings = found.descriptors.set_index("descriptor").loc[PANEL["descriptors"], ["axis_1", "axis_2"]]
    assert loadings.to_numpy() == pytest.approx(np.array(known["loadings"])[:, :2], abs=1e-8)
    tests = found.tests.set_index("test")
    for name in tests.index:
        line = PANEL["manova_lot_against_lot_by_taster"][name]
        assert tests.loc[name, ["value", "f"]].tolist() == pytest.approx([line[name], line["approx F"]], rel=1e-8)
    spread = mapped(scale="spread").axes["variance"].to_numpy()
    assert spread == pytest.approx(PANEL["pca_correlation_eigenvalues"], abs=1e-8)


def test_regions_are_the_ellipses_of_hotelling():
    found = mapped()
    marks = pd.read_csv(FOLDER / "invented_panel.csv").groupby(["taster", "lot"])[PANEL["descriptors"]].mean()
    x = marks.to_numpy().reshape(5, 6, 7)
    turn = np.array(PANEL["pca_covariance"]["loadings"])[:, :2]
    z = (x - x.mean(axis=1, keepdims=True)) @ turn
    e = (z - z.mean(axis=0)).reshape(-1, 2)
    s = e.T @ e / 20  # (lots - 1)(tasters - 1) degrees of freedom
    radius = (1 - 1 / 6) / 5 * 2 * 20 / 19 * f_dist.ppf(0.95, 2, 19)
    sizes = np.sqrt(np.linalg.eigvalsh(s) * radius)
    assert found.regions[["short", "long"]].to_numpy() == pytest.approx(np.tile(sizes, (6, 1)), rel=1e-9)
    assert found.regions["half_2"].to_numpy() == pytest.approx(np.sqrt(s[1, 1] * radius), rel=1e-9)
    assert (found.regions["df"] == 20).all()
    turned = np.radians(found.regions["degrees"].iloc[0])
    way = np.array([np.cos(turned), np.sin(turned)])
    assert way @ s @ way == pytest.approx(np.linalg.eigvalsh(s)[1])


def test_canonical_axes_are_in_units_of_the_error():
    found = mapped(scale="error", axes=2)
    # variance of scores in error sds: eigenvalue x error df / (lots - 1) / tasters
    known = np.array(PANEL["canonical_eigenvalues"]) * 20 / 5 / 5
    assert found.axes["variance"].to_numpy() == pytest.approx(known, rel=1e-8)
    assert found.regions["long"].to_numpy() == pytest.approx(found.regions["short"].to_numpy())
    radius = (1 - 1 / 6) / 5 * 2 * 20 / 19 * f_dist.ppf(0.95, 2, 19)
    assert found.regions["long"].to_numpy() ** 2 == pytest.approx(radius)


def test_the_joint_map_of_the_stages_agrees_with_r():
    marks = made(12, 8, 6, seed=3)
    stages = np.array(["dry", "dry", "infused", "infused", "liquor", "liquor"])
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False, stage=stages)
    found = pst.map_lots(cells, **FAST)
    assert found.stages["used"].all()
    joint = found.stage_lots[found.stage_lots["stage"] == "all"][["axis_1", "axis_2"]].to_numpy()
    apart = found.stage_lots[found.stage_lots["stage"] != "all"].groupby("lot")[["axis_1", "axis_2"]].mean()
    assert apart.to_numpy() == pytest.approx(joint)
    # what R gives of the invented panel stands in tests/models/test_mapped.py; here: through the public function
    stages = ("dry leaf", "infused leaf", "liquor")  # as the words dry and infused are read
    known = dict(zip(stages, PANEL["stage_map"]["first_eigenvalue_per_stage"], strict=True))
    panel = mapped().stages.set_index("stage")
    assert panel["used"].any()
    for stage in panel.index[panel["used"]]:
        assert panel.loc[stage, "first"] == pytest.approx(known[stage], abs=1e-8)


def test_a_stage_without_an_axis_has_no_say_and_that_is_said():
    marks = made(12, 8, 6, seed=3)
    marks[:, :, 4:] = 5 + np.random.default_rng(0).normal(size=(12, 8, 2))
    stages = np.array(["dry", "dry", "infused", "infused", "liquor", "liquor"])
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False, stage=stages)
    found = pst.map_lots(cells, **FAST)
    assert found.stages.set_index("stage")["used"].to_dict() == {"dry": True, "infused": True, "liquor": False}
    assert set(found.stage_lots["stage"]) == {"all", "dry", "infused"}
    assert "liquor: no axis of its own, left out of the joint map" in str(found)


def test_the_shared_picture_agrees_with_r_and_never_stands_without_chance():
    found, known = mapped(), PANEL["procrustes_consensus"]
    shares = found.picture.set_index("picture")["share"]
    assert shares["as scored"] == pytest.approx(known["raw_proportion_no_rotation"], abs=1e-8)
    assert shares["turned"] == pytest.approx(known["with_rotation_no_scale"], abs=1e-7)
    assert shares["turned and stretched"] == pytest.approx(known["with_rotation_and_scale"], abs=1e-7)
    assert found.tasters["scale"].to_numpy() == pytest.approx(known["taster_scale_factors"], abs=1e-5)
    assert found.picture["share_chance"].between(0.1, 0.85).all()
    assert "by chance" in next(v.sentence for v in found.verdicts if "one picture" in v.question)


def test_distances_hold_the_noncentralities_that_f_allows():
    found = mapped(standard="L6")
    x = places(found)
    marks = pd.read_csv(FOLDER / "invented_panel.csv").groupby(["taster", "lot"])[PANEL["descriptors"]].mean()
    y = marks.to_numpy().reshape(5, 6, 7)
    z = (y - y.mean(axis=1, keepdims=True)) @ np.array(PANEL["pca_covariance"]["loadings"])[:, :2]
    e = (z - z.mean(axis=0)).reshape(-1, 2)
    for row in found.distances.itertuples():
        d = x[int(row.lot[1]) - 1] - x[5]
        t2 = d @ np.linalg.solve(2 / 5 * e.T @ e / 20, d)
        f = 19 / 40 * t2
        assert row.p == pytest.approx(f_dist.sf(f, 2, 19), rel=1e-6)
        low, high = row.sds_low**2 * 5 / 2, row.sds_high**2 * 5 / 2  # delta squared = 2 / tasters x noncentrality
        assert low == 0 or ncf.sf(f, 2, 19, low) == pytest.approx(0.025, abs=1e-6)
        assert ncf.cdf(f, 2, 19, high) == pytest.approx(0.025, abs=1e-6)
        assert row.sds**2 == pytest.approx(2 / 5 * max(0, 2 * 17 / 19 * f - 2))
        assert row.distance / row.sds == pytest.approx(row.high / row.sds_high)
    assert found.distances["distance"].is_monotonic_increasing
    assert (found.distances["p_adjusted"] >= found.distances["p"]).all()


# --- what must not matter


@given(st.randoms(use_true_random=False))
@settings(max_examples=3, deadline=None, phases=[Phase.generate])
def test_rows_in_another_order_give_the_same_map(shuffle):
    sheet = pd.read_csv(FOLDER / "invented_panel.csv").rename(columns={"replicate": "pot"})
    rows = list(range(len(sheet)))
    shuffle.shuffle(rows)
    columns = list(PANEL["descriptors"])
    shuffle.shuffle(columns)
    again = pst.read_scores(sheet.iloc[rows][["taster", "lot", "pot", *columns]])
    plain = pst.read_scores(sheet)
    one, other = (pst.map_lots(scores, pots="own", resamples=9) for scores in (plain, again))
    for name, table in one.tables().items():
        keys = [key for key in ("lot", "descriptor", "stage", "taster") if key in table]
        left, right = (t.sort_values(keys, ignore_index=True) if keys else t for t in (table, other.tables()[name]))
        pd.testing.assert_frame_equal(left, right, rtol=1e-9, atol=1e-9, check_dtype=False)


@given(st.integers(0, 2**16), st.floats(-3, 3), st.permutations(range(7)))
@settings(max_examples=6, deadline=None)
def test_a_constant_a_level_and_other_names_move_nothing(seed, shift, order):
    marks = made(7, 5, 4, seed=seed)
    levels = np.random.default_rng(seed).normal(size=(1, 5, 4))
    one = room(marks, resamples=9, axes=2)
    other = room(marks + shift + levels, resamples=9, axes=2)
    assert places(other) == pytest.approx(places(one), abs=1e-8)
    assert other.regions.filter(regex="long|short").to_numpy() == pytest.approx(
        one.regions.filter(regex="long|short").to_numpy(), rel=1e-6
    )
    renamed = room(marks[list(order)], resamples=9, axes=2)
    assert places(renamed) == pytest.approx(places(one)[list(order)], abs=1e-8)


@given(st.integers(0, 2**16), st.integers(0, 3))
@settings(max_examples=6, deadline=None)
def test_a_scale_turned_over_turns_its_loading_over(seed, word):
    marks = made(7, 5, 4, seed=seed)
    flipped = marks.copy()
    flipped[..., word] = 10 - flipped[..., word]
    one, other = (room(each, resamples=9, axes=2) for each in (marks, flipped))
    assert np.abs(places(other)) == pytest.approx(np.abs(places(one)), abs=1e-8)
    loadings = [
        f.descriptors.set_index("descriptor").sort_index()[["axis_1", "axis_2"]].to_numpy() for f in (one, other)
    ]
    sign = np.sign(loadings[0] * loadings[1])
    turned = np.where(np.arange(4) == word, -1, 1)[:, None]
    steady = np.abs(loadings[0]) > 1e-6
    assert ((sign * turned)[steady].reshape(-1) != 0).all()
    for axis in range(2):
        kept = steady[:, axis]
        assert len(set((sign * turned)[kept, axis])) == 1


def test_a_stored_map_and_an_anchor_keep_the_direction():
    found = mapped()
    again = mapped(reference=found.descriptors.assign(axis_2=-found.descriptors["axis_2"]))
    assert places(again)[:, 1] == pytest.approx(-places(found)[:, 1])
    assert places(again)[:, 0] == pytest.approx(places(found)[:, 0])
    down = str(found.descriptors.iloc[-1]["descriptor"])
    assert found.descriptors.iloc[-1]["axis_1"] < 0.2
    lowest = found.descriptors.sort_values("axis_2").iloc[0]["descriptor"]
    anchored = mapped(anchors=[down, lowest]).descriptors.set_index("descriptor")
    assert anchored.loc[lowest, "axis_2"] > 0
    with pytest.raises(pst.DesignError, match="no such descriptor"):
        mapped(anchors=["nothing"])
    with pytest.raises(pst.DesignError, match="no earlier map"):
        mapped(reference=3)


# --- nothing to map, and too little for one


def test_noise_gets_no_map_no_picture_and_no_claim_of_likeness():
    marks = 5 + np.random.default_rng(5).normal(size=(8, 6, 5))
    found = room(marks, resamples=199)
    assert ends_told(found) == ["nothing to map"]
    assert not found.axes["trusted"].any()
    assert "axis_1" not in found.lots
    assert found.planes == ()
    assert "Whether the lots differ otherwise is not known" in str(found)
    with pytest.raises(pst.DesignError, match="nothing to draw"):
        pst.draw(found)


@pytest.mark.parametrize(
    ("shape", "short"),
    [((2, 6, 5), "2 lots"), ((1, 6, 5), "1 lot"), ((6, 2, 5), "2 tasters"), ((6, 1, 5), "1 taster"),
     ((6, 6, 1), "1 descriptor")],
)  # fmt: skip
def test_too_little_is_refused_in_one_sentence_that_says_what_is_short(shape, short):
    found = room(made(*shape))
    assert ends_told(found) == ["cannot tell"]
    (verdict,) = [v for v in found.verdicts if v.question == "Is there a map to draw?"]
    assert short in verdict.sentence
    assert verdict.next_step


def test_all_scores_equal_leave_no_descriptor_to_map():
    found = room(np.full((6, 5, 3), 4.0))
    assert ends_told(found) == ["cannot tell"]
    assert "0 descriptors" in str(found)
    assert set(found.left_out["name"]) == {"word 00001", "word 00002", "word 00003"}


def test_a_descriptor_that_is_the_same_for_every_lot_is_left_out_and_named():
    marks = made()
    marks[..., 2] = 3.0
    found = room(marks)
    assert found.left_out[["what", "name", "why"]].to_numpy().tolist() == [
        ["descriptor", "word 00003", "the same for every lot"]
    ]
    assert "The same for every lot: word 00003." in str(found)
    assert len(found.descriptors) == 4


def test_three_tasters_are_placed_without_regions_and_that_is_said():
    found = room(made(8, 3, 5, noise=0.2))
    assert len(found.regions) == 0
    assert "Three tasters are too few to say how sure a place is" in str(found)
    assert found.planes[0].ovals == ()
    assert len(found.distances) == 0


def test_a_taster_who_gives_one_mark_to_everything_stays_on_the_map_and_leaves_the_shared_picture():
    marks = made()
    marks[:, 3] = 5.0
    found = room(marks)
    assert len(found.tasters) == 5
    assert "taster 4" in set(found.left_out["name"])
    assert found.axes["trusted"].sum() >= 1


def test_two_descriptors_that_say_the_same_are_mapped_and_the_test_falls_back_on_axes():
    marks = made()
    marks = np.concatenate([marks, marks[..., :1]], axis=2)
    found = room(marks)
    assert set(found.tests["on"]) <= {"the first 2 axes", "the first axis"}
    both = found.descriptors.set_index("descriptor").loc[["word 00001", "word 00006"], "axis_1"]
    assert both.iloc[0] == pytest.approx(both.iloc[1])
    assert ends_told(room(marks, scale="error")) == ["cannot tell"]


def test_more_descriptors_than_lots_have_no_more_axes_than_lots_less_one():
    assert len(room(made(4, 5, 9)).axes) == 3


def test_one_trusted_axis_is_a_line_with_intervals():
    rng = np.random.default_rng(2)
    marks = 5 + rng.normal(size=(8, 1, 1)) * 2 * np.ones(4) + 0.4 * rng.normal(size=(8, 6, 4))
    found = room(marks, resamples=199)
    assert ends_told(found) == ["one axis"]
    assert found.planes == ()
    rows = found.chart().rows
    assert [row.label for row in rows] == list(found.lots.sort_values("axis_1", ascending=False)["lot"])
    half = found.regions.set_index("lot")["half_1"]
    assert rows[0].high - rows[0].value == pytest.approx(half[rows[0].label])
    marks = marks - marks.mean(axis=0)
    z = marks.mean(axis=2) * 2  # the axis weighs four words alike, or nearly
    assert half.iloc[0] == pytest.approx(
        np.sqrt(((z - z.mean(axis=1, keepdims=True)) ** 2).sum() / 35 * 7 / 8 / 6 * f_dist.ppf(0.95, 1, 35)), rel=0.1
    )


# --- gaps


def test_marks_missing_by_chance_are_allowed_for_and_the_lot_is_marked_incomplete():
    marks = made(8, 6, 5, seed=1)
    full = room(marks)
    marks[2, :4] = np.nan
    found = room(marks)
    assert found.lots.set_index("lot")["incomplete"].sum() == 1
    regions = found.regions.set_index("lot")["long"]
    assert regions["00003"] == regions.max()
    assert regions["00003"] > 1.4 * regions["00001"]
    assert found.planes[0].footer.endswith("1 lot incomplete")
    assert not full.lots["incomplete"].any()


def test_places_of_an_incomplete_panel_come_from_the_fit_and_not_from_raw_means():
    marks = made(8, 6, 5, seed=4, noise=0.0)
    full = places(room(marks, axes=2))
    rng = np.random.default_rng(0)
    for lot in range(8):
        marks[lot, rng.choice(6, 3, replace=False)] = np.nan
    found = room(marks, axes=2)
    assert np.abs(places(found)) == pytest.approx(np.abs(full), abs=1e-8)


def test_a_lot_without_any_mark_on_a_word_leaves_the_rectangle_that_keeps_most_and_what_else_could_go_is_said():
    marks = made(8, 6, 5)
    marks[7, :, 4] = np.nan
    found = room(marks)
    assert found.left_out[["what", "name"]].to_numpy().tolist() == [["lot", "00008"]]
    assert "Left out, a descriptor without any mark: 00008." in str(found)
    assert "Descriptors could be left out instead: word 00005." in str(found)
    marks[4:, :, 4] = np.nan
    found = room(marks)
    assert found.left_out[["what", "name"]].to_numpy().tolist() == [["descriptor", "word 00005"]]
    assert "Lots could be left out instead: 00005, 00006, 00007 and 00008." in str(found)


def test_lots_left_out_are_put_where_their_other_marks_would_have_them_and_steer_nothing():
    marks = gapped((2, 1), (7, 4))
    found, without = room(marks), room(np.delete(marks, [2, 7], axis=0))
    assert places(found) == pytest.approx(places(without))
    assert found.apart[["lot", "words"]].to_numpy().tolist() == [["00003", 4], ["00008", 4]]
    loadings = found.descriptors.set_index("descriptor").sort_index()[["axis_1", "axis_2"]].to_numpy()
    centre = found.descriptors.set_index("descriptor")["centre"].sort_index().to_numpy()
    means = marks.mean(axis=1)  # every taster scored these: levels cancel
    for lot, word, place in zip((2, 7), (1, 4), found.apart[["axis_1", "axis_2"]].to_numpy(), strict=True):
        known = np.arange(5) != word
        theirs = lsq_linear(loadings[known], (means[lot] - centre)[known]).x
        assert place == pytest.approx(theirs, abs=1e-6)
    drawn = [(spot.label, spot.x) for spot in found.planes[0].spots if spot.apart]
    assert drawn == [(row.lot, row.axis_1) for row in found.apart.itertuples()]
    assert len(found.planes[0].ovals) == 8
    assert "00003 and 00008. Where the descriptors they were scored on would put them is drawn dashed." in str(found)
    marks[2, :, 2:] = np.nan  # one descriptor does not fix a place on two axes
    assert found.apart["lot"].tolist() == ["00003", "00008"]
    assert room(marks).apart["lot"].tolist() == ["00008"]
    assert not len(room(gapped((2, 1), (7, 4)), scale="spread").apart)


def gapped(*at, lots=10):
    marks = made(lots, 6, 5)
    for lot, word in at:
        marks[lot, :, word] = np.nan
    return marks


def test_a_mark_nobody_gave_is_filled_in_only_when_asked_and_as_statsmodels_would():
    marks = gapped((2, 1), (7, 4))
    assert len(room(marks).lots) == 8
    found = room(marks, fill_in=True)
    assert found.filled_in[["lot", "descriptor"]].to_numpy().tolist() == [
        ["00003", "word 00002"],
        ["00008", "word 00005"],
    ]
    centre = found.descriptors.set_index("descriptor")["centre"].sort_index().to_numpy()
    means = marks.mean(axis=1) - centre
    asked = {"standardize": False, "demean": False, "missing": "fill-em", "tol_em": 1e-12, "max_em_iter": 5000}
    theirs = PCA(means, ncomp=2, **asked).projection
    gaps = [2, 7], [1, 4]
    assert found.filled_in["points"].to_numpy() - centre[gaps[1]] == pytest.approx(theirs[gaps], abs=1e-6)
    whole = np.where(np.isnan(means), theirs, means)
    assert whole.mean(axis=0) == pytest.approx(np.zeros(5), abs=1e-6)
    assert len(found.lots) == 10
    left, size, _ = np.linalg.svd(whole, full_matrices=False)
    assert np.abs(places(found)) == pytest.approx(np.abs(left[:, :2] * size[:2]), abs=1e-5)
    assert found.lots.loc[found.lots["incomplete"], "lot"].tolist() == ["00003", "00008"]
    assert not len(found.left_out)


def test_what_is_filled_in_is_said_drawn_dashed_and_its_region_is_no_wider():
    found = room(gapped((2, 1), (7, 4)), fill_in=True, standard="00003")
    told = "Filled in, as asked: 2 of 50 places (4 %), where nobody scored a lot on a descriptor (00003: word 00002;"
    assert told in str(found)
    assert "from 2 axes of the other marks. That is a guess, drawn dashed" in str(found)
    footer = found.planes[0].footer
    assert "axes the tasters agree on: 2 (p 0.010 and 0.010), regions: 95 %" in footer
    assert footer.endswith("filled in, as asked: 00003 and 00008, 4 % of the marks, which no region covers")
    assert [spot.label for spot in found.planes[0].spots if spot.guessed] == ["00003", "00008"]
    assert sum(oval.guessed for oval in found.planes[0].ovals) == 2
    # as if the six who tasted the lot had scored it: a guess narrows nothing and widens nothing
    long = found.regions["long"].to_numpy()
    assert long == pytest.approx(np.full(10, long[0]), rel=1e-9)
    assert len(found.distances) == 9
    # nor does it make a lot nearer or farther to tell: of six tasters' means a difference has variance 2 / 6
    (ground,) = grounds(
        cells_from_array(np.nan_to_num(m := gapped((2, 1), (7, 4)))[:, :, None], np.isfinite(m)[:, :, None],
                         shared=False), ["one"], by_class=False, fill_in=True,
    )  # fmt: skip
    assert difference_factor(ground, 2, np.array([0, 7])) == pytest.approx(np.full((2, 5), 1 / 3))


def test_a_whole_table_is_the_same_map_filled_in_or_not():
    one, other = room(made()), room(made(), fill_in=True)
    for name, table in one.tables().items():
        pd.testing.assert_frame_equal(table, other.tables()[name])
    assert str(one) == str(other)


@pytest.mark.parametrize(
    ("at", "lots", "told"),
    [
        (((0, 0), (1, 1), (2, 2), (3, 3)), 6, "13 % of the table of lots and descriptors has no mark, and 10 % is"),
        (((0, 0), (0, 1), (0, 2)), 20, "of 00001 half of the descriptors or more have no mark"),
        (tuple((lot, 0) for lot in range(5)), 10, "on word 00001 half of the lots or more have no mark"),
    ],
)
def test_too_many_gaps_are_left_out_as_they_are_unasked_and_it_is_said_why(at, lots, told):
    marks = gapped(*at, lots=lots)
    found, plain = room(marks, fill_in=True), room(marks)
    assert f"Not filled in: {told}" in str(found)
    assert "Not filled in" not in str(plain)
    assert not len(found.filled_in)
    pd.testing.assert_frame_equal(found.lots, plain.lots)
    pd.testing.assert_frame_equal(found.left_out, plain.left_out)
    assert len(found.left_out)


@pytest.mark.parametrize("scale", ["spread", "error"])
def test_gaps_are_filled_on_the_scale_of_the_map_and_truth_is_near(scale):
    whole = made(30, 8, 6, noise=0.2)
    marks = whole.copy()
    marks[3, :, 2] = marks[11, :, 5] = np.nan
    found, full = room(marks, fill_in=True, scale=scale), room(whole, scale=scale)
    assert np.abs(places(found)[:, 0]) == pytest.approx(np.abs(places(full)[:, 0]), abs=0.35 * places(full)[:, 0].std())
    centre = whole.mean(axis=(0, 1))
    guess = found.filled_in["points"].to_numpy() - found.descriptors.set_index("descriptor")["centre"].loc[
        found.filled_in["descriptor"]].to_numpy()  # fmt: skip
    truth = (whole.mean(axis=1) - centre)[[3, 11], [2, 5]]
    assert guess == pytest.approx(truth, abs=0.3)


def test_three_descriptors_tell_one_axis_of_a_gap_and_no_map_has_none():
    marks = made(12, 8, 3, noise=0.1)
    marks[4, :, 1] = np.nan
    assert "from 1 axis of the other marks" in str(room(marks, fill_in=True))
    few = made(4, 8, 5, noise=0.05)
    few[0, :, 1] = np.nan  # three lots tell of a word its mean and one axis
    assert "agree on 2 axes" in (told := str(room(few, fill_in=True)))
    assert "from 1 axis of the other marks" in told
    noise = 5 + np.random.default_rng(5).normal(size=(12, 6, 5))
    noise[4, :, 1] = np.nan
    found = room(noise, fill_in=True, axes=2)
    assert "by the mean of the lots on it" in str(found)
    assert found.filled_in["points"].iloc[0] == pytest.approx(
        found.descriptors.set_index("descriptor").loc["word 00002", "centre"]
    )
    few = made(6, 1, 8)
    few[4, :, 1] = np.nan
    assert ends_told(room(few, fill_in=True)) == ["cannot tell"]


def test_parts_that_nothing_links_are_never_joined():
    marks = made(8, 8, 5)
    marks[:4, 4:] = np.nan
    marks[4:, :4] = np.nan
    found = room(marks)
    assert set(found.lots["class"]) == {"lots, part 1", "lots, part 2"}
    assert found.lots.groupby("class").size().tolist() == [4, 4]


# --- scales, pots, sessions, facts


def test_unlike_scales_are_brought_to_one_by_their_ends_on_the_sheet():
    marks = made()
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False)
    halved = marks.copy()
    halved[..., 0] /= 2
    other = cells_from_array(halved[:, :, None], np.isfinite(marks)[:, :, None], shared=False)
    ends = {"low": 0.0, "high": np.where(np.arange(5) == 0, 5.0, 10.0)}
    found = pst.map_lots(replace(other, descriptors=other.descriptors.assign(**ends)), **FAST)
    plain = pst.map_lots(cells, **FAST)
    assert places(found) == pytest.approx(places(plain))
    assert "brought to 10 points" in str(found)
    assert "brought to 10 points" not in str(plain)


def shared_room(pots, pot_sd, seed=0, lots=10, tasters=8, words=4, lot_sd=0.0):
    rng = np.random.default_rng(seed)
    marks = 5 + lot_sd * rng.normal(size=(lots, 1, 1, words)) + pot_sd * rng.normal(size=(lots, 1, pots, words))
    marks = (
        marks + 0.4 * rng.normal(size=(lots, tasters, 1, words)) + 0.5 * rng.normal(size=(lots, tasters, pots, words))
    )
    return cells_from_array(marks, np.isfinite(marks), shared=True)


def test_alike_lots_whose_pots_differ_get_no_map():
    told = [ends_told(pst.map_lots(shared_room(2, 1.0, seed), resamples=39))[0] for seed in range(12)]
    assert told.count("nothing to map") >= 10
    # without knowing of the pots the same tables would all have an axis
    own = pst.map_lots(shared_room(2, 1.0, 0).over_brews(), pots="own", resamples=39)
    assert ends_told(own) != ["nothing to map"]


def test_shared_pots_widen_the_regions_and_one_brew_is_said():
    cells = shared_room(3, 0.6, lot_sd=2.0)
    found = pst.map_lots(cells, **FAST)
    own = pst.map_lots(cells.over_brews(), pots="own", **FAST)
    assert "Regions allow for pots as well as tasters." in str(found)
    wider = found.regions["long"].mean() / own.regions["long"].mean()
    # error variance of a mean: (0.16 + 0.25 / 3) / 8 without pots, 0.36 / 3 more with them
    assert wider == pytest.approx(np.sqrt(1 + 0.12 / ((0.16 + 0.25 / 3) / 8)), rel=0.4)
    assert (found.regions["df"] < own.regions["df"]).all()
    once = pst.map_lots(shared_room(1, 0.6, lot_sd=2.0), **FAST)
    assert "One shared brew of each lot" in str(once)
    assert "what another brew would do is not in them" in str(once)


def sheet_of(marks, names, session="2031-01-01"):
    lot, taster = np.indices(marks.shape[:2]).reshape(2, -1)
    sheet = pd.DataFrame({"session": session, "lot": np.array(names)[lot], "taster": [f"t{n}" for n in taster]})
    words = [f"w{n}" for n in range(marks.shape[2])]
    return pd.concat([sheet, pd.DataFrame(marks[lot, taster].round(2), columns=words)], axis=1)


def test_sessions_are_mapped_alone_or_joined_by_the_lots_that_link_them():
    marks = made(10, 5, 4, noise=0.1)
    days = [
        sheet_of(marks[:6], [f"a{n}" for n in range(5)] + ["c"]),
        sheet_of(marks[5:] + np.array([0.5, -0.3, 0.2, 0.8]), ["c"] + [f"b{n}" for n in range(4)], "2031-01-08"),
    ]
    register = pd.DataFrame({"lot": [f"a{n}" for n in range(5)] + [f"b{n}" for n in range(4)] + ["c"],
                             "role": [""] * 9 + ["control"]})  # fmt: skip
    scores = pst.read_scores(pd.concat(days), room={"lots": register})
    alone = pst.map_lots(scores, pots="own", **FAST)
    assert set(alone.lots["lot"]) == {"c", "b0", "b1", "b2", "b3"}
    names = list(scores.sessions["session"])
    both = pst.map_lots(scores, session=names, pots="own", axes=2, **FAST)
    assert len(both.lots) == 10
    order = [f"a{n}" for n in range(5)] + ["c"] + [f"b{n}" for n in range(4)]
    x = both.lots.set_index("lot").loc[order].filter(like="axis_").to_numpy()
    truth = np.linalg.svd((m := marks.mean(axis=1)) - m.mean(axis=0), full_matrices=False)
    assert np.abs(x) == pytest.approx(np.abs(truth[0][:, :2] * truth[1][:2]), abs=0.35)
    assert both.lots.set_index("lot").loc["c", "role"] == "control"
    unlinked = pst.read_scores(pd.concat([days[0], days[1][days[1]["lot"] != "c"]]))
    parts = pst.map_lots(unlinked, session=list(unlinked.sessions["session"]), pots="own", **FAST)
    assert parts.lots["class"].nunique() == 2


def test_a_control_that_moved_shows_its_places_session_by_session():
    marks = made(10, 5, 4, noise=0.05)
    moved = np.array([1.0, -0.5, 0.0, 0.5])
    first = marks[[8, 9, 0, 1, 2, 3]]
    later = marks[[8, 9, 4, 5, 6, 7]] + moved * (np.arange(6) == 0)[:, None, None]
    days = [sheet_of(first, ["c", "d", "a0", "a1", "a2", "a3"]),
            sheet_of(later, ["c", "d", "b0", "b1", "b2", "b3"], "2031-01-08")]  # fmt: skip
    register = pd.DataFrame({"lot": ["c", "d"], "role": "control"})
    scores = pst.read_scores(pd.concat(days), room={"lots": register})
    found = pst.map_lots(scores, session=list(scores.sessions["session"]), pots="own", axes=2, **FAST)
    (plane,) = found.planes
    ways = {way.label: np.array(way.places) for way in plane.ways}
    assert set(ways) == {"c", "d"}
    # levels are tied by both controls: what one moved against the other is what the marks say, along the loadings
    loadings = found.descriptors.set_index("descriptor").loc[["w0", "w1", "w2", "w3"], ["axis_1", "axis_2"]].to_numpy()
    apart = [day[day["lot"] == "c"].filter(like="w").mean() - day[day["lot"] == "d"].filter(like="w").mean()
             for day in days]  # fmt: skip
    known = (apart[1] - apart[0]).to_numpy() @ loadings
    assert np.diff(ways["c"] - ways["d"], axis=0)[0] == pytest.approx(known, abs=1e-9)
    assert ways["c"].mean(axis=0) == pytest.approx(
        found.lots.set_index("lot").loc["c", ["axis_1", "axis_2"]].to_numpy(float), abs=1e-9
    )
    assert mapped().planes[0].ways == ()


def test_a_third_axis_has_a_picture_over_the_first_with_regions_of_its_own():
    rng = np.random.default_rng(4)
    ways = np.linalg.qr(rng.normal(size=(5, 3)))[0]
    marks = 5 + rng.normal(size=(16, 1, 3)) * [3.0, 2.0, 1.5] @ ways.T + 0.3 * rng.normal(size=(16, 6, 5))
    found = room(marks, axes=3)
    one, other = found.planes
    assert (one.axes, other.axes) == ((1, 2), (1, 3))
    table = found.lots.set_index("lot")
    assert [(spot.x, spot.y) for spot in other.spots] == [
        tuple(place) for place in table.loc[[s.label for s in other.spots], ["axis_1", "axis_3"]].to_numpy()
    ]
    assert other.up.high == found.axes["high_end"][2]
    # complete and balanced: one covariance for all lots, the half widths along the axes given in the table are on it
    oval, half = other.ovals[0], found.regions["half_1"][0]
    turned = np.radians(oval.degrees)
    assert np.hypot(oval.long * np.cos(turned), oval.short * np.sin(turned)) == pytest.approx(half)
    assert "Axis 3: one way" in other.words
    assert len(room(marks, axes=2).planes) == 1


def test_each_stage_is_shown_on_the_joint_axes_and_who_they_disagree_on_is_said():
    marks = made(12, 8, 6, seed=3, noise=0.2)
    marks[4, :, :2] += 6.0  # dry leaf alone sees this lot elsewhere
    stages = np.array(["dry", "dry", "infused", "infused", "liquor", "liquor"])
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False, stage=stages)
    found = pst.map_lots(cells, **FAST)
    (shown,) = found.stage_planes
    assert [stage for stage, _ in shown.stages] == list(found.stages.loc[found.stages["used"], "stage"])
    for stage, places in shown.stages:
        mine = found.stage_lots[found.stage_lots["stage"] == stage].set_index("lot")
        assert np.array(places) == pytest.approx(mine.loc[list(shown.lots), ["axis_1", "axis_2"]].to_numpy())
    assert "agree least on 00005" in shown.words
    assert pst.map_lots(cells, besides=False, **FAST).stage_planes == ()


def test_classes_have_a_map_each_or_one_together():
    marks = made(12, 6, 5)
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False)
    cells = replace(cells, lots=cells.lots.assign(**{"class": ["one"] * 6 + ["two"] * 6}))
    found = pst.map_lots(cells, **FAST)
    assert found.lots.groupby("class").size().to_dict() == {"one": 6, "two": 6}
    assert found.lots.groupby("class")["axis_1"].mean().to_numpy() == pytest.approx(0, abs=1e-9)
    whole = pst.map_lots(cells, within="all", **FAST)
    assert "class" not in whole.lots
    assert len(whole.lots) == 12


def test_groups_are_told_by_lots_and_words_and_otherwise_there_are_none():
    rng = np.random.default_rng(3)
    centre = np.repeat([[0, 0], [7, 0], [0, 7]], 6, axis=0) @ np.eye(2, 4)
    marks = 5 + centre[:, None] + 0.5 * rng.normal(size=(18, 1, 4)) + 0.5 * rng.normal(size=(18, 6, 4))
    found = room(marks)
    assert found.groups["size"].tolist() == [6, 6, 6]
    assert found.groups["lots"][1] == ", ".join(f"{n:05d}" for n in range(7, 13))
    assert "word 00001" in found.groups["words"][1]
    assert (found.groups["share_kept"] > 0.75).all()
    assert {spot.group for spot in found.planes[0].spots} == {1, 2, 3}
    calls = {v.question: v.call for v in room(made(12, 6, 5, seed=8)).verdicts}
    assert calls["Do the lots fall into groups?"] == "no clear groups"


def test_facts_are_laid_on_the_map_and_never_steer_it():
    marks = made(12, 6, 5, seed=2)
    plain = room(marks)
    x = places(plain)[:, 0]
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False)
    noise = np.random.default_rng(3).normal(size=12)
    told = {"price": 100 + 10 * x, "noise": noise, "grade": np.where(x > np.median(x), "leaf", "dust")}
    found = pst.map_lots(replace(cells, lots=cells.lots.assign(**told)), facts=list(told), **FAST)
    assert places(found) == pytest.approx(places(plain))
    facts = found.facts.set_index("variable")
    assert facts.loc["price", "share"] == pytest.approx(1)
    assert facts.loc["price", "slope_1"] == pytest.approx(10)
    assert facts.loc["price", "p"] == 0.01
    assert facts.loc["noise", "p_adjusted"] > 0.05
    assert facts.loc["grade", "kind"] == "category"
    between = found.lots.assign(grade=told["grade"]).groupby("grade").mean(numeric_only=True).filter(like="axis_")
    share = 6 * (between.to_numpy() ** 2).sum() / (places(found) ** 2).sum()
    assert facts.loc["grade", "share"] == pytest.approx(share)
    assert "not shown by the map: noise" in str(found)
    few = pst.map_lots(replace(cells, lots=cells.lots.assign(price=["5"] * 3 + ["6"] * 3 + [""] * 6)), **FAST)
    assert np.isnan(few.facts.loc[0, "p"])
    assert "Too few lots to tell: price" in str(few)
    with pytest.raises(pst.DesignError, match="no such column"):
        pst.map_lots(cells, facts="nothing")


def test_a_standard_of_another_class_is_not_on_the_map_and_that_is_said():
    marks = made(12, 6, 5)
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False)
    lots = cells.lots.assign(**{"class": ["one"] * 6 + ["two"] * 6, "role": ["standard"] + [""] * 11})
    found = pst.map_lots(replace(cells, lots=lots), **FAST)
    assert set(found.distances["class"]) == {"one"}
    assert "00001 is not among the lots of two." in str(found)


def test_many_lots_are_named_only_where_asked_or_far_out():
    found = room(made(60, 5, 4), lots=["00033"])
    named = [spot.label for spot in found.planes[0].spots if spot.named]
    assert "00033" in named
    assert len(named) in (8, 9)
    assert len(found.planes[0].ovals) == 1
    assert all(spot.named for spot in room(made(30, 5, 4)).planes[0].spots)
    assert room(made(30, 5, 4)).planes[0].ovals == ()
    with pytest.raises(pst.DesignError, match="no such lot"):
        room(made(), lots=["nothing"])


def test_one_taster_gets_no_map_but_the_axes_beyond_chance():
    rng = np.random.default_rng(6)
    marks = 5 + np.repeat(rng.normal(size=(30, 2)), 3, axis=1) + 0.5 * rng.normal(size=(30, 6))
    found = room(marks[:, None])
    (verdict,) = [each for each in found.verdicts if "map" in each.question]
    assert verdict.call == "cannot tell"
    assert "taster 1 alone hold 2 axes beyond" in verdict.sentence
    assert found.planes == ()
    noise = room(5 + np.random.default_rng(1).normal(size=(30, 1, 6)))
    assert "hold no axis beyond" in str(noise)
    assert "alone hold" not in str(room(made(8, 2, 4)))


def test_bounds_of_parallel_analysis_are_those_of_numpy_s_correlations():
    rng = np.random.default_rng(1)
    _, bounds = parallel_axes(rng.normal(size=(20, 5)), resamples=1999, rng=rng)
    drawn = [np.linalg.eigvalsh(np.corrcoef(rng.normal(size=(20, 5)).T))[::-1] for _ in range(2000)]
    assert bounds == pytest.approx(np.quantile(drawn, 0.95, axis=0), rel=0.02)
    # Horn (1965): at random the first axis passes its own 95th percentile one time in twenty
    found = [parallel_axes(rng.normal(size=(12, 4)), resamples=99, rng=rng)[0] > 0 for _ in range(400)]
    assert 0.02 < np.mean(found) < 0.09


def test_lots_of_another_tasting_are_placed_by_the_map_s_own_centre_and_loadings():
    marks = made(12, 6, 5, seed=8, noise=0.2)
    days = sheet_of(marks[:8], [f"a{n}" for n in range(8)]), sheet_of(marks[8:], [f"b{n}" for n in range(4)])
    old = pst.map_lots(pst.read_scores(days[0]), pots="own", axes=2, **FAST)
    kept = old.lots.set_index("lot")[["axis_1", "axis_2"]]
    again = old.place(pst.read_scores(days[0])).set_index("lot")
    assert again.loc[kept.index, ["axis_1", "axis_2"]].to_numpy() == pytest.approx(kept.to_numpy(), abs=1e-9)
    new = days[1].astype({"w4": object})
    new.loc[new["lot"] == "b0", "w4"] = ""
    placed = old.place(pst.read_scores(new)).set_index("lot")
    stored = old.descriptors.sort_values("descriptor")
    gap = days[1].groupby("lot").mean(numeric_only=True).to_numpy() - days[0].mean(numeric_only=True).to_numpy()
    turn = stored[["axis_1", "axis_2"]].to_numpy()
    assert placed.loc[["b1", "b2", "b3"], ["axis_1", "axis_2"]].to_numpy() == pytest.approx(gap[1:] @ turn, abs=1e-9)
    assert placed["words"].to_dict() == {"b0": 4, "b1": 5, "b2": 5, "b3": 5}
    # one descriptor short: scipy's least squares on the others
    known = lsq_linear(turn[:4], gap[0, :4]).x
    assert placed.loc["b0", ["axis_1", "axis_2"]].to_numpy(float) == pytest.approx(known, abs=1e-9)
    for wrong in (pst.map_lots(pst.read_scores(days[0]), pots="own", axes=2, scale="spread", **FAST), old):
        with pytest.raises(pst.DesignError):
            wrong.place(pst.read_scores(days[1].rename(columns=lambda name: name.replace("w", "other "))))


def test_words_of_one_taster_each_have_no_error_and_no_regions():
    rng, own = np.random.default_rng(1), dict(zip("abcd", ("brisk", "body", "colour", "strength"), strict=True))
    rows = [(f"L{lot}", taster, pot, *(lot + rng.normal(size=4)))
            for lot in range(6) for taster in own for pot in (1, 2)]  # fmt: skip
    table = pd.DataFrame(rows, columns=["lot", "taster", "pot", *own.values()])
    for taster, word in own.items():
        table[word] = table[word].round(1).where(table["taster"] == taster)
    found = pst.map_lots(pst.read_scores(table), standard="L0", axes=1, resamples=99)
    assert not len(found.regions)
    assert not len(found.distances)
    assert "Nothing says how sure a place is" in found.verdicts[0].sentence


def test_tasters_who_never_differ_show_no_distance():
    rows = [(f"L{lot}", taster, lot + at, lot // 2 + at) for lot in range(8) for at, taster in enumerate("abcd")]
    found = pst.map_lots(pst.read_scores(pd.DataFrame(rows, columns=["lot", "taster", "brisk", "body"])), standard="L0")
    assert not len(found.distances)
    assert "the tasters never differed" in found.verdicts[0].sentence


def test_every_session_of_a_sheet_has_its_page_and_its_map():
    """A session that is not the last of its sheet, as the page's reader names it: --session."""
    rng = np.random.default_rng(4)
    tea = rng.normal(5, 2, (6, 2))
    rows = [
        (day, f"L{lot}", taster, pot, *(tea[lot] + rng.normal(0, 0.3, 2)))
        for day in ("2031-03-04", "2031-03-11", "2031-03-18") for lot in range(6)
        for taster in ("elm", "yew", "larch", "beech") for pot in (1, 2)
    ]  # fmt: skip
    scores = pst.read_scores(pd.DataFrame(rows, columns=["session", "lot", "taster", "pot", "brisk", "body"]))
    for day in scores.sessions["session"]:
        review = pst.review_session(scores, session=day)
        assert review.session == day
        alone = pst.map_lots(scores.select(session=day))
        pd.testing.assert_frame_equal(alone.lots, pst.map_lots(scores, session=day).lots)
        assert "Map" in [title for title, _ in review.results]
