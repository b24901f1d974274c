"""The season model: lots across sessions, against dense matrices and recomputed values (tests/published/models)."""

from functools import cache

import numpy as np
import pandas as pd
import pytest

from panelstats.models import seasonrows
from panelstats.models.seasoneffects import SeasonEffects
from panelstats.models.seasonfit import SeasonFit, fit_season
from panelstats.models.seasonlayout import season_layout
from panelstats.models.seasonlikelihood import season_state
from panelstats.models.seasonrows import SeasonCells, season_rows
from panelstats.models.seasonsources import POT, SOURCES
from tests.models.published import frame, truth

KEYS = ["descriptor", "session", "lot", "taster", "pot"]
EFFECTS = {
    "taster": ["taster"],
    "session": ["session"],
    "taster:session": ["taster", "session"],
    "lot:taster": ["lot", "taster"],
    "lot:taster:session": ["lot", "taster", "session"],
    "lot:session:pot": ["lot", "session", "pot"],
}


def cells_of(table, *, pots):
    """The looks of a table as cells, one a pot where pots are a factor, else one a taster, lot and session."""
    codes = table[KEYS].apply(lambda column: pd.factorize(column, sort=True)[0])
    keys = KEYS if pots else KEYS[:-1]
    by = table["score"].groupby([codes[key] for key in keys])
    found = by.agg(["size", "mean"])
    within = by.agg(lambda x: ((x - x.mean()) ** 2).sum()).to_numpy()
    columns = [found.index.get_level_values(at).to_numpy() for at in range(len(keys))]
    columns += [] if pots else [np.zeros(len(found), int)]
    sizes = tuple(int(codes[key].max()) + 1 for key in KEYS[:-1])
    return SeasonCells(*columns, found["size"].to_numpy(float), found["mean"].to_numpy(), within), sizes


def rows_of(table, *, pots, **options):
    cells, sizes = cells_of(table, pots=pots)
    return season_rows(cells, sizes, pots=pots, **options)


@cache
def fitted(name, *, pots):
    rows = rows_of(frame(name), pots=pots)
    return fit_season(rows, season_layout(rows).held)


@pytest.mark.parametrize(("name", "pots"), [("season", False), ("shared_pots_season", True)])
def test_the_fit_equals_the_recomputed_season(name, pots):
    fit, known = fitted(name, pots=pots), truth(name)["strength"]
    np.testing.assert_allclose(fit.loglik, known["reml_loglik"], atol=1e-8)
    mine = dict(zip(SOURCES, fit.variances[0], strict=True))
    for source, value in known["variances"].items():
        np.testing.assert_allclose(mine[source], value, rtol=1e-7, err_msg=source)
    assert mine["lot:session:pot"] == known["variances"].get("lot:session:pot", 0) or pots


@pytest.mark.parametrize(("name", "pots"), [("season", False), ("shared_pots_season", True)])
def test_contrasts_within_and_across_sessions_equal_the_recomputed_ones(name, pots):
    effects, known = SeasonEffects(fitted(name, pots=pots)), truth(name)["strength"]
    lots = sorted(frame(name)["lot"].unique())
    for one in known["contrasts"]:
        found = effects.pairs(0, np.array([lots.index(one["a"])]), np.array([lots.index(one["b"])]))
        for mine, key in ((found.estimate, "estimate"), (found.se, "se"), (found.df, "df")):
            np.testing.assert_allclose(mine[0], one[key], rtol=1e-7, err_msg=f"{one['kind']}: {key}")


def invented(seed, *, pots, scored=0.8):
    """A small ragged season: lots met once, a control met often, one met twice, single looks and absent tasters."""
    rng = np.random.default_rng(seed)
    rows = []
    for session in range(4):
        lots = ["C", *(["D"] if session in (1, 3) else []), *(f"{session}-{k}" for k in range(2 + session % 2))]
        for lot in lots:
            for taster in "abcd"[: 3 + session % 2]:
                rows += [(session, lot, taster, pot) for pot in range(2) if rng.random() < scored]
    table = pd.DataFrame(rows, columns=["session", "lot", "taster", "pot"]).assign(descriptor="strength")
    return table.assign(score=rng.normal(5, 1, len(table)).round(1))


def dense(table, theta, own, *, pots):
    """-2 log restricted likelihood, the lots' estimates and their covariance, by full matrices."""
    names = sorted(table["lot"].unique())
    X = np.array([[lot == name for name in names] for lot in table["lot"]], float)
    V = theta[-1] * np.eye(len(table))
    for k, keys in enumerate(EFFECTS.values()):
        label = table.groupby(keys).ngroup().to_numpy()
        if list(EFFECTS)[k] == "lot:taster":  # who has no term of his own lends it to the cell
            label = np.where(table["lot"].isin(own), label, 1000 * (1 + table["session"]) + label)
        V += theta[k] * (label[:, None] == label[None, :])
    y = table["score"].to_numpy()
    inverse = np.linalg.inv(V)
    information = X.T @ inverse @ X
    G = np.linalg.inv(information)
    b = G @ X.T @ inverse @ y
    rest = y - X @ b
    value = (len(y) - len(names)) * np.log(2 * np.pi) + np.linalg.slogdet(V)[1] + np.linalg.slogdet(information)[1]
    return value + rest @ inverse @ rest, b, G


# With at most 4 terms only the control has one for lot:taster of its own; where all is scored, lots count as a group.
@pytest.mark.parametrize(
    ("seed", "pots", "most", "scored"),
    [(1, True, 300, 0.8), (2, False, 4, 0.8), (3, True, 4, 0.8), (4, True, 300, 1.0), (5, False, 300, 1.0)],
)
def test_likelihood_means_and_contrasts_equal_full_matrices(monkeypatch, seed, pots, most, scored):
    monkeypatch.setattr(seasonrows, "MOST_TERMS", most)
    table, rng = invented(seed, pots=pots, scored=scored), np.random.default_rng(seed)
    names = sorted(table["lot"].unique())
    rows = rows_of(table, pots=pots, controls=np.array([names.index("C")]))
    theta = rng.uniform(0.05, 1, len(SOURCES)) * (np.arange(len(SOURCES)) != (seed % 3))  # one variance at its bound
    theta[POT] *= pots
    value, b, G = dense(table, theta, ["C", "D"] if most == 300 else ["C"], pots=pots)
    state = season_state(rows, theta[None])
    np.testing.assert_allclose(state.value[0], value, rtol=1e-10)
    size = len(SOURCES)
    out = theta[None] <= 0
    effects = SeasonEffects(SeasonFit(rows, theta[None], -state.value / 2, out, np.zeros((1, size, size)), state, {}))
    np.testing.assert_allclose(effects.mean(0), b, rtol=1e-8)
    np.testing.assert_allclose(effects.means(0).se, np.sqrt(np.diag(G)), rtol=1e-8)
    first, second = np.triu_indices(len(names), 1)
    found = effects.pairs(0, first, second)
    np.testing.assert_allclose(found.estimate, b[first] - b[second], atol=1e-8)
    np.testing.assert_allclose(found.se**2, (np.diag(G)[first] + np.diag(G)[second] - 2 * G[first, second]), rtol=1e-8)
    compared = np.arange(len(names)) > 0
    L = np.eye(len(names)) - compared / compared.sum()
    np.testing.assert_allclose(effects.deviations(0, compared).se ** 2, np.diag(L @ G @ L.T), rtol=1e-8)
    correlation = np.array([[G[i, j] - G[i, 0] - G[0, j] + G[0, 0] for j in (1, 2)] for i in (1, 2)])
    sd = np.sqrt(np.diag(correlation))
    np.testing.assert_allclose(
        effects.correlation_with(0, 0, np.array([1, 2])), correlation / np.outer(sd, sd), rtol=1e-8
    )
    y, C = (L @ b)[compared][:-1], (L @ G @ L.T)[np.ix_(compared, compared)][:-1, :-1]
    np.testing.assert_allclose(effects.test(0, compared).statistic, y @ np.linalg.solve(C, y) / len(y), rtol=1e-7)


@pytest.mark.parametrize(("pots", "most", "scored"), [(True, 300, 1.0), (True, 4, 0.8), (False, 300, 0.8)])
def test_the_gradient_equals_differences_of_the_likelihood(monkeypatch, pots, most, scored):
    monkeypatch.setattr(seasonrows, "MOST_TERMS", most)
    rows = rows_of(invented(5, pots=pots, scored=scored), pots=pots, controls=np.array([8]))
    theta = np.random.default_rng(5).uniform(0.2, 1, (1, len(SOURCES)))
    theta[:, POT] *= pots
    gradient = season_state(rows, theta).gradient[0]
    for i in range(len(SOURCES) if pots else POT):
        step = np.zeros_like(theta)
        step[0, i] = 1e-5
        change = season_state(rows, theta + step).value - season_state(rows, theta - step).value
        np.testing.assert_allclose(gradient[i], change[0] / 2e-5, rtol=1e-6, atol=1e-6, err_msg=SOURCES[i])


def test_descriptors_fitted_together_equal_each_alone():
    tables = [invented(seed, pots=True).assign(descriptor=f"d{seed}") for seed in (1, 2)]
    together = rows_of(pd.concat(tables, ignore_index=True), pots=True)
    fit = fit_season(together, season_layout(together).held)
    for d, table in enumerate(tables):
        rows = rows_of(table, pots=True)
        alone = fit_season(rows, season_layout(rows).held)
        np.testing.assert_allclose(fit.variances[d], alone.variances[0], rtol=1e-5, atol=1e-8)
        np.testing.assert_allclose(fit.loglik[d], alone.loglik[0], atol=1e-8)


def test_the_fit_is_a_maximum_within_the_bounds():
    tables = [invented(seed, pots=True).assign(descriptor=f"d{seed}") for seed in range(4)]
    rows = rows_of(pd.concat(tables, ignore_index=True), pots=True)
    held = season_layout(rows).held
    fit = fit_season(rows, held)
    assert (fit.variances == 0).any()
    assert (fit.variances > 0).any()
    gradient, theta = fit.at.gradient, fit.variances
    assert (np.abs(gradient[~held & (theta > 0)]) < 1e-4).all()
    assert (gradient[~held & (theta == 0)] >= 0).all()
    assert (theta[held] == 0).all()


def held(table, *, pots):
    rows = rows_of(table.assign(descriptor="strength", score=1.0 * np.arange(len(table)) % 7), pots=pots)
    layout = season_layout(rows)
    return {source for source, out in zip(SOURCES, layout.held[0], strict=True) if out}, layout.state[0]


def layout(lots, tasters, pots):
    """Lots of each session, met by all tasters from so many pots."""
    rows = [(s, lot, t, p) for s, mine in enumerate(lots) for lot in mine for t in range(tasters) for p in range(pots)]
    return pd.DataFrame(rows, columns=["session", "lot", "taster", "pot"])


TWO = [["C", "D", "a", "b"], ["C", "D", "e", "f"], ["C", "D", "g", "h"]]


def test_what_a_layout_cannot_tell_apart_is_left_out():
    assert held(layout(TWO, 4, 2), pots=True) == (set(), "")
    assert held(layout(TWO, 4, 2), pots=False) == ({"lot:session:pot"}, "")
    one_look = held(layout(TWO, 4, 1), pots=False)
    assert one_look == ({"lot:taster:session", "lot:session:pot"}, "")
    # one shared pot a lot: controls that move together from day to day tell pots from tasters
    assert "lot:session:pot" not in held(layout(TWO, 4, 1), pots=True)[0]
    one_control = [["C", "a", "b"], ["C", "e", "f"]]
    assert "lot:session:pot" in held(layout(one_control, 4, 1), pots=True)[0]
    assert "lot:taster" in held(layout(one_control, 4, 1), pots=False)[0]
    alone = held(layout(TWO, 1, 2), pots=False)[0]
    assert {"taster", "taster:session", "lot:taster"} <= alone


def test_nothing_to_measure_against_is_said():
    assert held(layout([["C", "a"], ["C", "b"]], 1, 1), pots=False)[1] == "no degrees of freedom"
