"""What a layout can and cannot estimate: every shape of data that leaves something out has one defined answer."""

from dataclasses import replace

import mpmath as mp
import numpy as np
import pytest
from scipy.stats import f_oneway

from panelstats.models.blocks import blocks
from panelstats.models.degrees import LotEffects
from panelstats.models.estimable import NO_DF, NO_ERROR, NO_VARIATION, estimable
from panelstats.models.meansquares import mean_squares
from panelstats.models.mixed import fit
from panelstats.models.panelfit import panel_fits
from panelstats.models.reml import LOT, LOT_POT, LOT_TASTER, RESIDUAL, TASTER, criterion
from tests.models.published import panel as published

RNG = np.random.default_rng(20)


def invented(lots, tasters, pots, descriptors=1, *, pot_sd=0.0, rng=None):
    rng = np.random.default_rng(lots * 100 + tasters * 10 + pots) if rng is None else rng
    shape = (lots, tasters, pots, descriptors)
    y = 5 + rng.normal(0, 1, (lots, 1, 1, descriptors)) + rng.normal(0, 0.6, (1, tasters, 1, descriptors))
    y = y + rng.normal(0, 0.5, (lots, tasters, 1, descriptors)) + rng.normal(0, pot_sd, (lots, 1, pots, descriptors))
    return y + rng.normal(0, 0.7, shape)


def fits(y, looks=None, *, shared=False, stage=None, within=None):
    """Panel fits of scores (lot, taster, pot, descriptor); NaN where not scored."""
    looks = np.isfinite(y).astype(int) if looks is None else looks
    d = y.shape[3]
    return panel_fits(
        looks,
        np.where(looks > 0, np.nan_to_num(y), 0.0),
        np.zeros(y.shape) if within is None else within,
        shared=np.full(d, shared),
        stage=np.full(d, "") if stage is None else np.asarray(stage),
    )


def only(y, **options):
    (part,) = fits(y, **options)
    return part


def lot_test(part):
    return part.effects.test(np.ones(part.effects.fit.blocks.row_lot.max() + 1, bool))


# ── lots and looks ───────────────────────────────────────────────────────────────────────────────────────────────────


def test_a_lot_nobody_scored_is_left_out_of_that_descriptor_only():
    y = invented(5, 4, 2, 2)
    y[2, ..., 1] = np.nan
    part = only(y)
    assert part.effects.fit.blocks.p.tolist() == [5, 4]
    assert 2 not in part.effects.fit.blocks.row_lot[part.effects.rows_of(1)]
    np.testing.assert_array_equal(lot_test(part).df, [4, 3])
    alone = only(np.delete(y[..., 1:], 2, axis=0))
    assert lot_test(part).statistic[1] == pytest.approx(lot_test(alone).statistic[0], rel=1e-9)


def test_one_look_a_cell_holds_lot_taster_inside_the_error():
    part = only(invented(6, 4, 1))
    assert part.can.held[0, [TASTER, LOT_TASTER, LOT_POT]].tolist() == [False, True, True]
    assert part.can.within_df[0] == 0
    assert lot_test(part).df_error[0] == pytest.approx(5 * 3)


def test_a_few_second_looks_are_enough_for_both_and_their_df_are_told():
    y = invented(6, 4, 2)
    y[:, :, 1] = np.nan
    y[0, :3, 1] = invented(6, 4, 2, rng=RNG)[0, :3, 1]
    part = only(y)
    assert not part.can.held[0, LOT_TASTER]
    assert part.can.within_df[0] == 3
    assert np.isfinite(lot_test(part).p[0])


def test_second_looks_that_never_differ_are_read_as_cell_means():
    y = np.repeat(invented(5, 4, 1), 2, axis=2)
    part, single = only(y), only(y[:, :, :1])
    assert part.cell_means
    assert not single.cell_means
    assert lot_test(part).p[0] == pytest.approx(lot_test(single).p[0], rel=1e-9)


def test_looks_inside_a_mean_count_as_looks():
    """Mean and sum of squares of two looks, or the two looks: one model."""
    y = invented(4, 3, 2)
    mean = y.mean(axis=2, keepdims=True)
    within = ((y - mean) ** 2).sum(axis=2, keepdims=True)
    together = only(mean, looks=np.full(mean.shape, 2), within=within)
    apart = only(y)
    np.testing.assert_allclose(together.effects.fit.variances, apart.effects.fit.variances, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(together.effects.fit.loglik, apart.effects.fit.loglik, rtol=1e-10)


def test_a_lot_met_by_one_taster_stays_in_with_a_wide_interval():
    y = invented(6, 5, 2)
    y[3, 1:] = np.nan
    part = only(y)
    se = part.effects.means(0).se
    assert len(se) == 6
    assert se[3] == se.max()
    assert se[3] > 1.5 * np.median(se)


# ── tasters ──────────────────────────────────────────────────────────────────────────────────────────────────────────


def test_one_taster_with_repeats_is_the_one_way_analysis():
    """scipy.stats.f_oneway (reference library)."""
    y = invented(4, 1, 5)
    part = only(y)
    assert part.can.held[0, [TASTER, LOT_TASTER]].all()
    theirs = f_oneway(*y[:, 0, :, 0])
    test = lot_test(part)
    assert test.statistic[0] == pytest.approx(theirs.statistic, rel=1e-9)
    assert (test.df[0], round(test.df_error[0], 6)) == (3, 16)
    assert test.p[0] == pytest.approx(theirs.pvalue, rel=1e-9)


def test_one_taster_on_shared_pots_is_the_same_analysis_on_cups():
    y = invented(4, 1, 5, pot_sd=0.5)
    own, shared = only(y), only(y, shared=True)
    assert shared.can.held[0, LOT_POT]
    assert lot_test(shared).p[0] == pytest.approx(lot_test(own).p[0], rel=1e-9)


def test_one_taster_one_look_has_means_and_no_test():
    part = only(invented(4, 1, 1))
    assert part.can.state.tolist() == [NO_DF]
    assert part.effects is None
    assert part.slot == {}


def test_tasters_who_never_meet_on_a_lot_cannot_be_told_from_the_lots():
    y = invented(6, 3, 2)
    for lot in range(6):
        y[lot, np.arange(3) != lot % 3] = np.nan
    part = only(y)
    assert part.can.held[0, [TASTER, LOT_TASTER]].all()
    assert lot_test(part).statistic[0] == pytest.approx(
        f_oneway(*(y[lot, lot % 3, :, 0] for lot in range(6))).statistic, rel=1e-9
    )


def test_two_lots_and_two_tasters_are_answered_on_one_degree_of_freedom():
    y = invented(2, 2, 1)
    y[:, 1] += 5  # levels far apart, so that the tasters' variance is not at 0 and pooled with the error
    part = only(y)
    test, pair = lot_test(part), part.effects.pairs(0, np.array([0]), np.array([1]))
    assert test.df_error[0] == pytest.approx(1)
    assert pair.df[0] == pytest.approx(1)
    assert np.isfinite(test.p[0])


# ── lots without others ──────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("pots", [1, 2])
def test_one_lot_has_a_mean_by_the_spread_of_its_tasters(pots):
    """Mean of the tasters' means, Student's t on tasters less one (textbook)."""
    y = invented(1, 6, pots)
    part = only(y)
    assert part.can.held[0, [TASTER, LOT]].all()
    found = part.effects.means(0)
    tasters = y.mean(axis=2)[0, :, 0]
    assert found.estimate[0] == pytest.approx(tasters.mean(), rel=1e-9)
    if part.effects.fit.variances[0, LOT_TASTER] > 0 or pots == 1:
        assert found.se[0] == pytest.approx(tasters.std(ddof=1) / np.sqrt(6), rel=1e-6)
        assert found.df[0] == pytest.approx(5, rel=1e-6)
    assert np.isnan(lot_test(part).p[0])


def test_groups_of_lots_without_a_common_taster_are_still_one_model():
    data = published("disconnected")
    b = blocks(data.looks, data.mean, np.zeros(data.mean.shape), pots=False)
    can = estimable(b, np.ones(len(data.descriptors)))
    assert (can.state == "").all()
    assert not can.held[:, TASTER].any()


# ── nothing to see ───────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("value", [0.0, 0.1, 6.3, 1e9])
def test_equal_scores_are_no_variation(value):
    """Sums of 0.1 leave rounding behind; the range of the scores does not."""
    part = only(np.full((5, 3, 2, 1), value))
    assert part.can.state.tolist() == [NO_VARIATION]
    assert part.effects is None


@pytest.mark.parametrize("step", [1.0, 0.1, 1 / 3])
def test_tasters_in_step_leave_no_error_to_test_against(step):
    y = step * (np.arange(5.0)[:, None, None, None] + np.array([0.0, 2, 7])[None, :, None, None])
    assert only(y).can.state.tolist() == [NO_ERROR]
    assert only(np.repeat(y, 2, axis=2)).can.state.tolist() == [NO_ERROR]


def test_a_descriptor_that_cannot_be_fitted_leaves_the_others_as_they_were():
    y = invented(5, 4, 2, 3)
    y[..., 1] = 4.0
    both = only(y)
    alone = only(y[..., [0, 2]])
    assert sorted(both.slot) == [0, 2]
    np.testing.assert_allclose(both.effects.fit.variances, alone.effects.fit.variances, rtol=1e-9)


# ── components at their bound, degrees of freedom ────────────────────────────────────────────────────────────────────


def without_interaction():
    y = invented(6, 4, 2)
    cell = y.mean(axis=2, keepdims=True)
    additive = cell.mean(axis=0, keepdims=True) + cell.mean(axis=1, keepdims=True) - cell.mean()
    return y - cell + additive


def test_a_component_at_zero_is_left_out_and_the_error_pooled():
    part = only(without_interaction())
    found = part.effects.fit
    assert found.variances[0, LOT_TASTER] == 0
    assert not found.held[0, LOT_TASTER]
    assert (found.covariance[0, LOT_TASTER] == 0).all()
    assert lot_test(part).df_error[0] == pytest.approx(6 * 4 * 2 - 6 - 3)  # all that is left after lot and taster


def test_degrees_of_freedom_below_one_are_raised_to_one():
    part = only(invented(3, 3, 2))
    loose = replace(part.effects.fit, covariance=part.effects.fit.covariance * 1e4)
    assert LotEffects(loose).pairs(0, np.array([0]), np.array([1])).df[0] == 1.0


def test_a_singular_information_gives_no_degrees_of_freedom_rather_than_infinite_ones():
    part = only(invented(3, 3, 2))
    blind = replace(part.effects.fit, covariance=np.full((1, 5, 5), np.nan))
    effects = LotEffects(blind)
    assert np.isnan(effects.pairs(0, np.array([0]), np.array([1])).df[0])
    test = effects.test(np.ones(3, bool))
    assert np.isnan(test.df_error[0])
    assert np.isnan(test.p[0])


# ── shared pots ──────────────────────────────────────────────────────────────────────────────────────────────────────


def test_one_brew_a_lot_holds_the_pots_at_zero():
    part = only(invented(5, 6, 1, pot_sd=0.5), shared=True)
    assert part.can.pot_df[0] == 0
    assert part.can.held[0, LOT_POT]
    assert np.isnan(part.pot_sd_upper[0])


def test_pots_that_each_served_one_taster_are_not_separable_from_looks():
    y = np.full((4, 3, 3, 1), np.nan)
    for taster in range(3):
        y[:, taster, taster] = invented(4, 3, 1, rng=RNG)[:, taster, 0]
    part = only(y, shared=True)
    assert part.can.error_df[0] == 0
    assert part.can.held[0, LOT_POT]


def test_lots_with_one_pot_lend_nothing_to_the_pot_variance_but_bear_it():
    y = invented(30, 8, 2, pot_sd=1.0)
    y[0, :, 1] = np.nan
    part = only(y, shared=True)
    assert part.can.pot_df[0] == 29
    pot, look = part.effects.fit.variances[0, [LOT_POT, RESIDUAL]]
    se = part.effects.means(0).se
    assert se[0] ** 2 - np.median(se) ** 2 == pytest.approx(pot / 2 + look / 16, rel=0.05)


def test_brews_may_serve_some_of_the_tasters_only():
    """Two benches: the first three tasters share one pot, the others another."""
    y = np.full((12, 6, 4, 1), np.nan)
    scores = invented(12, 6, 4, pot_sd=0.6)
    y[:, :3, :2], y[:, 3:, 2:] = scores[:, :3, :2], scores[:, 3:, 2:]
    part = only(y, shared=True)
    assert part.can.pot_df[0] == 24
    assert not part.can.held[0, LOT_POT]
    assert np.isfinite(lot_test(part).p[0])


def test_pot_mean_squares_of_complete_data_are_the_textbook_s():
    y = invented(5, 4, 3, pot_sd=0.7)
    can = only(y, shared=True).can
    inside = y[..., 0] - y[..., 0].mean(axis=2, keepdims=True)
    assert can.pot_ss[0] == pytest.approx(4 * (inside.mean(axis=1) ** 2).sum(), rel=1e-10)
    assert (can.pot_df[0], can.error_df[0]) == (5 * 2, 5 * 2 * 3)
    assert can.pot_k[0] == pytest.approx(4)


def test_few_pots_are_steadied_over_four_descriptors_of_a_stage_and_not_over_three():
    y = invented(3, 5, 2, 7, pot_sd=0.4)
    part = only(y, shared=True, stage=["leaf"] * 3 + ["liquor"] * 4)
    rule = {d: str(part.pots.rule[k]) for d, k in part.slot.items()}
    assert [rule[d] for d in range(7)] == ["reml"] * 3 + ["steadied"] * 4


def test_twenty_degrees_of_freedom_between_pots_stand_alone():
    assert set(only(invented(20, 5, 2, 6, pot_sd=0.4), shared=True).pots.rule) == {"reml"}
    assert set(only(invented(19, 5, 2, 6, pot_sd=0.4), shared=True).pots.rule) == {"steadied"}


def follow_the_pots(y):
    """All tasters move with the pots to the last digit."""
    y = y.copy()
    y[..., 0] = y[:, :1, :, 0] + np.random.default_rng(1).normal(0, 1, (len(y), y.shape[1], 1))
    return y


def test_a_descriptor_without_error_neither_lends_nor_borrows():
    y = follow_the_pots(invented(3, 5, 2, 5, pot_sd=0.4))
    part, without = only(y, shared=True), only(y[..., 1:], shared=True)
    assert part.pots.rule.tolist() == ["reml"] + ["steadied"] * 4
    np.testing.assert_allclose(
        part.effects.fit.variances[1:, LOT_POT], without.effects.fit.variances[:, LOT_POT], rtol=1e-9
    )


def test_without_error_lots_are_still_held_against_pots_and_tasters():
    """Error of a difference 2 / (T P) (MS_pot + MS_lot:taster - 0), df by Satterthwaite from the two."""
    y = follow_the_pots(invented(6, 5, 2, pot_sd=0.4)) + 2 * np.arange(5.0)[:, None, None]
    part = only(y, shared=True)
    assert part.can.held[0, RESIDUAL]
    ms = mean_squares(y, shared=True)
    assert ms.error[0] == pytest.approx(0, abs=1e-14)
    error = ms.pot[0] + ms.lot_taster[0]
    test = lot_test(part)
    assert test.statistic[0] == pytest.approx(ms.lot[0] / error, rel=1e-3)
    assert test.df_error[0] == pytest.approx(error**2 / (ms.pot[0] ** 2 / 6 + ms.lot_taster[0] ** 2 / 20), rel=1e-3)
    assert np.isfinite(part.random.variances).all()


def test_few_scores_on_a_coarse_scale_are_always_answered():
    """Two tasters and two pots in whole points: one descriptor in fifty leaves no error at all."""
    rng = np.random.default_rng(3)
    y = np.round(invented(2, 2, 2, 400, pot_sd=0.25, rng=rng))
    silent = 0
    for part in fits(y, shared=True):
        silent += int(part.can.held[:, RESIDUAL].sum())
        if part.effects is not None:
            p = lot_test(part).p
            assert (np.isfinite(p) & (p >= 0)).all()
    assert silent > 4


# ── the iteration where little is known ──────────────────────────────────────────────────────────────────────────────


def exact_criterion(y, values):
    """-2 log restricted likelihood of complete scores by full matrices at 50 digits, straight from its definition."""
    mp.mp.dps = 50
    lots, tasters, pots, _ = y.shape
    at = list(np.ndindex(lots, tasters, pots))
    s_t, s_x, s_p, _, s_e = (mp.mpf(float(v)) for v in values)
    V = mp.matrix(len(at))
    for i, (l1, t1, p1) in enumerate(at):
        for j, (l2, t2, p2) in enumerate(at):
            same = l1 == l2
            V[i, j] = s_t * (t1 == t2) + s_x * (same and t1 == t2) + s_p * (same and p1 == p2) + s_e * (i == j)
    X = mp.matrix([[mp.mpf(lot == each[0]) for lot in range(lots)] for each in at])
    score = mp.matrix([mp.mpf(float(y[*each, 0])) for each in at])
    W = V**-1
    information = X.T * W * X
    r = score - X * (information**-1 * (X.T * W * score))
    log = mp.log(mp.det(V)) + mp.log(mp.det(information))
    return float((len(at) - lots) * mp.log(2 * mp.pi) + log + (r.T * W * r)[0])


@pytest.mark.parametrize("error", [1e-4, 1e-6])
def test_pots_far_above_the_error_cost_no_digits(error):
    """The smallest panels sometimes leave almost no error; an inverse would lose the likelihood altogether."""
    y = follow_the_pots(invented(3, 2, 2, pot_sd=1.0)) + np.sqrt(error) * RNG.normal(0, 1, (3, 2, 2, 1))
    values = np.array([[0.3, 0.5, 1.5, 0.0, error]])
    b = blocks(np.ones(y.shape, int), y, np.zeros(y.shape), pots=True)
    assert criterion(b, values).value[0] == pytest.approx(exact_criterion(y, values[0]), abs=1e-5)


def test_from_its_own_answer_the_fit_stays_where_it_is():
    y = invented(7, 5, 2, 4, pot_sd=0.5)
    b = blocks(np.ones(y.shape, int), y, np.zeros(y.shape), pots=True)
    held = estimable(b, np.ones(4)).held
    once = fit(b, held)
    again = fit(b, held, start=once.variances)
    assert again.steps <= 2
    np.testing.assert_allclose(again.variances, once.variances, rtol=1e-9, atol=1e-12)
