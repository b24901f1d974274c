"""The statistics under a map against print, R and general libraries; sources in tests/published/maps/README.md."""

import itertools
import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.distance import pdist, squareform
from statsmodels.multivariate.manova import MANOVA
from statsmodels.multivariate.pca import PCA

from panelstats.models import axistest, clusters, filling, procrustes, regions, stagejoin
from panelstats.models.filling import filled_in
from panelstats.models.manova import Squares, manova, roots, squares
from panelstats.models.principal import anchored, cube_signs, matched, principal_axes

FOLDER = Path(__file__).parents[1] / "published" / "maps"


def truth(name):
    return json.loads((FOLDER / f"{name}.json").read_text())


def frame(name):
    return pd.read_csv(FOLDER / f"{name}.csv")


IRIS, PANEL = truth("iris"), truth("invented_panel")


def invented():
    """Marks (taster, lot, descriptor) of the invented panel, replicates averaged, and the single marks."""
    table = frame("invented_panel")
    means = table.groupby(["taster", "lot"])[PANEL["descriptors"]].mean()
    return means.to_numpy().reshape(5, 6, 7), table


def flowers():
    table = frame("iris")
    return table.iloc[:, :4].to_numpy(float), table["Species"].to_numpy(str)


def grouped(x, label):
    """Squares and products between and within groups."""
    names = np.unique(label)
    means = np.array([x[label == name].mean(axis=0) for name in names])
    sizes = np.array([(label == name).sum() for name in names])
    away = means - x.mean(axis=0)
    rest = x - means[np.searchsorted(names, label)]
    return Squares((away.T * sizes) @ away, rest.T @ rest, len(names) - 1, len(x) - len(names)), means


# --- principal axes


@pytest.mark.parametrize("axes", [1, 2])
def test_gaps_are_filled_as_statsmodels_fills_them(axes):
    table = flowers()[0][::6].copy()  # 25 flowers; iris, Fisher 1936
    table[[0, 7, 12, 20], [3, 1, 2, 0]] = np.nan
    gap = np.isnan(table)

    def theirs(centred):  # it centres once, by the numbers that are there; here it is told the mean of what is filled
        asked = {"ncomp": axes, "standardize": False, "demean": False, "tol_em": 1e-12, "max_em_iter": 20_000}
        return PCA(centred, missing="fill-em", **asked).projection[gap]

    found = filled_in(table, axes=axes)
    mean = found.mean(axis=0)
    assert (found - mean)[gap] == pytest.approx(theirs(table - mean), abs=1e-6)
    assert (found[~gap] == table[~gap]).all()
    sd = np.nanstd(table, axis=0)
    scaled = filled_in(table, axes=axes, scale=np.diag(1 / sd))
    mean = scaled.mean(axis=0)
    assert ((scaled - mean) / sd)[gap] == pytest.approx(theirs((table - mean) / sd), abs=1e-6)
    assert np.abs(scaled[gap] - found[gap]).max() > 1e-3


def test_gaps_of_a_table_of_two_axes_are_found_again_and_of_none_are_means(monkeypatch):
    rng = np.random.default_rng(0)
    whole = rng.normal(size=(12, 2)) @ rng.normal(size=(2, 6)) + 5
    table = whole.copy()
    table[[1, 1, 5], [0, 3, 2]] = np.nan
    assert filled_in(table, axes=2) == pytest.approx(whole, abs=1e-6)
    assert filled_in(table, axes=0)[5, 2] == pytest.approx(np.nanmean(table[:, 2]))
    monkeypatch.setattr(filling, "ROUNDS", 3)
    assert filled_in(table, axes=2) is None


def test_principal_axes_of_the_handbook_table_agree_with_print():
    x, known = frame("handbook_pca").to_numpy(float), truth("handbook_pca")
    found = principal_axes(x / x.std(axis=0, ddof=1))
    assert found.variance == pytest.approx(known["eigenvalues"], rel=1e-6)
    loadings = np.array(known["loadings_columns_are_axes_sign_arbitrary"])
    assert np.abs(found.loadings) == pytest.approx(np.abs(loadings), abs=1e-8)


@pytest.mark.parametrize("scale", ["covariance", "correlation"])
def test_principal_axes_of_iris_agree_with_r_on_both_scales(scale):
    x, _ = flowers()
    found = principal_axes(x if scale == "covariance" else x / x.std(axis=0, ddof=1))
    assert found.variance == pytest.approx(IRIS[f"pca_{scale}_eigenvalues"], rel=1e-7)
    assert found.share.sum() == pytest.approx(1)
    loadings = np.array(IRIS[f"pca_{scale}_loadings_sign_arbitrary"])
    assert np.abs(found.loadings) == pytest.approx(np.abs(loadings), abs=1e-8)


def test_principal_axes_of_the_invented_panel_agree_with_r_and_point_by_the_sum_of_cubes():
    marks, _ = invented()
    known = PANEL["pca_covariance"]
    assert marks.mean(axis=0) == pytest.approx(np.array(PANEL["lot_means"]))
    found = principal_axes(marks.mean(axis=0))
    assert found.variance == pytest.approx(known["eigenvalues"], abs=1e-8)
    assert found.loadings == pytest.approx(np.array(known["loadings"]), abs=1e-8)
    assert found.scores == pytest.approx(np.array(known["scores"]), abs=1e-8)
    columns = marks.mean(axis=0)
    scaled = principal_axes(columns / columns.std(axis=0, ddof=1))
    assert scaled.variance == pytest.approx(PANEL["pca_correlation_eigenvalues"], abs=1e-8)


def test_a_table_without_spread_has_no_axes():
    assert principal_axes(np.full((4, 3), 0.1)).variance.shape == (0,)


def test_an_exact_tie_of_cubes_falls_to_the_first_column():
    axis = np.array([[-1.0], [1.0]]) / np.sqrt(2)
    assert cube_signs(axis).tolist() == [-1.0]
    assert cube_signs(axis[::-1]).tolist() == [1.0]


def test_an_anchor_points_up_its_axis():
    axes = principal_axes(invented()[0].mean(axis=0))
    down = int(np.argmin(axes.loadings[:, 1]))
    turned = anchored(axes, [0, down])
    assert turned.loadings[down, 1] > 0
    assert turned.scores[:, 1] == pytest.approx(-axes.scores[:, 1])
    assert turned.scores[:, 0] == pytest.approx(axes.scores[:, 0])


def test_a_stored_map_decides_order_and_direction_and_where_asked_the_turn():
    axes = principal_axes(invented()[0].mean(axis=0))
    swapped = -axes.loadings[:, [1, 0]]
    found = matched(axes, swapped, count=2, rotate=False)
    assert found.loadings[:, :2] == pytest.approx(swapped)
    assert found.variance[:2] == pytest.approx(axes.variance[[1, 0]])
    angle = np.radians(30)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    back = matched(axes, axes.loadings[:, :2] @ turn, count=2, rotate=True)
    assert back.loadings[:, :2] == pytest.approx(axes.loadings[:, :2] @ turn)
    assert back.variance.sum() == pytest.approx(axes.variance.sum())
    assert back.share.sum() == pytest.approx(1)
    cosines = np.linalg.svd(back.loadings[:, :2].T @ axes.loadings[:, :2], compute_uv=False)
    assert cosines == pytest.approx([1, 1])  # turned within the plane alone


tables = st.integers(3, 7).flatmap(
    lambda lots: st.integers(2, 5).flatmap(
        lambda words: st.lists(
            st.lists(st.integers(0, 20).map(lambda n: n / 2), min_size=words, max_size=words),
            min_size=lots, max_size=lots,
        )
    )
)  # fmt: skip


@given(tables)
@settings(max_examples=40)
def test_distances_between_lots_stay_in_points_on_all_axes_together(rows):
    x = np.array(rows)
    found = principal_axes(x)
    assert pdist(found.scores if found.scores.size else np.zeros((len(x), 1))) == pytest.approx(pdist(x), abs=1e-8)


# --- MANOVA and canonical axes


@pytest.mark.parametrize("name", ["Wilks", "Pillai", "Hotelling-Lawley", "Roy"])
def test_four_statistics_of_iris_agree_with_r(name):
    (found,) = [line for line in manova(grouped(*flowers())[0]) if line.name == name]
    known = IRIS["manova"][name]
    assert found.value == pytest.approx(known[name], rel=1e-10)
    assert (found.f, found.df, found.df_error) == pytest.approx(
        (known["approx F"], known["num Df"], known["den Df"]), rel=1e-9
    )
    assert found.p == pytest.approx(known["Pr(>F)"], rel=1e-6)


def test_lots_are_held_against_lot_by_taster_and_never_against_replicates():
    marks, singles = invented()
    found = squares(marks)
    assert (found.df, found.df_error) == (5, 20)
    assert found.error == pytest.approx(np.array(PANEL["E_lot_by_taster_on_taster_means"]), abs=1e-8)
    assert found.between == pytest.approx(np.array(PANEL["H_lot_on_taster_means"]), abs=1e-8)
    for line in manova(found):
        known = PANEL["manova_lot_against_lot_by_taster"][line.name]
        assert (line.value, line.f, line.df, line.df_error, line.p) == pytest.approx(
            (known[line.name], known["approx F"], known["num Df"], known["den Df"], known["Pr(>F)"]), rel=1e-8
        )
    wrong = PANEL["manova_lot_against_replicate_error_WRONG_for_lots"]
    assert abs(manova(found)[0].f - wrong["approx F"]) > 5
    means = pd.DataFrame(marks.reshape(30, 7), columns=PANEL["descriptors"])
    means["lot"], means["taster"] = np.tile(PANEL["lots"], 5), np.repeat(list("abcde"), 6)
    theirs = MANOVA.from_formula(f"{' + '.join(PANEL['descriptors'])} ~ lot + taster", means).mv_test()
    wilks = theirs.results["lot"]["stat"].loc["Wilks' lambda", "Value"]
    assert manova(found)[0].value == pytest.approx(float(wilks), rel=1e-8)
    assert len(singles) == 60


def test_canonical_axes_agree_with_print_and_with_distances_between_species():
    found, means = grouped(*flowers())
    values, vectors = roots(found)
    assert values[:2] == pytest.approx(IRIS["canonical_eigenvalues"], rel=1e-8)
    centroids = (means - means.mean(axis=0)) @ vectors[:, :2]
    assert np.abs(centroids) == pytest.approx(np.abs(IRIS["canonical_group_centroids_sign_arbitrary"]), rel=1e-7)
    known = list(IRIS["squared_mahalanobis_between_species"].values())
    assert pdist(centroids) ** 2 == pytest.approx(known, rel=1e-8)
    assert roots(squares(invented()[0]))[0][:5] == pytest.approx(PANEL["canonical_eigenvalues"], rel=1e-8)


# --- regions and distances


def test_t_squared_of_the_sweat_data_agrees_with_print():
    x, known = frame("hotelling").to_numpy(float), truth("hotelling")
    found = regions.t_squared(x.mean(axis=0) - known["target"], np.cov(x.T) / len(x), len(x) - 1)
    assert found.t_squared == pytest.approx(9.74, abs=0.005)
    assert (found.t_squared, found.f, found.p) == pytest.approx((known["T2"], known["F"], known["p"]), rel=1e-7)
    assert [found.df, found.df_error] == known["df"]
    assert regions.radius_squared(3, 19, 0.90) == pytest.approx(known["T2_critical_10pc"], rel=1e-8)


def test_limits_of_noncentrality_agree_with_r_and_never_fail_far_out():
    known = truth("hotelling")["noncentral_interval"]
    low, high = regions.noncentral_limits(5.0, 4, 74, 0.95)
    assert (low, high) == pytest.approx((known["lower"], known["upper"]), rel=1e-7)
    assert regions.noncentral_limits(0.2, 4, 74, 0.95)[0] == 0
    far = regions.noncentral_limits(900.0, 4, 74, 0.95)
    assert far[0] < 3600 < far[1] < 6000


def test_the_radius_comes_to_chi_square_where_the_error_is_known():
    assert np.sqrt(regions.radius_squared(2, 1e9, 0.95) / 50) == pytest.approx(
        IRIS["radius_95_mean_known_covariance"], rel=1e-6
    )
    assert np.isinf(regions.radius_squared(3, 2, 0.95))


def test_an_ellipse_holds_the_level_of_its_normal_points():
    rng = np.random.default_rng(4)
    covariance = np.array([[2.0, 0.8], [0.8, 1.0]])
    radius = regions.radius_squared(2, 1e9, 0.95)
    found = regions.ellipses(covariance[None], radius)
    turn = np.radians(found.degrees[0])
    x = rng.multivariate_normal([0, 0], covariance, 20_000)
    along = x @ [np.cos(turn), np.sin(turn)]
    across = x @ [-np.sin(turn), np.cos(turn)]
    inside = (along / found.long[0]) ** 2 + (across / found.short[0]) ** 2 <= 1
    assert inside.mean() == pytest.approx(0.95, abs=4 * np.sqrt(0.95 * 0.05 / 20_000))


# --- how many axes


def test_grams_of_relabelled_lots_are_those_of_every_order_there_is():
    marks, _ = invented()
    two = (marks - marks.mean(axis=1, keepdims=True))[:2, :3]
    two = two - two.mean(axis=1, keepdims=True)
    seen = np.ones(two.shape, bool)
    observed, drawn = axistest.relabelled(two, seen, np.zeros(3, int), resamples=400, rng=np.random.default_rng(0))
    mean = two.mean(axis=0)
    assert observed == pytest.approx(mean.T @ mean)
    every = [(two[0] + two[1][list(order)]) / 2 for order in itertools.permutations(range(3))]
    tops = {round(float(np.linalg.svd(x)[1][0] ** 2), 8) for x in every}
    found = {round(float(x), 8) for x in np.linalg.eigvalsh(drawn)[:, -1]}
    assert found == tops
    best = max(tops)
    chance = np.mean([round(float(np.linalg.svd(x)[1][0] ** 2), 8) >= best for x in every])
    p = axistest.axis_p(np.diag([best, 0, 0, 0, 0, 0, 0]), drawn, most=1)
    assert p[0] == pytest.approx(chance, abs=4 * np.sqrt(chance * (1 - chance) / 400))


def test_axes_are_read_up_to_the_first_that_fails():
    assert axistest.trusted(np.array([0.01, 0.2, 0.01]), 0.05) == 1
    assert axistest.trusted(np.array([0.01, 0.02]), 0.05) == 2
    assert axistest.trusted(np.array([np.nan, 0.01]), 0.05) == 0


def told(marks, rng):
    return axistest.relabelled(marks, np.ones(marks.shape, bool), np.zeros(marks.shape[1], int), resamples=199, rng=rng)


def test_the_axis_test_finds_the_axes_of_the_invented_panel_and_none_in_noise():
    marks, _ = invented()
    centred = marks - marks.mean(axis=1, keepdims=True)
    rng = np.random.default_rng(1)
    p = axistest.axis_p(*told(centred, rng), most=3)
    assert axistest.trusted(p, 0.05) == 2
    noise = rng.normal(size=marks.shape)
    noise -= noise.mean(axis=1, keepdims=True)
    p = axistest.axis_p(*told(noise, rng), most=1)
    assert p[0] > 0.05


def test_alike_lots_whose_shared_pots_differ_show_no_axis_when_the_pots_are_dealt_again():
    rng = np.random.default_rng(3)
    shown = 0
    for _ in range(60):
        pots = rng.normal(size=(16, 3))
        observed, drawn = axistest.dealt(pots, np.repeat(np.arange(8), 2), np.zeros((3, 8, 3)), resamples=99, rng=rng)
        shown += axistest.trusted(axistest.axis_p(observed, drawn, most=1), 0.05)
    assert shown <= 60 * 0.05 + 4 * np.sqrt(60 * 0.05 * 0.95)


def test_lots_change_places_within_their_block_only():
    marks = np.zeros((3, 4, 2))
    marks[:, 2:] = 5.0
    marks[:, 3] += 1.0
    observed, drawn = axistest.relabelled(
        marks, np.ones(marks.shape, bool), np.array([0, 0, 1, 1]), resamples=50, rng=np.random.default_rng(0)
    )
    # half a point either way in one block of two: whatever is drawn, blocks never mix
    assert np.trace(observed) == pytest.approx(2 * (0.5**2 + 0.5**2))
    assert drawn.max() <= observed.max() + 1e-12
    assert drawn.min() >= 0


def test_marks_that_are_missing_count_nothing_and_move_with_their_row():
    marks, _ = invented()
    centred = marks - marks.mean(axis=1, keepdims=True)
    seen = np.ones(centred.shape, bool)
    seen[2, 4], seen[1, 3, 2] = False, False
    filled = np.where(seen, centred, 99.0)
    observed, drawn = axistest.relabelled(filled, seen, np.zeros(6, int), resamples=20, rng=np.random.default_rng(0))
    centred = np.where(seen, centred, np.nan)
    mean = np.nanmean(centred - np.nanmean(centred, axis=1, keepdims=True), axis=0)
    mean -= mean.mean(axis=0)
    assert observed == pytest.approx(mean.T @ mean)
    assert drawn.max() < 100


# --- the shared picture


def test_generalised_procrustes_of_the_invented_panel_agrees_with_r():
    marks, known = invented()[0], PANEL["procrustes_consensus"]
    plain = procrustes.shared_picture(marks, rotate=False, scale=False)
    assert plain.share == pytest.approx(known["raw_proportion_no_rotation"], abs=1e-8)
    turned = procrustes.shared_picture(marks, scale=False)
    assert turned.share == pytest.approx(known["with_rotation_no_scale"], abs=1e-7)
    found = procrustes.shared_picture(marks)
    assert found.share == pytest.approx(known["with_rotation_and_scale"], abs=1e-7)
    assert found.scale == pytest.approx(known["taster_scale_factors"], abs=1e-5)
    size = np.linalg.svd(found.mean, compute_uv=False)[:5] ** 2
    # printed as shares of the squares of all tables
    assert found.share * size / size.sum() == pytest.approx(known["consensus_sum_of_squares_by_axis_share"], abs=1e-6)
    chance = procrustes.chance_shares(marks, resamples=60, rng=np.random.default_rng(1), scale=False)
    assert np.median(chance) == pytest.approx(known["permutation_null_median_and_95pc"][0], abs=0.03)
    assert (chance < turned.share).all()


def test_rotation_makes_noise_agree_as_much_as_was_measured():
    rng = np.random.default_rng(2)
    shares = [procrustes.shared_picture(rng.normal(size=(5, 6, 7)), scale=False).share for _ in range(60)]
    (row,) = [r for r in truth("simulations")["chance_consensus_after_rotation"]["rows"] if r["tasters"] == 5]
    assert np.mean(shares) == pytest.approx(row["mean"], abs=0.03)


# --- stages together


def test_the_joint_map_of_stages_agrees_with_r():
    means, known = np.array(PANEL["lot_means"]), PANEL["stage_map"]
    at = [[PANEL["descriptors"].index(name) for name in names] for names in PANEL["stages"].values()]
    parts = [means[:, some] for some in at]
    found = stagejoin.joint_axes(parts)
    assert found.first == pytest.approx(known["first_eigenvalue_per_stage"], abs=1e-8)
    assert found.values == pytest.approx(known["eigenvalues"], abs=1e-8)
    assert np.abs(found.scores) == pytest.approx(np.abs(known["lot_coordinates_sign_arbitrary"]), abs=1e-7)
    assert found.places.mean(axis=0) == pytest.approx(found.scores)
    partial = np.abs(known["partial_coordinates_sign_as_above"]).reshape(6, 3, -1)
    assert np.abs(found.places.transpose(1, 0, 2)) == pytest.approx(partial, abs=1e-7)
    for a, b in itertools.combinations(range(3), 2):
        rv, lg = stagejoin.likeness(parts[a], parts[b])
        assert rv == pytest.approx(known["RV_dry_infused_liquor_all"][a][b], abs=1e-8)
        assert lg == pytest.approx(known["Lg_dry_infused_liquor_all"][a][b], abs=1e-8)


def test_likeness_of_unlike_tables_is_no_more_than_chance():
    rng = np.random.default_rng(5)
    one = rng.normal(size=(8, 3))
    assert stagejoin.likeness_p(one, rng.normal(size=(8, 3)), resamples=99, rng=rng) > 0.05
    assert stagejoin.likeness_p(one, one + 0.1 * rng.normal(size=(8, 3)), resamples=99, rng=rng) == 0.01


# --- groups


def test_ward_heights_and_silhouettes_agree_with_r():
    states = frame("usarrests").iloc[:, 1:].to_numpy(float)
    tree, known = clusters.ward(states), truth("usarrests_ward")
    assert tree[:5, 2] == pytest.approx(known["first5"], rel=1e-8)
    assert tree[-10:, 2] == pytest.approx(known["last10"], rel=1e-8)
    assert sorted(np.bincount(clusters.divided(tree, 3))) == known["cut_3_sizes"]
    assert clusters.ward(np.array(PANEL["lot_means"]))[:, 2] == pytest.approx(PANEL["ward"]["heights"], rel=1e-8)
    x, _ = flowers()
    distance = squareform(pdist(x))
    for count in (2, 3):
        each = clusters.silhouettes(distance, clusters.divided(clusters.ward(x), count))
        assert each.mean() == pytest.approx(IRIS[f"mean_silhouette_ward_{count}"], rel=1e-8)


def test_groups_are_found_where_they_are_and_not_in_a_cloud():
    rng = np.random.default_rng(7)
    cloud = rng.normal(size=(27, 2))
    assert clusters.find_groups(cloud, resamples=49, rng=rng).p > 0.05
    assert clusters.find_groups(rng.uniform(size=(27, 2)), resamples=49, rng=rng).p > 0.05
    centres = np.array([[0, 0], [6, 0], [3, 5.2]])
    three = np.repeat(centres, 9, axis=0) + rng.normal(size=(27, 2))
    found = clusters.find_groups(three, resamples=49, rng=rng)
    assert (found.p, found.count) == (0.02, 3)
    again = [clusters.best_division(three + 0.2 * rng.normal(size=three.shape))[1] for _ in range(5)]
    assert clusters.stability(found.label, again).min() > 0.75
    assert clusters.stability(found.label, [found.label[::-1]]).max() <= 1
