"""Components held where others put them, and classes that share their variances: against dense matrices.

The dense side writes out the covariance of all scores, maximises the restricted likelihood with a general optimiser and
takes Satterthwaite's degrees of freedom from numerical derivatives.
"""

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize
from scipy.stats import bartlett

import panelstats as pst
from panelstats.models.blocks import blocks, side_by_side
from panelstats.models.degrees import LotEffects
from panelstats.models.estimable import Evidence, estimable
from panelstats.models.fewpots import pot_variance_steadied
from panelstats.models.lending import ALONE, REML, STEADIED, Lent, held_covariance, lent_interactions, stands_out
from panelstats.models.mixed import fit
from panelstats.models.reml import LOT_POT, LOT_TASTER, RESIDUAL, TASTER
from panelstats.models.sessionfit import unequal
from tests.models.published import panel as published

RNG = np.random.default_rng(5)


def layout(lots, tasters, pots, gone=()):
    looks = np.ones((lots, tasters, pots, 1), int)
    for at in gone:
        looks[at] = 0
    return looks


def drawn(looks, spread=0.5):
    lots, tasters, pots, _ = looks.shape
    y = RNG.normal(0, 1, (lots, 1, 1, 1)) + RNG.normal(0, 0.6, (1, tasters, 1, 1))
    y = y + RNG.normal(0, spread, (lots, tasters, 1, 1)) + RNG.normal(0, 0.9, (lots, 1, pots, 1))
    return np.where(looks > 0, y + RNG.normal(0, 0.7, looks.shape), 0.0)


class Dense:
    """One class of lots written out: scores, lot indicators and the three covariance patterns."""

    def __init__(self, looks, y):
        lot, taster, pot = np.nonzero(looks[..., 0])
        self.y = y[lot, taster, pot, 0]
        self.X = (lot[:, None] == np.unique(lot)).astype(float)
        same = [np.equal.outer(key, key) for key in (lot, taster, pot)]
        self.V = [same[1], same[0] & same[1], same[0] & same[2], np.eye(len(lot), dtype=bool)]

    def covariance(self, theta):
        return sum(value * matrix for value, matrix in zip(theta, self.V, strict=True))

    def criterion(self, theta):
        inverse = np.linalg.inv(self.covariance(theta))
        XVX = self.X.T @ inverse @ self.X
        P = inverse - inverse @ self.X @ np.linalg.solve(XVX, self.X.T @ inverse)
        return np.linalg.slogdet(self.covariance(theta))[1] + np.linalg.slogdet(XVX)[1] + self.y @ P @ self.y

    def variance(self, theta, contrast):
        inverse = np.linalg.inv(self.covariance(theta))
        return contrast @ np.linalg.solve(self.X.T @ inverse @ self.X, contrast)


def derivatives(f, at, step=1e-4):
    """Gradient and Hessian by central differences."""
    eye = np.eye(len(at)) * step
    gradient = np.array([(f(at + e) - f(at - e)) / (2 * step) for e in eye])
    hessian = np.array([
        [(f(at + a + b) - f(at + a - b) - f(at - a + b) + f(at - a - b)) / (4 * step**2) for b in eye] for a in eye
    ])  # fmt: skip
    return gradient, hessian


def dense_answer(parts, held, sampling, contrast):
    """Variances, variance of a contrast of the first part and its df; `held` maps component to value."""
    free = [k for k in range(4) if k not in held]

    def whole(x):
        theta = np.zeros(4)
        theta[free], theta[list(held)] = x, list(held.values())
        return theta

    def total(x):
        return sum(part.criterion(x) for part in parts)

    bounds = [(1e-9, None) if k < 3 else (max(0.0, -3 * min(held.get(1, 0), 0)) + 1e-6, None) for k in free]
    start = [0.5] * len(free)
    best = minimize(lambda x: total(whole(x)), start, method="L-BFGS-B", bounds=bounds, options={"ftol": 1e-15})
    best = minimize(lambda x: total(whole(x)), best.x, method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    theta = whole(best.x)
    _, H = derivatives(total, theta)
    gradient, _ = derivatives(lambda x: parts[0].variance(x, contrast), theta)
    A = 2 * np.linalg.inv(H[np.ix_(free, free)])
    spread = gradient[free] @ A @ gradient[free]
    for k in held:
        delta = gradient[k] - gradient[free] @ A / 2 @ H[np.ix_(free, [k])][:, 0]
        spread += delta**2 * sampling.get(k, 0.0)
    variance = parts[0].variance(theta, contrast)
    return theta, variance, 2 * variance**2 / spread


@pytest.mark.parametrize(("held", "gone"), [(0.2, ()), (-0.1, ()), (0.15, ((0, 1), (2, 3, 1)))])
def test_a_held_interaction_gives_the_dense_variance_and_freedom(held, gone):
    looks = layout(3, 5, 3, gone)
    y = drawn(looks)
    b = blocks(looks, y, np.zeros(y.shape), pots=True)
    mask, values = np.zeros((1, 5), bool), np.zeros((1, 5))
    mask[0, [3, LOT_TASTER]] = True
    values[0, LOT_TASTER] = held
    covariance = np.zeros((1, 5, 5))
    covariance[0, LOT_TASTER, LOT_TASTER] = 0.01
    found = fit(b, mask, values=values)
    pair = LotEffects(found, covariance).pairs(0, np.array([0]), np.array([2]))
    contrast = np.array([1.0, 0.0, -1.0])
    theta, variance, df = dense_answer([Dense(looks, y)], {1: held}, {1: 0.01}, contrast)
    np.testing.assert_allclose(found.variances[0, [TASTER, LOT_TASTER, LOT_POT, RESIDUAL]], theta, rtol=2e-4, atol=2e-5)
    assert pair.se[0] ** 2 == pytest.approx(variance, rel=1e-4)
    assert pair.df[0] == pytest.approx(df, rel=5e-3)


def test_classes_that_share_variances_are_one_dense_likelihood():
    sizes = [(4, 5, 2, ((1, 2),)), (3, 5, 3, ())]
    parts = [(looks := layout(*size), drawn(looks)) for size in sizes]
    b = side_by_side([blocks(looks, y, np.zeros(y.shape), pots=True) for looks, y in parts])
    mask = np.zeros((1, 5), bool)
    mask[0, 3] = True
    found = fit(b, mask, pool=np.zeros(2, int))
    pair = LotEffects(found).pairs(0, np.array([0]), np.array([1]))
    contrast = np.array([1.0, -1.0, 0.0, 0.0])
    theta, variance, df = dense_answer([Dense(*part) for part in parts], {}, {}, contrast)
    assert (theta > 1e-3).all()
    np.testing.assert_allclose(found.variances[0, [TASTER, LOT_TASTER, LOT_POT, RESIDUAL]], theta, rtol=1e-3)
    np.testing.assert_array_equal(found.variances[0], found.variances[1])
    assert pair.se[0] ** 2 == pytest.approx(variance, rel=1e-3)
    assert pair.df[0] == pytest.approx(df, rel=1e-2)


def test_pots_held_at_the_published_value_give_the_published_pairs():
    data = published("shared_pots_two_lots")
    names = data.truth["_steadied_over_descriptors"]["descriptors"]
    which = [data.descriptors.index(name) for name in names]
    looks, mean = data.looks[..., which], data.mean[..., which]
    b = blocks(looks, mean, np.zeros(mean.shape), pots=True)
    can = estimable(b, np.ones(len(names)))
    error = (can.within_ss - can.pot_ss) / can.error_df
    lent = pot_variance_steadied(can.pot_ss / can.pot_df, can.pot_df, error, can.error_df, can.pot_k)
    held, values, covariance = can.held.copy(), np.zeros((len(names), 5)), np.zeros((len(names), 5, 5))
    held[:, LOT_POT], values[:, LOT_POT], covariance[:, LOT_POT, LOT_POT] = (
        True,
        lent.variance,
        lent.variance_of_variance,
    )
    effects = LotEffects(fit(b, held, values=values), covariance)
    for d, name in enumerate(names):
        pair, wanted = effects.pairs(d, np.array([0]), np.array([1])), data.truth[name]["pots_steadied"]
        got = [abs(pair.estimate[0]), pair.se[0], pair.df[0]]
        np.testing.assert_allclose(got, [abs(wanted["estimate"]), wanted["se"], wanted["df"]], rtol=1e-8)


def own_pots(lots, tasters, pots, descriptors, interaction):
    y = RNG.normal(0, 0.8, (lots, tasters, pots, descriptors)) + RNG.normal(0, 1, (lots, tasters, 1, descriptors)) * (
        np.asarray(interaction)
    )
    b = blocks(np.ones(y.shape, int), y, np.zeros(y.shape), pots=False)
    return estimable(b, np.ptp(y, axis=(0, 1, 2)))


def test_lot_taster_is_steadied_over_four_descriptors_and_stands_alone_over_three():
    for descriptors, rule in ((6, STEADIED), (3, ALONE)):
        can = own_pots(2, 4, 6, descriptors, 0.3)
        lent = lent_interactions(can, np.full(descriptors, "liquor"))
        assert set(lent.rule) <= {rule, ALONE}
        assert (lent.rule == rule).sum() >= descriptors - 1
    alone = lent.rule == ALONE
    square = can.cross_ss / can.cross_df
    error = can.within_ss / can.within_df
    np.testing.assert_allclose(lent.variance[alone], ((square - error) / 6)[alone])
    np.testing.assert_array_equal(lent.df[alone], 3)
    assert set(lent_interactions(own_pots(6, 6, 2, 6, 0.3), np.full(6, "liquor")).rule) == {REML}  # 25 df: enough


def test_one_prone_descriptor_stands_out_and_is_left_out():
    found = 0
    for _ in range(40):
        can = own_pots(3, 4, 4, 6, [2.0, 0, 0, 0, 0, 0])
        lent = lent_interactions(can, np.full(6, "liquor"))
        found += lent.rule[0] == ALONE
    assert found >= 36
    square = np.array([9.0, 0.8, 0.9, 0.7])
    assert not stands_out(square, np.full(4, 4.0), np.full(4, 0.7), np.full(4, 60.0)).any()  # three cannot judge one


def test_lot_over_interaction_is_the_classical_test_where_tasters_are_few():
    """Own pots, complete: F of lots over lot:taster on (L - 1)(T - 1), whatever component is negative (textbook)."""
    rng = np.random.default_rng(2)
    y = rng.normal(0, 1, (3, 3, 6)) + np.array([0.0, 2.0, 4.0])[:, None]  # tasters apart: no component at 0 but one
    lot, taster, pot = np.indices(y.shape).reshape(3, -1)
    table = pd.DataFrame({"lot": lot.astype(str), "taster": taster.astype(str), "pot": pot + 1, "brisk": y.ravel() + 9})
    found = pst.compare_lots(pst.read_scores(table), pots="own")
    row, classical = found.anova.iloc[0], found.mean_squares.set_index("source").loc["lot"]
    assert row["lot_taster_from"] == ALONE
    assert (row["statistic"], row["df_error"]) == pytest.approx((classical["statistic"], 4.0))


def test_unequal_classes_are_told_by_bartletts_test():
    tables = [RNG.normal(0, sd, (8, 6, 2, 1)) for sd in (0.5, 2.0)]
    ones = np.ones((8, 6, 2, 1), int)
    seen = [Evidence.of(blocks(ones, y, np.zeros(y.shape), pots=False), np.ones(1)) for y in tables]
    both = Evidence(**{name: np.concatenate([getattr(one, name) for one in seen]) for name in vars(seen[0])})
    assert unequal(both, np.arange(2))
    groups = [(y - y.mean(axis=2, keepdims=True))[:, :, 0, 0] * np.sqrt(2) for y in tables]
    assert bartlett(*(g.ravel() for g in groups)).pvalue < 0.01
    same = Evidence(**{name: np.concatenate([getattr(seen[0], name)] * 2) for name in vars(seen[0])})
    assert not unequal(same, np.arange(2))


def test_values_taken_off_one_error_vary_together_as_drawn_mean_squares_do():
    """(MS_P - MS_E) / k_P and (MS_X - MS_E) / k_X share MS_E, a chi-square of the error: drawn a million times."""
    can = estimable(blocks(layout(4, 5, 3), drawn(layout(4, 5, 3)), np.zeros((4, 5, 3, 1)), pots=True), np.ones(1))
    df, ms = can.error_df[0], (can.within_ss[0] - can.pot_ss[0]) / can.error_df[0]
    errors = ms * np.random.default_rng(3).chisquare(df, 1_000_000) / df
    held = Lent(np.array([STEADIED]), np.array([0.4]), np.array([0.02]), np.array([9.0]))
    covariance = held_covariance(held, held, can)[0]
    shared = np.cov(errors / can.pot_k[0], errors / can.cross_k[0])[0, 1]
    assert covariance[LOT_POT, LOT_TASTER] == covariance[LOT_TASTER, LOT_POT] == pytest.approx(shared, rel=0.02)
    assert np.diag(covariance)[[LOT_POT, LOT_TASTER]] == pytest.approx(0.02)
