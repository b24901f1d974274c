"""A level that jumps along the row: against dense mixed-model equations, statsmodels' local level, and an F of OLS."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import linalg, stats
from statsmodels.tsa.statespace.structural import UnobservedComponents

from panelstats.models.daywalk import day_walk, jump_p


def row(rng, *, controls=13, repeats=6, jump=0.0, sd=0.4):
    """A control along the row and some lots met twice, each with a level of its own."""
    place = np.concatenate([np.linspace(0, 1, controls), rng.random(2 * repeats)])
    group = np.concatenate([np.zeros(controls, int), 1 + np.repeat(np.arange(repeats), 2)])
    value = 5 + rng.normal(size=repeats + 1)[group] + sd * rng.normal(size=len(place)) + jump * (place > 0.55)
    return value, place, group, np.full(len(place), sd**2)


def test_level_and_its_error_solve_the_mixed_model_equations():
    """Henderson 1975, Biometrics 31: 423-447: the equations of all places at once, their inverse the errors."""
    rng = np.random.default_rng(4)
    value, place, group, variance = row(rng, jump=1.5)
    variance = variance * rng.uniform(0.5, 2.0, len(variance))
    found = day_walk(value, place, group, variance)
    cups = np.sort(rng.random(9))
    every = np.unique(np.concatenate([place, cups]))
    every = every[every > 0]  # the walk starts at 0
    z = np.equal.outer(place, every).astype(float)
    x = np.equal.outer(group, np.unique(group)).astype(float)
    r = np.diag(1 / (found.scale * variance))
    g = np.linalg.inv(found.walk * np.minimum.outer(every, every))
    whole = np.block([[x.T @ r @ x, x.T @ r @ z], [z.T @ r @ x, z.T @ r @ z + g]])
    answer = np.linalg.solve(whole, np.concatenate([x.T @ r @ value, z.T @ r @ value]))[x.shape[1] :]
    errors = np.linalg.inv(whole)[x.shape[1] :, x.shape[1] :]
    parts = np.eye(9) - 1 / 9
    at = parts @ np.equal.outer(cups, every)
    assert parts @ found.level(cups) == pytest.approx(at @ answer, abs=1e-8)
    assert found.error(parts, cups) == pytest.approx(np.diag(at @ errors @ at.T), rel=1e-6)
    # What the smoother leaves: the trace of the residual operator (Ruppert, Wand & Carroll 2003, section 3.13).
    assert found.df == pytest.approx(np.trace(np.diag(found.scale * variance) @ found.projection), rel=1e-6)


@pytest.mark.parametrize("seed", [0, 2])
def test_variances_and_level_are_those_of_a_local_level_model(seed):
    """statsmodels: Harvey's local level with an exact diffuse start, whose likelihood is the restricted one."""
    rng = np.random.default_rng(seed)
    steps = 40
    value = np.cumsum(0.5 * rng.normal(size=steps)) + 0.6 * rng.normal(size=steps)
    found = day_walk(value, np.linspace(0, 1, steps), np.zeros(steps, int), np.full(steps, 0.36))
    model = UnobservedComponents(value, "llevel", use_exact_diffuse=True)
    theirs = model.fit(disp=0, maxiter=500, method="nm", xtol=1e-9, ftol=1e-12)
    irregular, level = theirs.params
    assert [0.36 * found.scale, found.walk / (steps - 1)] == pytest.approx([irregular, level], rel=1e-3)
    smoothed = theirs.level["smoothed"]
    place = np.linspace(0, 1, steps)
    assert found.level(place) - found.level(place)[0] == pytest.approx(smoothed - smoothed[0], abs=1e-3)


def test_the_chance_of_a_jump_is_an_f_of_least_squares():
    value, place, group, variance = row(np.random.default_rng(8), jump=0.7)
    fixed = np.column_stack([np.equal.outer(group, np.unique(group)), place])
    out = np.eye(len(place)) - fixed @ np.linalg.pinv(fixed)
    slow = linalg.eigh(out @ np.minimum.outer(place, place) @ out)[1][:, -3:]
    f, p, _ = sm.OLS(value, np.column_stack([fixed, slow])).fit().compare_f_test(sm.OLS(value, fixed).fit())
    assert jump_p(value, place, group, variance) == pytest.approx(p, rel=1e-8)
    assert jump_p(value, place, group, 7 * variance) == pytest.approx(p, rel=1e-8)
    # with 20 degrees of freedom known before, their mean square joins that of the rest
    rest = sm.OLS(value, np.column_stack([fixed, slow])).fit()
    scale = (rest.ssr / variance[0] + 20) / (rest.df_resid + 20)
    joined = stats.f.sf(f * rest.mse_resid / variance[0] / scale, 3, rest.df_resid + 20)
    assert jump_p(value, place, group, variance, known_df=20.0) == pytest.approx(joined, rel=1e-8)


def test_luck_is_called_a_jump_as_often_as_said_and_jumps_are_found():
    rng = np.random.default_rng(3)
    still = np.array([jump_p(*row(rng)) for _ in range(400)])
    assert (still < 0.05).mean() == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 400))
    assert (still < 0.5).mean() == pytest.approx(0.5, abs=4 * 0.025)
    found = np.array([jump_p(*row(rng, repeats=12, jump=2.0)) < 0.01 for _ in range(100)])
    assert found.mean() > 0.5


def test_a_walk_follows_a_jump_nearer_than_the_best_line_and_knows_how_near():
    rng = np.random.default_rng(5)
    cups = np.linspace(0, 1, 100)
    parts = np.eye(100) - 0.01
    true = parts @ np.where(cups > 0.55, 1.5, 0.0)
    line = true - np.polyval(np.polyfit(cups, true, 1), cups)
    off, covered = [], []
    for _ in range(60):
        found = day_walk(*row(rng, jump=1.5))
        away = parts @ found.level(cups) - true
        off.append((away**2).mean())
        covered.append((np.abs(away) < 1.96 * np.sqrt(found.error(parts, cups))).mean())
    assert np.sqrt(np.mean(off)) < 0.8 * np.sqrt((line**2).mean())
    assert np.mean(covered) > 0.88


def test_too_little_or_marks_all_alike_tell_nothing_of_a_jump():
    few = np.array([5.0, 6.0, 5.5, 6.0])
    assert np.isnan(jump_p(few[:3], np.array([0, 0.5, 1.0]), np.zeros(3, int), np.ones(3)))
    alike = np.full(9, 5.3)
    assert np.isnan(jump_p(alike, np.linspace(0, 1, 9), np.zeros(9, int), np.ones(9)))
    still = day_walk(alike, np.linspace(0, 1, 9), np.zeros(9, int), np.ones(9), known_df=9.0)
    assert still.walk == 0
    assert still.level(np.array([0.1, 0.9])).tolist() == [0, 0]
