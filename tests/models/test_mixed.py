import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import panelstats as pst
from panelstats.models.blocks import blocks, for_random_lots
from panelstats.models.degrees import LotEffects, lot_predictions
from panelstats.models.estimable import estimable
from panelstats.models.meansquares import mean_squares, variances
from panelstats.models.mixed import fit
from panelstats.models.reml import LOT, SOURCES, criterion
from tests.kept import rooms
from tests.models.published import panel

OWN = ["machines", "machines_unbalanced", "unbalanced", "gauge", "penicillin", "disconnected"]
SHARED = ["shared_pots_balanced", "shared_pots_unbalanced", "shared_pots_two_lots"]
# Tolerances of tests/published/models/README.md; we reach 1e-12 on all of them.
CLOSE = 1e-9


def fitted(name, *, lots_random=False):
    data = panel(name)
    b = blocks(data.looks, data.mean, np.zeros(data.mean.shape), pots=name in SHARED)
    held = estimable(b, np.ones(len(data.descriptors))).held
    if lots_random:
        held[:, LOT] = False
    return data, fit(for_random_lots(b) if lots_random else b, held, lots_random=lots_random)


def published_variances(entry):
    return [entry["variances"].get(source) or 0.0 for source in SOURCES]


@pytest.mark.parametrize("name", OWN + SHARED)
def test_reml_equals_the_published_likelihood_and_variances(name):
    data, found = fitted(name)
    for d, descriptor in enumerate(data.descriptors):
        entry = data.truth[descriptor]
        assert found.loglik[d] == pytest.approx(entry["reml_loglik"], abs=1e-9)
        np.testing.assert_allclose(found.variances[d], published_variances(entry), rtol=CLOSE, atol=1e-12)


@pytest.mark.parametrize("name", OWN + SHARED)
def test_lot_test_means_and_pairs_equal_the_published(name):
    data, found = fitted(name)
    effects = LotEffects(found)
    test = effects.test(np.ones(len(data.lots), bool))
    for d, descriptor in enumerate(data.descriptors):
        entry = data.truth[descriptor]
        got = [test.statistic[d], test.df[d], test.df_error[d], test.p[d]]
        np.testing.assert_allclose(got, [entry["lot_test"][key] for key in ("F", "ndf", "ddf", "p")], rtol=1e-8)
        means = effects.means(d)
        order = [data.lots[lot] for lot in found.blocks.row_lot[effects.rows_of(d)]]
        published = pd.DataFrame(entry["lot_means"]).set_index("lot").loc[order]
        np.testing.assert_allclose(means.estimate, published["mean"], rtol=CLOSE)
        np.testing.assert_allclose(means.se, published["se"], rtol=CLOSE)
        if "df" in published:
            np.testing.assert_allclose(means.df, published["df"], rtol=CLOSE)
        for pair in entry.get("pairs", []):
            one = effects.pairs(d, np.array([order.index(pair["a"])]), np.array([order.index(pair["b"])]))
            np.testing.assert_allclose(one.estimate, pair["estimate"], rtol=1e-8, atol=1e-12)
            np.testing.assert_allclose([one.se[0], one.df[0]], [pair["se"], pair["df"]], rtol=CLOSE)


@pytest.mark.parametrize("name", OWN + SHARED)
def test_deviations_from_the_mean_of_all_lots_follow_from_means_and_pairs(name):
    """Var(m_i) and Var(m_i - m_j), which the published values hold, give all covariances; L V L' for L = I - 1/p."""
    data, found = fitted(name)
    effects = LotEffects(found)
    for d in range(len(data.descriptors)):
        means = effects.means(d)
        p = len(means.se)
        one, two = (each.ravel() for each in np.indices((p, p)))
        apart = (effects.pairs(d, one, two).se ** 2).reshape(p, p)
        own = means.se**2
        V = (own[:, None] + own - np.where(np.eye(p), 0.0, apart)) / 2
        L = np.eye(p) - 1 / p
        away = effects.deviations(d)
        np.testing.assert_allclose(away.se**2, np.diag(L @ V @ L.T), rtol=1e-7)
        np.testing.assert_allclose(away.estimate, L @ means.estimate, atol=1e-12)


@pytest.mark.parametrize("name", [name for name in OWN + SHARED if name not in ("gauge", "disconnected")])
def test_random_lots_equal_the_published_predictions(name):
    data, found = fitted(name, lots_random=True)
    prediction, _ = lot_predictions(found)
    for d, descriptor in enumerate(data.descriptors):
        if "random_lot" not in data.truth[descriptor]:
            continue
        entry = data.truth[descriptor]["random_lot"]
        assert found.loglik[d] == pytest.approx(entry["reml_loglik"], abs=1e-9)
        np.testing.assert_allclose(found.variances[d], published_variances(entry), rtol=1e-8, atol=1e-12)
        rows = np.flatnonzero(found.blocks.row_descriptor == d)
        expected = [entry["blup"][data.lots[lot]] for lot in found.blocks.row_lot[rows]]
        np.testing.assert_allclose(prediction[rows], expected, atol=1e-8)


def dense_criterion(looks, y, theta, *, pots, lots_random):
    """-2 log restricted likelihood by n x n matrices, straight from its definition."""
    lot, taster, pot = np.nonzero(looks[..., 0])
    score = y[lot, taster, pot, 0]

    def same(*keys):
        code = np.ravel_multi_index(keys, [int(key.max()) + 1 for key in keys])
        return (code[:, None] == code).astype(float)

    s_t, s_x, s_p, s_l, s_e = theta
    V = s_t * same(taster) + s_x * same(lot, taster) + s_e * np.eye(len(score))
    V += s_p * same(lot, pot) if pots else 0.0
    X = np.ones((len(score), 1)) if lots_random else (lot[:, None] == np.unique(lot)).astype(float)
    V += s_l * same(lot) if lots_random else 0.0
    W = np.linalg.inv(V)
    XWX = X.T @ W @ X
    r = score - X @ np.linalg.solve(XWX, X.T @ W @ score)
    log = np.linalg.slogdet(V)[1] + np.linalg.slogdet(XWX)[1]
    return (len(score) - X.shape[1]) * np.log(2 * np.pi) + log + r @ W @ r


@pytest.mark.parametrize("pots", [True, False])
@pytest.mark.parametrize("lots_random", [True, False])
def test_criterion_and_derivatives_equal_dense_matrices(pots, lots_random):
    rng = np.random.default_rng(7)
    looks = (rng.random((5, 4, 3, 1)) < 0.75).astype(int)
    y = np.where(looks > 0, rng.normal(5, 2, looks.shape), 0)
    theta = np.array([[0.7, 0.4, 0.3 if pots else 0.0, 0.9 if lots_random else 0.0, 1.1]])
    b = blocks(looks, y, np.zeros(y.shape), pots=pots)
    b = for_random_lots(b) if lots_random else b
    found = criterion(b, theta, lots_random=lots_random)
    dense = dense_criterion(looks, y, theta[0], pots=pots, lots_random=lots_random)
    assert found.value[0] == pytest.approx(dense, abs=1e-9)
    moving = [k for k in range(5) if theta[0, k] > 0]
    for k in moving:
        step = np.zeros((1, 5))
        step[0, k] = 1e-4
        up, down = (criterion(b, theta + s * step, lots_random=lots_random) for s in (1, -1))
        slope = (up.value - down.value) / 2e-4
        assert found.gradient[0, k] == pytest.approx(slope[0], rel=1e-5, abs=1e-6)
        curve = (up.gradient - down.gradient)[0] / 2e-4
        hessian = (2 * found.average - found.expected)[0, k]
        np.testing.assert_allclose(hessian[moving], curve[moving], rtol=1e-5, atol=1e-5)


@pytest.mark.parametrize("shared", [True, False])
def test_closed_form_equals_the_iteration_on_and_off_the_bounds(shared):
    rng = np.random.default_rng(3)
    at_bound = 0
    for _ in range(60):
        lots, tasters, pots = rng.integers(2, 6), rng.integers(2, 6), rng.integers(2, 4)
        sd = rng.choice([0.0, 0.3, 1.0], 3)
        y = rng.normal(0, 0.7, (lots, tasters, pots, 2)) + rng.normal(0, 1, (lots, 1, 1, 2))
        y += rng.normal(0, sd[0], (1, tasters, 1, 2)) + rng.normal(0, sd[1], (lots, tasters, 1, 2))
        y += rng.normal(0, sd[2], (lots, 1, pots, 2)) if shared else 0.0
        closed = variances(mean_squares(y, shared=shared))
        b = blocks(np.ones(y.shape, int), y, np.zeros(y.shape), pots=shared)
        found = fit(b, estimable(b, np.ones(2)).held)
        np.testing.assert_allclose(found.variances, closed, atol=1e-8)
        at_bound += int((closed[:, : 3 if shared else 2] == 0).any())
    assert at_bound > 20


def test_mean_squares_equal_the_published():
    data = panel("machines")
    ms = mean_squares(data.mean, shared=False)
    for ours, theirs in (("lot", "lot"), ("taster", "taster"), ("lot_taster", "lot_taster"), ("error", "within")):
        assert getattr(ms, ours)[0] == pytest.approx(data.truth["score"]["mean_squares"][theirs], rel=1e-12)


def test_reml_equals_a_general_library_on_one_descriptor():
    """statsmodels MixedLM with variance components, one group (reference library)."""
    import statsmodels.api as sm

    data, found = fitted("machines_unbalanced")
    lot, taster, pot, _ = np.nonzero(data.looks)
    table = pd.DataFrame({"y": data.mean[lot, taster, pot, 0], "lot": lot, "taster": taster, "g": 1})
    model = sm.MixedLM.from_formula(
        "y ~ C(lot)",
        groups="g",
        vc_formula={"taster": "0 + C(taster)", "lot_taster": "0 + C(lot):C(taster)"},
        re_formula="0",
        data=table,
    )
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it warns of its own boundary; the numbers are compared below
        reference = model.fit(reml=True, method="lbfgs")
    by_name = dict(zip(model.exog_vc.names, reference.vcomp, strict=True))
    np.testing.assert_allclose(found.variances[0, :2], [by_name["taster"], by_name["lot_taster"]], rtol=1e-3)
    assert found.variances[0, 4] == pytest.approx(reference.scale, rel=1e-3)
    # the library's likelihood leaves out the constant of the fixed effects' determinant in no case: equal to 1e-5
    assert found.loglik[0] == pytest.approx(reference.llf, abs=1e-4)


@st.composite
def panels(draw):
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    shape = (draw(st.integers(2, 5)), draw(st.integers(2, 4)), draw(st.integers(2, 3)), 2)
    looks = np.broadcast_to(rng.random((*shape[:3], 1)) < 0.85, shape).astype(int)
    looks[:, :2, :2] = 1
    y = rng.normal(5, 0.7, shape) + rng.normal(0, 1, (shape[0], 1, 1, 2)) + rng.normal(0, 0.5, (1, shape[1], 1, 2))
    return looks, np.where(looks > 0, y + rng.normal(0, 0.4, (shape[0], 1, shape[2], 2)), 0.0), rng


def lot_test_of(looks, y, *, pots=True):
    b = blocks(looks, y, np.zeros(y.shape), pots=pots)
    effects = LotEffects(fit(b, estimable(b, np.ones(y.shape[-1])).held))
    return effects, effects.test(np.ones(len(y), bool))


@settings(max_examples=25, deadline=None)
@given(panels(), st.integers(-5, 5), st.sampled_from([0.1, 1.0, 10.0]))
def test_shift_and_scale_leave_the_lot_test(drawn, shift, scale):
    looks, y, _ = drawn
    _, before = lot_test_of(looks, y)
    _, after = lot_test_of(looks, np.where(looks > 0, (y + shift) * scale, 0.0))
    np.testing.assert_allclose(after.statistic, before.statistic, rtol=1e-6)
    np.testing.assert_allclose(after.df_error, before.df_error, rtol=1e-4)


@settings(max_examples=25, deadline=None)
@given(panels())
def test_relabelling_pots_lots_and_tasters_changes_nothing(drawn):
    looks, y, rng = drawn
    _, before = lot_test_of(looks, y)
    lots, tasters = rng.permutation(looks.shape[0]), rng.permutation(looks.shape[1])
    looks2, y2 = looks[lots][:, tasters].copy(), y[lots][:, tasters].copy()
    for lot in range(len(looks2)):
        order = rng.permutation(looks2.shape[2])
        looks2[lot], y2[lot] = looks2[lot][:, order], y2[lot][:, order]
    _, after = lot_test_of(looks2, y2)
    np.testing.assert_allclose(after.statistic, before.statistic, rtol=1e-6)
    np.testing.assert_allclose(after.df_error, before.df_error, rtol=1e-4)


def test_swapping_pot_labels_of_one_taster_changes_the_answer():
    looks, y = np.ones((4, 5, 2, 1), int), panel("shared_pots_two_lots").mean[:1]
    rng = np.random.default_rng(1)
    y = rng.normal(5, 0.3, looks.shape) + rng.normal(0, 1, (4, 1, 2, 1))
    swapped = y.copy()
    swapped[:, 0] = swapped[:, 0][:, ::-1]
    assert abs(lot_test_of(looks, y)[1].statistic[0] - lot_test_of(looks, swapped)[1].statistic[0]) > 1e-3


@settings(max_examples=25, deadline=None)
@given(panels())
def test_own_pots_as_distinct_brews_equal_the_collapsed_cells(drawn):
    """Brews that each serve one taster, pot component held at 0, are the model of cells."""
    looks, y, _ = drawn
    lots, tasters, pots, d = looks.shape
    wide = np.zeros((lots, tasters, tasters * pots, d), int)
    wide_y = np.zeros(wide.shape)
    for taster in range(tasters):
        part = slice(taster * pots, (taster + 1) * pots)
        wide[:, taster, part], wide_y[:, taster, part] = looks[:, taster], y[:, taster]
    _, own = lot_test_of(looks, y, pots=False)
    b = blocks(wide, wide_y, np.zeros(wide.shape), pots=True)
    held = estimable(b, np.ones(d)).held
    held[:, 2] = True
    distinct = LotEffects(fit(b, held)).test(np.ones(lots, bool))
    np.testing.assert_allclose(distinct.statistic, own.statistic, rtol=1e-7)


def test_many_incidences_use_the_mean_df(monkeypatch):
    from panelstats.models import degrees

    rng = np.random.default_rng(2)
    looks = (rng.random((30, 6, 2, 1)) < 0.8).astype(int)
    looks[:, 0] = 1
    y = np.where(looks > 0, rng.normal(5, 1, looks.shape), 0.0)
    _, exact = lot_test_of(looks, y)
    monkeypatch.setattr(degrees, "MOST_INCIDENCES", 5)
    _, rough = lot_test_of(looks, y)
    assert rough.df_error[0] != exact.df_error[0]
    assert rough.df_error[0] == pytest.approx(exact.df_error[0], rel=0.1)


def test_groups_of_one_descriptor_each_may_come_in_any_order():
    rng, shape = np.random.default_rng(5), (9, 5, 2, 3)
    looks = (rng.random(shape) < 0.8).astype(int)
    y = rng.normal(5, [0.2, 1.0, 3.0], shape) + rng.normal(0, 1, (9, 5, 1, 3))
    b = blocks(looks, np.where(looks > 0, y, 0.0), np.zeros(shape), pots=True)
    held = estimable(b, np.ones(3)).held
    alone, order = fit(b, held), np.array([0, 2, 1])
    found = fit(b, held[order], pool=order)
    np.testing.assert_allclose(found.variances, alone.variances, rtol=1e-7, atol=1e-12)
    np.testing.assert_allclose(found.covariance, alone.covariance, rtol=1e-6, atol=1e-12)


@pytest.mark.parametrize("seed", [11, 13, 21])
def test_a_component_whose_best_value_is_nought_is_nought_on_every_processor(seed):
    """Drawn rooms in which one processor left 0 and another 6e-17, and the limits of the others with it."""
    found = pst.compare_lots(rooms.session(seed), pots="shared", lots="random").components
    for _, mine in found.groupby(["class", "descriptor"]):
        residual = float(mine.loc[mine["source"] == "residual", "variance"].iloc[0])
        assert ((mine["variance"] == 0) | (mine["variance"] > 1e-8 * residual) | mine["variance"].isna()).all()
