"""Unequal rooms: cells missing, sessions of one lot, one look; every taster and every word of a figure at once.

Against the marks themselves as pandas groups them, mean squares of statsmodels, or the same analysis without the lot
that is left out.
"""

from dataclasses import replace
from itertools import product

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm

import panelstats as pst
from panelstats.panel.season.series import (
    REPEATS,
    SCATTER,
    agreement_series,
    control_series,
    level_series,
    noise_series,
    noise_source,
)
from panelstats.panel.tasters.level import levels
from panelstats.panel.tasters.moments import moments
from panelstats.panel.tasters.ownlots import own_lots
from panelstats.panel.tasters.reference import pool_of, reference
from tests.panel.invented import pool
from tests.panel.sheets import NAMES

SESSION = np.repeat([0, 1, 2, 3], [1, 8, 9, 7])
exactly = {"rel": 1e-9, "abs": 1e-9}


def marks(seed=0, tasters=4, pots=2, words=3, missing=0.2):
    """Marks (lot, taster, pot, word) in which lots, levels and sessions differ, NaN where missing."""
    rng = np.random.default_rng(seed)
    y = 5 + 1.5 * rng.normal(size=(len(SESSION), 1, 1, words)) + 0.6 * rng.normal(size=(1, tasters, 1, words))
    y = y + 0.5 * rng.normal(size=(4, tasters, 1, words))[SESSION]
    y = y + rng.uniform(0.4, 1, size=(1, tasters, 1, words)) * rng.normal(size=(len(SESSION), tasters, pots, words))
    return np.where(rng.random(y.shape) < missing, np.nan, y)


def uneven(seed=0, **more):
    """A pool of such marks, and who stands in a reference: everybody."""
    found = pool(marks(seed, **more), shared=False, session=SESSION)
    return found, np.ones(found.mean.shape[1:], bool)


def long(values, session=SESSION):
    """An array (row, taster, word) as a table without what is missing."""
    row, taster, word = np.indices(values.shape).reshape(3, -1)
    keys = {"row": row, "session": session[row], "taster": taster, "word": word}
    return pd.DataFrame(keys | {"y": values.ravel()}).dropna()


# ── the marks ────────────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("pots", "shared"), [(1, False), (3, False), (3, True)])
def test_a_pool_holds_the_marks_as_pandas_groups_them(pots, shared):
    y = marks(1, pots=pots)
    lot, taster, pot = np.indices(y.shape[:3]).reshape(3, -1)
    sheet = pd.DataFrame({"session": [f"2031-01-{1 + SESSION[j]:02d}" for j in lot], "lot": [str(100 + j) for j in lot],
                          "taster": [NAMES[i] for i in taster], "pot": pot + 1})  # fmt: skip
    for d in range(y.shape[3]):
        sheet[f"word {d + 1}"] = y[..., d].ravel()
    sheet = sheet[np.isfinite(y).any(axis=3).ravel()]
    at = np.arange(len(y))
    lots = pd.DataFrame({"lot": (100 + at).astype(str), "class": np.where(at % 3, "b", "a")})
    found = pool_of(pst.read_scores(sheet, room={"lots": lots}).cells(pots="shared" if shared else "own"))
    table = sheet.melt(["session", "lot", "taster", "pot"], var_name="word").dropna()
    shape = [found.lots, found.tasters, found.descriptors]

    def told(*keys):
        return table.groupby(["lot", "taster", "word", *keys], sort=False)["value"]

    def filled(values):
        return values.reindex(pd.MultiIndex.from_product(shape)).to_numpy().reshape([len(names) for names in shape])

    looks = filled(told().size())
    assert np.array_equal(found.looks, np.nan_to_num(looks))
    assert found.mean == pytest.approx(filled(told().mean()), nan_ok=True)
    assert found.within_ss == pytest.approx(np.nan_to_num(filled(told().var(ddof=0)) * looks))
    by_pot = told("pot").mean()
    brews = [filled(by_pot.xs(k + 1, level="pot")) for k in range(pots)] if shared else [found.mean]
    assert found.brews == pytest.approx(np.stack(brews, axis=2), nan_ok=True)
    by_lot = sheet.drop_duplicates("lot").merge(lots).set_index("lot").loc[found.lots]
    assert found.sessions[found.session].tolist() == by_lot["session"].tolist()
    blocks = by_lot.groupby(["session", "class"]).ngroup()
    assert pd.crosstab(found.block, blocks).gt(0).to_numpy().sum() == blocks.max() + 1 == len(set(found.block))


# ── a lot left out ───────────────────────────────────────────────────────────────────────────────────────────────────


def without(found, left):
    """Each row's analysis of the pool without that row, stacked."""
    rows = np.arange(len(found.lots))
    return np.stack([left(found.rows(rows != j)) for j in rows])


@pytest.mark.parametrize("name", ["lots_ss", "lots_df", "error_ss", "error_df"])
def test_a_tasters_own_analysis_without_a_lot_is_that_of_the_others(name):
    found, _ = uneven(2)
    theirs = without(found, lambda rest: getattr(own_lots(rest)[0], name))
    assert getattr(own_lots(found)[1], name) == pytest.approx(theirs, **exactly)


@pytest.mark.parametrize("name", ["reference_ss", "product", "own_ss", "df", "others_ss", "others_df"])
def test_a_taster_beside_the_others_without_a_lot_is_so_beside_them_on_the_rest(name):
    found, everybody = uneven(3, missing=0)
    theirs = without(found, lambda rest: getattr(moments(rest, reference(rest, everybody))[0], name))
    assert getattr(moments(found, reference(found, everybody))[1], name) == pytest.approx(theirs, **exactly)


# ── levels ───────────────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("tasters", [4, 8])
def test_levels_and_their_wander_are_the_one_way_analysis_of_the_differences(tasters):
    """Henderson's (1953) method of moments from statsmodels' mean squares: over words together while they are few."""
    found, everybody = uneven(4, tasters=tasters)
    ref = reference(found, everybody, least=1)
    got = levels(found, ref)
    excess, size = np.zeros(got.bias.shape), np.zeros(got.bias.shape)
    for i, k in product(*map(range, got.bias.shape)):
        d = (found.mean - ref.score)[:, i, k]
        frame = pd.DataFrame({"d": d, "session": SESSION, "others": ref.others[:, i, k]}).dropna()
        n = frame.groupby("session").size()
        table = anova_lm(ols("d ~ C(session)", frame).fit())
        between, within = table["mean_sq"]
        excess[i, k], size[i, k] = between - within, (n.sum() - (n**2).sum() / n.sum()) / (len(n) - 1)
        here = [field[i, k] for field in (got.bias, got.plain, got.plain_df, got.lots, got.share, got.others)]
        share = ((n / n.sum()) ** 2).sum()
        wanted = [frame["d"].mean(), within, table["df"].iloc[1], n.sum(), share, stats.hmean(frame["others"])]
        assert here == pytest.approx(wanted, **exactly)
    pooled = (0, 1) if tasters == 4 else 0  # from 20 differences on, a word has a wander of its own
    assert got.wander == pytest.approx(np.maximum(excess.sum(axis=pooled) / size.sum(axis=pooled), 0), **exactly)


# ── a season ─────────────────────────────────────────────────────────────────────────────────────────────────────────


def laid(series):
    """By session and taster, NaN where there is none."""
    return series.reindex(pd.MultiIndex.from_product([range(4), range(4)])).to_numpy().reshape(4, 4)


def others(values, how):
    """Of each taster the others' mean or median or count, by session."""
    return np.stack([how(pd.DataFrame(np.delete(values, i, axis=1)), axis=1) for i in range(values.shape[1])], axis=1)


def repeated(found, keys):
    """Sums of squares of servings of one lot, and their degrees of freedom."""
    there = np.where(found.looks > 0, 1.0, np.nan)
    return (long(there * values).groupby(keys)["y"].sum() for values in (found.within_ss, found.looks - 1))


def test_the_levels_of_sessions_are_means_of_the_differences():
    found, everybody = uneven(5)
    ref = reference(found, everybody, least=1)
    got = level_series(found, everybody, least=1)
    d = long(found.mean - ref.score)
    by = d.groupby(["session", "taster", "word"])["y"]
    away = (d["y"] - by.transform("mean")) ** 2
    ms = away.groupby([d["taster"], d["word"]]).sum() / (
        d.groupby(["taster", "word"]).size() - d.groupby(["taster", "word"])["session"].nunique()
    )
    for (s, i, k), mean in by.mean().items():
        assert got.value[s, i, k] == pytest.approx(mean, **exactly)
        assert got.se[s, i, k] == pytest.approx(np.sqrt(ms[i, k] / by.size()[s, i, k]), **exactly)
    assert np.isfinite(got.value).sum() == len(by)


def test_of_many_words_a_tasters_variance_is_weighed_with_what_is_common_to_the_tasters_on_the_word():
    """Smyth (2004): (d0 s0^2 + d s^2) / (d0 + d), with one d0 and s0 for all tasters on a word; s^2 and d by pandas."""
    found, everybody = uneven(5, words=5)
    ref = reference(found, everybody, least=1)
    got = level_series(found, everybody, least=1)
    d = long(found.mean - ref.score)
    by, of = (d.groupby(keys)["y"] for keys in (["session", "taster", "word"], ["taster", "word"]))
    df = (of.size() - d.groupby(["taster", "word"])["session"].nunique()).unstack().to_numpy()  # noqa: PD010
    squares = (by.var(ddof=0) * by.size()).groupby(["taster", "word"]).sum().unstack().to_numpy()  # noqa: PD010
    lots = by.size().xs(2, level="session").unstack().to_numpy()  # noqa: PD010
    lent = got.df - df
    assert (lent > 1).all()
    assert lent == pytest.approx(np.broadcast_to(lent[:1], lent.shape))
    common = (got.se[2] ** 2 * lots * got.df - squares) / lent
    assert common == pytest.approx(np.broadcast_to(common[:1], common.shape))
    assert (common > 0).all()


@pytest.mark.parametrize("source", [SCATTER, REPEATS])
def test_the_noise_of_a_session_is_the_mean_of_its_words_against_that_of_the_others(source):
    """Words of 4 degrees of freedom or more count, each against the whole season's mean square of it."""
    y = marks(6, missing=0.1)
    y[np.ix_(SESSION == 2, [1], [0, 1], [2])] = np.nan  # who was not asked for every word
    found = pool(y, shared=False, session=SESSION)
    everybody = np.ones((4, 3), bool)
    if source == SCATTER:
        d = long(found.mean - reference(found, everybody, least=1).score).groupby(["session", "taster", "word"])["y"]
        ss, df = d.var(ddof=0) * d.size(), d.size() - 1
    else:
        ss, df = repeated(found, ["session", "taster", "word"])
    usual = ss.groupby("word").sum() / df.groupby("word").sum()
    told = pd.DataFrame({"share": ss / df / usual.reindex(ss.index, level="word"), "df": df})[df >= 4]
    own, nu = (laid(told.groupby(["session", "taster"])[name].mean()) for name in ("share", "df"))
    assert set(told.groupby(["session", "taster"]).size()) == {2, 3}  # else how many words count would cancel
    got = noise_series(found, everybody, least=1, source=source)
    value = np.log(own / others(own, pd.DataFrame.mean))
    assert got.value[..., 0] == pytest.approx(value, nan_ok=True, **exactly)
    there = np.isfinite(value)
    scale = 2 / nu[there] + 2 / others(nu, pd.DataFrame.sum)[there]
    assert got.scale[there][:, 0] == pytest.approx(scale / scale.mean(), **exactly)


def test_a_taster_alone_has_his_own_noise_and_nobody_elses():
    found, everybody = uneven(6, tasters=1, missing=0.1)
    got = noise_series(found, everybody, least=1, source=REPEATS)
    ss, df = repeated(found, ["session", "word"])
    share = ss / df / (ss.groupby("word").sum() / df.groupby("word").sum()).reindex(ss.index, level="word")
    own = share[df >= 4].groupby("session").mean()
    assert np.exp(got.value[own.index, 0, 0]) == pytest.approx(own.to_numpy(), **exactly)


def test_the_order_of_a_session_is_the_mean_of_fishers_z_less_the_others_median():
    found, everybody = uneven(7, missing=0.15)
    ref = reference(found, everybody, least=2)
    got = agreement_series(found, everybody, least=2)
    both = long(found.mean).merge(long(ref.score), on=["row", "session", "taster", "word"])
    z, df = {}, {}
    for key, part in both.groupby(["session", "taster", "word"]):
        if len(part) >= 5:
            r = stats.pearsonr(part["y_x"], part["y_y"]).statistic
            z[key], df[key] = np.arctanh(min(r, 0.99)), len(part) - 1
    z, df = (pd.Series(x).rename_axis(["session", "taster", "word"]) for x in (z, df))
    z, df = (laid(x.groupby(["session", "taster"]).mean()) for x in (z, df))
    assert got.plain[..., 0] == pytest.approx(z, nan_ok=True, **exactly)
    assert got.value[..., 0] == pytest.approx(z - others(z, pd.DataFrame.median), nan_ok=True, **exactly)
    there = np.isfinite(got.value[..., 0])
    scale = 1 / (df - 2)[there]
    assert got.scale[there][:, 0] == pytest.approx(scale / scale.mean(), **exactly)


def test_levels_on_controls_are_means_over_the_controls_that_were_there():
    found, everybody = uneven(8)
    first = np.flatnonzero(np.diff(SESSION, prepend=-1))
    lots = found.lots.copy()
    lots[first], lots[first[1:] + 1] = "C1", "C2"  # of the first session one alone
    got, panel, unlinked = control_series(replace(found, lots=lots), ["C1", "C2"], everybody, baseline=3)
    cups = {name: long(np.where((lots == name)[:, None, None], found.mean, np.nan)) for name in ("C1", "C2")}
    off = []
    for cup in cups.values():
        mean = cup.groupby(["session", "word"])["y"].mean()
        known = mean[mean.index.get_level_values("session") < 3].groupby("word").mean()
        off.append(cup.assign(y=cup["y"] - cup["word"].map(known)))
    by = pd.concat(off).groupby(["session", "taster", "word"])["y"]
    assert set(by.size()) == {1, 2}
    for (s, i, k), mean in by.mean().items():
        assert got.value[s, i, k] == pytest.approx(mean, **exactly)
        assert got.scale[s, i, k] == pytest.approx(1 / by.size()[s, i, k], **exactly)
    assert np.isfinite(got.value).sum() == len(by)
    assert unlinked == []
    for k in range(3):  # whoever was there: least squares on session and taster
        frame = long(got.value, np.arange(4)).query("word == @k")
        fit = ols("y ~ C(session) + C(taster)", frame).fit()
        grid = pd.MultiIndex.from_product([sorted(set(frame["session"])), sorted(set(frame["taster"]))]).to_frame(
            index=False, name=["session", "taster"]
        )  # fmt: skip
        wanted = grid.assign(y=fit.predict(grid)).groupby("session")["y"].mean()
        assert panel.value[wanted.index, 0, k] == pytest.approx(wanted.to_numpy(), **exactly)


@pytest.mark.parametrize(("repeated", "source"), [(0, SCATTER), (3, SCATTER), (4, REPEATS)])
def test_repeats_show_the_noise_where_four_lots_of_a_session_were_served_twice(repeated, source):
    y = np.ones((24, 3, 2, 2))
    session = np.arange(24) // 8
    y[np.arange(24) % 8 >= repeated, :, 1] = np.nan
    assert noise_source(pool(y, shared=False, session=session)) == source
