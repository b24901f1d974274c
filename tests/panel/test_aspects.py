"""Every aspect of a taster by its definition, worked out for one taster and one word at a time on complete tables.

Where a lot is left out, the table is made again without it. Quantiles are scipy.stats'; jackknife: Efron (1982),
se = sqrt((n - 1) / n x sum of squares about the mean), on lots less sessions degrees of freedom.
"""

import numpy as np
import pytest
from scipy import stats

import panelstats as pst
from panelstats.panel.tasters.repeats import repeats
from tests.panel.invented import pool
from tests.panel.sheets import NAMES, scores_of
from tests.panel.test_columns import exactly, one, room

SD_RATIO, SLOPES = 1.5, (2 / 3, 3 / 2)  # tolerances as documented


def values(y, session, i):
    """Quotients, slope, order and F of taster `i` on one word; `y` is (lot, taster, pot)."""
    n, k, r = y.shape
    m, blocks = k - 1, len(set(session))
    cell, centre = y.mean(axis=2), np.array([session == s for s in session], float)
    centre /= centre.sum(axis=1, keepdims=True)
    away = cell - centre @ cell
    x, own = np.delete(away, i, axis=1).mean(axis=1), away[:, i]
    rest = np.delete(away, i, axis=1) - x[:, None]
    noise = (rest**2).sum() / ((n - blocks) * (m - 1))
    plain = (x @ own) / (x @ x)
    reliability = max(0.2, 1 - noise / (m * (x @ x) / (n - blocks)))
    within = ((y - cell[:, :, None]) ** 2).sum(axis=(0, 2))
    lots = (own**2).sum() * r / (n - blocks)
    return {
        "repeatability": within[i] / (np.delete(within, i).sum() / m),
        "repeat_df": (n * (r - 1), m * n * (r - 1)),
        "scatter": ((own - plain * x) ** 2).sum() / (n - blocks - 1) / noise,
        "scatter_df": (n - blocks - 1, (n - blocks) * (m - 1)),
        "scatter_term": min(SD_RATIO**2, plain**2 / reliability) / m,
        "slope": plain / reliability,
        "order": (x @ own) / np.sqrt((x @ x) * (own @ own)),
        "f": lots / (within[i] / (n * (r - 1))),
    }


def jackknifed(y, session, i, value):
    """Value over all words, its standard error and df; `value` takes the list of every word's values."""

    def of(rows):
        return value([values(y[rows, :, :, d], session[rows], i) for d in range(y.shape[3])])

    n = len(y)
    every = np.arange(n)
    left = np.array([of(np.delete(every, j)) for j in every])
    return of(every), np.sqrt((n - 1) / n * ((left - left.mean()) ** 2).sum()), n - len(set(session))


def unbiased(found, name):
    """A ratio of variances times (df - 2) / df of its denominator, the mean of 1 / chi-square."""
    df = found["repeat_df" if name == "repeatability" else "scatter_df"][1]
    return found[name] * (df - 2) / df


@pytest.fixture(scope="module", params=[1, 2])
def table(request):
    y = room(14, 4, 2, 2, seed=12, noise=0.6)
    session = np.arange(14) * request.param // 14
    y = y + 0.3 * np.random.default_rng(4).normal(size=(14, 4, 1, 2))
    found = pst.assess_tasters(scores_of(y, sessions=request.param), tolerance=4.0, level=0.9)
    assert not (found.table["reason"].str.contains("stands out")).any()  # nobody left a reference
    return y, session, found.table


def test_spreads_on_one_word_have_limits_from_f(table):
    y, session, found = table
    for i, name in enumerate(NAMES[:4]):
        for d in range(2):
            mine = values(y[..., d], session, i)
            for aspect, df, term in (("repeatability", mine["repeat_df"], 0.0),
                                     ("scatter", mine["scatter_df"], mine["scatter_term"])):  # fmt: skip
                got, q = one(found, taster=name, aspect=aspect, descriptor=f"word {d + 1}"), mine[aspect]
                ends = [np.sqrt(max(q / f - term, 0)) for f in (1, *stats.f.ppf([0.95, 0.05], *df))]
                assert [got[k] for k in ("estimate", "low", "high")] == pytest.approx(ends, **exactly)
                assert got["p"] == pytest.approx(stats.f.sf(q / (SD_RATIO**2 + term), *df), rel=1e-9)
                assert (got["floor"], got["ceiling"]) == (-np.inf, SD_RATIO)


def test_spreads_over_all_words_are_root_mean_quotients_with_the_jackknifes_limits(table):
    y, session, found = table
    for i, name in enumerate(NAMES[:4]):
        for aspect in ("repeatability", "scatter"):
            got = one(found, taster=name, aspect=aspect, descriptor="")
            middle, se, df = jackknifed(
                y, session, i, lambda every, aspect=aspect: np.log(np.mean([unbiased(v, aspect) for v in every]))
            )
            every = [values(y[..., d], session, i) for d in range(2)]
            term = np.mean([v["scatter_term"] for v in every]) if aspect == "scatter" else 0.0
            reach = stats.t.ppf(0.95, df) * se
            ends = [np.sqrt(max(np.exp(middle + at) - term, 0)) for at in (0, -reach, reach)]
            assert [got[k] for k in ("estimate", "low", "high")] == pytest.approx(ends, **exactly)
            assert got["p"] == pytest.approx(stats.t.sf((middle - np.log(SD_RATIO**2 + term)) / se, df), rel=1e-6)


def test_scale_use_is_a_slope_freed_of_the_others_noise_with_the_jackknifes_limits(table):
    y, session, found = table
    n = 14
    for i, name in enumerate(NAMES[:4]):
        for word in ("word 1", "word 2", ""):
            part = y if not word else y[..., [int(word[-1]) - 1]]
            slope, se, df = jackknifed(part, session, i, lambda every: np.mean([v["slope"] for v in every]))
            df = n - len(set(session)) - 1 if word else df  # the line of one word takes a degree of its own
            got = one(found, taster=name, aspect="scale_use", descriptor=word)
            reach = stats.t.ppf(0.95, df) * se
            assert [got["estimate"], got["low"], got["high"]] == pytest.approx(
                [slope, slope - reach, slope + reach], **exactly
            )
            assert (got["floor"], got["ceiling"]) == pytest.approx(SLOPES)
            beyond = [stats.t.cdf((slope - SLOPES[0]) / se, df), stats.t.sf((slope - SLOPES[1]) / se, df)]
            assert got["p"] == pytest.approx(min(1, 2 * min(beyond)), rel=1e-6)


def test_order_over_all_words_is_a_mean_on_fishers_scale(table):
    y, session, found = table
    order = np.array([[values(y[..., d], session, i)["order"] for d in range(2)] for i in range(4)])
    for i, name in enumerate(NAMES[:4]):
        edges = np.arctanh(0.5 * np.median(np.delete(order, i, axis=0), axis=0))
        free = 14 - len(set(session)) - 2
        for d in range(2):
            got = one(found, taster=name, aspect="agreement", descriptor=f"word {d + 1}")
            z, reach = np.arctanh(order[i, d]), stats.norm.ppf(0.95) / np.sqrt(free)
            assert [got["estimate"], got["low"], got["high"]] == pytest.approx(np.tanh([z, z - reach, z + reach]))
            assert got["p"] == pytest.approx(stats.norm.cdf((z - edges[d]) * np.sqrt(free)), rel=1e-6)
        got = one(found, taster=name, aspect="agreement", descriptor="")
        z, se, df = jackknifed(y, session, i, lambda every: np.mean(np.arctanh([v["order"] for v in every])))
        reach = stats.t.ppf(0.95, df) * se
        assert [got["estimate"], got["low"], got["high"]] == pytest.approx(np.tanh([z, z - reach, z + reach]))
        assert got["floor"] == pytest.approx(np.tanh(edges.mean()))
        assert got["p"] == pytest.approx(stats.t.cdf((z - edges.mean()) / se, df), rel=1e-6)


def test_telling_lots_apart_over_all_words_is_a_mean_log_f(table):
    y, session, found = table
    f = np.array([[values(y[..., d], session, i)["f"] for d in range(2)] for i in range(4)])
    for i, name in enumerate(NAMES[:4]):
        bound = np.median(np.maximum(np.delete(f, i, axis=0) - 1, 0) / 2, axis=0) / 4
        got = one(found, taster=name, aspect="discrimination", descriptor="")
        middle, se, df = jackknifed(y, session, i, lambda every: np.mean(np.log([v["f"] for v in every])))
        reach = stats.t.ppf(0.95, df) * se
        ratios = np.exp([middle, middle - reach, middle + reach])
        assert [got["estimate"], got["low"], got["high"]] == pytest.approx((ratios - 1) / (ratios + 1), **exactly)
        edge = np.log(1 + 2 * bound).mean()
        assert got["floor"] == pytest.approx((np.exp(edge) - 1) / (np.exp(edge) + 1))
        assert got["p"] == pytest.approx(stats.t.cdf((middle - edge) / se, df), rel=1e-6)


# ── repeats of shared pots ───────────────────────────────────────────────────────────────────────────────────────────


def fitted_pots(y, on):
    """Effects of the pots, their unscaled covariance, residual SS and df, from least squares of pot + taster."""
    who, pot = np.nonzero(~np.isnan(y) & on[:, None])
    design = np.hstack([pot[:, None] == np.arange(y.shape[1]), who[:, None] == np.flatnonzero(on)[1:]]).astype(float)
    marks = y[who, pot]
    effects, _, rank, _ = np.linalg.lstsq(design, marks, rcond=None)
    pots = y.shape[1]
    spread = np.linalg.pinv(design.T @ design)[:pots, :pots]
    return effects[:pots], spread, ((marks - design @ effects) ** 2).sum(), len(marks) - rank


@pytest.mark.parametrize("gaps", [False, True])
def test_repeats_of_shared_pots_are_what_least_squares_leaves(gaps):
    """The taster's marks less the pots as the others tasted them (after Grubbs 1948), about their mean."""
    rng = np.random.default_rng(11)
    y = 5 + rng.normal(size=(5, 1, 3, 2)) + rng.normal(size=(5, 5, 3, 2))
    if gaps:
        y[0, 1, 2], y[1, 0, 0], y[3, 4, 1, 0] = np.nan, np.nan, np.nan
    active = np.ones((5, 2), bool)
    active[2, 1] = False  # no longer in anybody's reference, still judged
    found = repeats(pool(y, shared=True), active)
    for lot, i, d in np.ndindex(5, 5, 2):
        on = active[:, d].copy()
        on[i] = False
        effects, spread, others_ss, others_df = fitted_pots(y[lot, ..., d], on)
        mine = ~np.isnan(y[lot, i, :, d])
        z = (y[lot, i, :, d] - effects)[mine]
        n = mine.sum()
        centre = np.eye(n) - 1 / n
        at = lot, i, d
        assert found.ss[at] == pytest.approx(((z - z.mean()) ** 2).sum(), **exactly)
        assert found.df[at] == n - 1
        assert found.noise[at] == pytest.approx(np.trace(centre @ spread[np.ix_(mine, mine)]), **exactly)
        assert (found.others_ss[at], found.others_df[at]) == pytest.approx((others_ss, others_df), **exactly)
        assert found.lots[at] == (n > 1)
    whole = found.over_lots()
    assert whole.quotient == pytest.approx(
        (found.ss.sum(0) / found.df.sum(0)) / (found.others_ss.sum(0) / found.others_df.sum(0))
    )
    assert whole.term == pytest.approx(found.noise.sum(0) / found.df.sum(0))
    np.testing.assert_allclose(found.without_each_lot().ss[2], found.ss[[0, 1, 3, 4]].sum(axis=0))


def test_a_shared_pot_of_one_other_only_cannot_tell_whose_noise_it_is():
    y = 5 + np.random.default_rng(2).normal(size=(4, 2, 3, 1))
    found = repeats(pool(y, shared=True), np.ones((2, 1), bool))
    assert (found.df == 2).all()
    assert (found.others_df == 0).all()
    np.testing.assert_allclose(found.others_ss, 0, atol=1e-12)


def test_with_no_other_on_the_pots_nothing_is_repeated():
    y = 5 + np.random.default_rng(2).normal(size=(4, 2, 3, 1))
    found = repeats(pool(y, shared=True), np.array([[True], [False]]))
    assert (found.df[:, 0] == 0).all()  # nobody stands beside the one reference
    assert (found.df[:, 1] == 2).all()
    assert (found.ss[:, 0] == 0).all()
    assert (found.lots[:, 0] == 0).all()
