"""Every column of every table of the panel's analyses against a value from outside: a library, or the definition."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import special, stats
from statsmodels.formula.api import ols
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.inter_rater import cohens_kappa

import panelstats as pst
from panelstats.models.lotsneeded import settling_lots
from panelstats.models.reliability import limits_of_these_lots
from panelstats.models.rootmeansquare import root_mean_square
from panelstats.panel.tasters.calls import lots_to_settle
from panelstats.panel.tasters.finding import finding
from panelstats.panel.training.learning import _forecast
from panelstats.panel.training.licence import SCALE_OVER_ALL, _lots, licence
from panelstats.panel.training.trial import mean_level, trial
from tests.panel.invented import pool
from tests.panel.sheets import NAMES, scores_of

exactly = {"rel": 1e-9, "abs": 1e-9}


def room(lots=12, tasters=4, pots=2, words=2, *, seed=0, noise=0.5):
    """Marks (lot, taster, pot, descriptor); word 1 has wide lots, word 2 narrower ones."""
    rng = np.random.default_rng(seed)
    lot = rng.normal(size=(lots, 1, 1, words)) * np.linspace(1.6, 0.8, words)
    return (
        5 + lot + 0.3 * rng.normal(size=(1, tasters, 1, words)) + noise * rng.normal(size=(lots, tasters, pots, words))
    )


def one(table, **where):
    for name, value in where.items():
        table = table[table[name] == value]
    (found,) = table.to_dict("records")
    return found


# ── agreement ────────────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("sizes", [(5, 5, 5), (3, 7, 5)])
def test_classes_differ_by_the_quasi_f_of_a_general_librarys_mean_squares(sizes):
    """statsmodels' analysis of variance, lots within classes; Cochran 1951 puts the mean squares together."""
    y = room(15, 5, 1, 1)[:, :, 0, 0]
    kind = np.repeat(["low", "middle", "high"], sizes)
    sheet = pd.DataFrame(y, columns=list(NAMES[:5])).assign(lot=[f"{100 + j}" for j in range(15)])
    sheet = sheet.melt("lot", var_name="taster", value_name="strength")
    lots = pd.DataFrame({"lot": [f"{100 + j}" for j in range(15)], "class": kind})
    found = one(pst.panel_agreement(pst.read_scores(sheet, room={"lots": lots}), pots="own").classes)
    table = sheet.merge(lots).rename(columns={"class": "kind"})
    by_kind = anova_lm(ols("strength ~ C(kind) * C(taster)", table).fit())["sum_sq"]
    by_lot = anova_lm(ols("strength ~ C(lot) + C(taster)", table).fit())["sum_sq"]
    kinds, crossed = by_kind["C(kind)"] / 2, by_kind["C(kind):C(taster)"] / 8
    lot = (by_lot["C(lot)"] - by_kind["C(kind)"]) / 12
    rest = (by_lot["Residual"] - by_kind["C(kind):C(taster)"]) / 48
    over, under = kinds + rest, lot + crossed
    freedom = over**2 / (kinds**2 / 2 + rest**2 / 48), under**2 / (lot**2 / 12 + crossed**2 / 8)
    assert (found["classes"], found["df"], found["df_error"]) == pytest.approx((3, *freedom), rel=1e-9)
    assert found["statistic"] == pytest.approx(over / under, rel=1e-9)
    assert found["p"] == pytest.approx(stats.f.sf(over / under, *freedom), rel=1e-9)


def test_of_tasters_who_differ_by_their_level_alone_classes_are_judged_by_their_lots():
    """Their marks in tenths are parallel: the disagreement is 0, what is left is one-way analysis of variance."""
    level, lots = np.array([0.0, 0.1, 0.7]), np.array([3.1, 3.3, 5.2, 5.6, 6.1, 6.2])
    y = np.round(lots[:, None] + level, 1)
    kind = pd.DataFrame({"lot": [f"{100 + j}" for j in range(6)], "class": np.repeat(["a", "b", "c"], 2)})
    sheet = pd.DataFrame(y, columns=list(NAMES[:3])).assign(lot=kind["lot"])
    sheet = sheet.melt("lot", var_name="taster", value_name="strength")
    found = one(pst.panel_agreement(pst.read_scores(sheet, room={"lots": kind}), pots="own").classes)
    theirs = stats.f_oneway(lots[:2], lots[2:4], lots[4:])
    assert (found["df"], found["df_error"]) == pytest.approx((2, 3))
    assert (found["statistic"], found["p"]) == pytest.approx((theirs.statistic, theirs.pvalue), rel=1e-9)


@pytest.mark.filterwarnings("ignore::FutureWarning", "ignore::DeprecationWarning")
def test_lots_within_two_classes_add_up_the_mean_squares_of_both():
    """Shrout & Fleiss on the sums of both classes' mean squares, each from pingouin's two-way tables."""
    y = room(12, 4, 1, 1, seed=2)[:, :, 0, 0]
    y[6:] += 3
    lots = pd.DataFrame({"lot": [f"{100 + j}" for j in range(12)], "class": ["low"] * 6 + ["high"] * 6})
    sheet = pd.DataFrame(y, columns=list(NAMES[:4])).assign(lot=lots["lot"])
    sheet = sheet.melt("lot", var_name="taster", value_name="strength")
    found = one(pst.panel_agreement(pst.read_scores(sheet, room={"lots": lots}), pots="own").table)
    parts = []
    for rows in (slice(0, 6), slice(6, 12)):
        part = sheet[sheet["lot"].isin(lots["lot"][rows])]
        fit = anova_lm(ols("strength ~ C(lot) + C(taster)", part).fit())
        parts.append(fit.loc[["C(lot)", "C(taster)", "Residual"], ["sum_sq", "df"]].to_numpy())
    ss, df = np.sum(parts, axis=0).T
    lot, taster, rest = ss / df
    assert found["icc_consistency_mean"] == pytest.approx((lot - rest) / lot, rel=1e-9)
    assert found["icc_mean"] == pytest.approx((lot - rest) / (lot + (taster - rest) / 6), rel=1e-9)
    assert found["p_lots"] == pytest.approx(stats.f.sf(lot / rest, df[0], df[2]), rel=1e-9)


def test_a_marks_error_counts_each_pot_once_and_each_taster_once():
    """Variances of a balanced table from statsmodels' mean squares: looks 2, own pots."""
    y = room(14, 5, 2, 1, seed=3) + 0.6 * np.random.default_rng(1).normal(size=(14, 5, 1, 1))
    long = pd.DataFrame({"y": y.ravel()})
    long["lot"], long["taster"], _, _ = np.indices(y.shape).reshape(4, -1)
    ms = anova_lm(ols("y ~ C(lot) * C(taster)", long).fit())["mean_sq"]
    inter, error = ms["C(lot):C(taster)"], ms["Residual"]
    found = one(pst.panel_agreement(scores_of(y)).table)
    assert found["error_sd"] == pytest.approx(np.sqrt((inter - error) / 2 + error / 2), rel=1e-5)
    level = (ms["C(taster)"] - inter) / 28
    assert found["mark_se"] == pytest.approx(np.sqrt((level + (inter - error) / 2 + error / 2) / 5), rel=1e-5)
    assert found["lot_sd"] == pytest.approx(np.sqrt((ms["C(lot)"] - inter) / 10), rel=1e-5)


def test_agreement_is_judged_where_the_lots_differ_at_one_in_a_hundred():
    from panelstats.panel.agreement.tables import _call

    row = {"tasters": 4, "lots": 9, "share_low": 0.6, "share_high": 0.9}
    calls = [_call(pd.Series(row | {"p_lots": p}))[0] for p in (0.009, 0.011)]
    assert calls == ["agree", "too alike to judge"]


def test_the_limits_of_these_lots_rest_on_the_mean_squares_of_the_table():
    """Mean squares by statsmodels; a mark's variance with the level has Satterthwaite's (1946) degrees of freedom."""
    y = room(9, 4, 1, 1, seed=5) + np.array([0, 0.8, -0.8, 0.4])[:, None, None]
    long = pd.DataFrame({"y": y.ravel()})
    long["lot"], long["taster"], _, _ = np.indices(y.shape).reshape(4, -1)
    lot, taster, rest = anova_lm(ols("y ~ C(lot) + C(taster)", long).fit())["mean_sq"]
    parts = np.array([taster / 9, rest * 8 / 9])
    df = parts.sum() ** 2 / (parts**2 / [3, 24]).sum()
    limits = limits_of_these_lots(*(np.array([x]) if not isinstance(x, tuple) else tuple(np.array([v]) for v in x)
                                    for x in (lot / rest, (8.0, 24.0), parts.sum() / rest, df)))  # fmt: skip
    found = one(pst.panel_agreement(scores_of(y)).table)
    assert [found["share_low"], found["share_high"]] == pytest.approx([limits[0][0], limits[1][0]], **exactly)
    assert found["share"] == pytest.approx((lot - rest) / (lot + (taster - rest) / 9), **exactly)


def test_the_reach_of_a_mark_is_a_students_t_at_the_level_asked_for():
    y = room(14, 5, 2, 1, seed=3)
    found = one(pst.panel_agreement(scores_of(y), level=0.8).table)
    assert found["mark_reach"] == pytest.approx(found["mark_se"] * stats.t.ppf(0.9, found["mark_df"]), rel=1e-9)


@pytest.mark.parametrize(("end", "word"), [(0.3, "poor"), (0.6, "moderate"), (0.8, "good"), (0.93, "excellent")])
def test_the_bands_are_those_of_koo_and_li(end, word):
    """Koo & Li 2016, J Chiropr Med 15: 155: below .5 poor, to .75 moderate, to .9 good, above excellent."""
    from panelstats.panel.agreement.tables import _band

    assert _band(end) == word


def test_kappa_keeps_the_level_it_is_asked_for():
    counts = np.array([[20, 4, 0], [3, 15, 2], [0, 3, 13]])
    theirs = cohens_kappa(counts, wt="linear")
    for level in (0.8, 0.99):
        found = pst.weighted_kappa(counts, weights="linear", level=level)
        reach = stats.norm.ppf((1 + level) / 2) * theirs.std_kappa
        assert [found.value, found.low, found.high] == pytest.approx(
            [theirs.kappa, theirs.kappa - reach, theirs.kappa + reach], **exactly
        )


def test_the_interval_of_kappa_ends_where_kappa_ends():
    counts = np.diag([40, 40]) + np.array([[0, 1], [0, 0]])
    theirs = cohens_kappa(counts)
    assert theirs.kappa_upp > 1
    found = pst.weighted_kappa(counts, weights="none")
    assert [found.low, found.high] == pytest.approx([theirs.kappa_low, 1.0], **exactly)


def test_few_calls_give_the_quantiles_of_resampled_kappas():
    """Percentile bootstrap by statsmodels' kappa on as many draws of the same seed."""
    counts = np.array([[6, 2], [1, 7]])
    found = pst.weighted_kappa(counts, weights="none", level=0.9, seed=4)
    draws = np.random.default_rng(4).multinomial(16, (counts / 16).ravel(), 4000).reshape(-1, 2, 2)
    with np.errstate(invalid="ignore", divide="ignore"):
        kappas = [cohens_kappa(draw, return_results=False) for draw in draws]
    assert [found.low, found.high] == pytest.approx(np.nanquantile(kappas, [0.05, 0.95]), **exactly)


# ── tasters ──────────────────────────────────────────────────────────────────────────────────────────────────────────


def of_others(y, i):
    """The others' mean of each lot and the differences to it, (lot, descriptor)."""
    cell = y.mean(axis=2)
    rest = np.delete(cell, i, axis=1)
    return rest.mean(axis=1), cell[:, i] - rest.mean(axis=1)


def fewest(se, gap, lots, sure=0.975):
    """Lots with which 8 in 10 values still to come lie clear of an edge `gap` away, by scipy's t; those there are, if
    the interval is clear now."""
    if stats.t.ppf(sure, lots - 1) * se <= gap:
        return lots
    for n in range(lots + 1, 401):
        reach = stats.t.ppf(sure, n - 1) * se * np.sqrt(lots / n)
        to_come = stats.t(lots - 1, gap, se * np.sqrt(1 - lots / n))
        if to_come.sf(reach) + to_come.cdf(-reach) >= 0.8:
            return n
    return np.inf


def test_level_in_the_table_is_a_t_interval_against_a_tolerance_widened_for_few_others():
    y = room()
    found = pst.assess_tasters(scores_of(y), tolerance=0.5, level=0.9)
    for i, name in enumerate(NAMES[:4]):
        _, d = of_others(y, i)
        for k in range(2):
            got = one(found.table, taster=name, aspect="level", descriptor=f"word {k + 1}")
            low, high = stats.ttest_1samp(d[:, k], 0).confidence_interval(0.9)
            assert [got["estimate"], got["low"], got["high"]] == pytest.approx([d[:, k].mean(), low, high], **exactly)
            widened = 0.5 * np.sqrt(0.9 * (1 + 1 / 3))
            assert (got["floor"], got["ceiling"]) == pytest.approx((-widened, widened))
            away = np.sign(d[:, k].mean()) * d[:, k]
            beyond = [stats.ttest_1samp(away, edge, alternative="greater").pvalue for edge in (widened, -widened)]
            assert got["p"] == pytest.approx(sum(beyond), **exactly)
            sd, gap = d[:, k].std(ddof=1), abs(widened - abs(d[:, k].mean()))
            assert got["lots_in_all"] == fewest(sd / np.sqrt(12), gap, 12, 0.95)


def test_level_over_descriptors_is_a_noncentral_f():
    """scipy.stats.ncf, with h and the noise of the mean square by their definitions."""
    y = room(words=3) + 0.8 * np.random.default_rng(9).normal(size=(12, 4, 1, 1))  # errors shared by a lot's words
    found = pst.assess_tasters(scores_of(y), tolerance=0.5)
    _, d = of_others(y, 0)
    n, s = len(d), np.cov(d.T)
    t1 = np.trace(s)
    t2 = (n - 1) ** 2 / ((n - 2) * (n + 1)) * (np.trace(s @ s) - t1**2 / (n - 1))
    assert t2 > t1**2 / 3
    h = t1**2 / t2
    got = one(found.table, taster=NAMES[0], aspect="level", descriptor="")
    f = (d.mean(axis=0) ** 2).sum() * n / t1
    bound = got["ceiling"]
    assert bound == pytest.approx(0.5 * np.sqrt(0.9 * (1 + 1 / 3)))
    assert got["p"] == pytest.approx(stats.ncf.sf(f, h, h * (n - 1), 3 * bound**2 * h * n / t1), rel=1e-6)
    for name, share in (("low", 0.975), ("high", 0.025)):
        if got[name] > 0:
            assert stats.ncf.cdf(f, h, h * (n - 1), 3 * got[name] ** 2 * h * n / t1) == pytest.approx(share, abs=1e-6)
    assert got["estimate"] == pytest.approx(np.sqrt(max((d.mean(axis=0) ** 2).sum() - t1 / n, 0) / 3), **exactly)


def test_over_several_sessions_the_root_mean_square_is_freed_of_their_wander_too():
    """The wander by its definition in the analysis of variance, over tasters and descriptors together."""
    y = room(24, 4, 2, 2, seed=3)
    session = np.arange(24) // 8
    y += 0.6 * np.random.default_rng(2).normal(size=(3, 4, 1, 2))[session]
    y[:, 0] += 1.5
    found = pst.assess_tasters(scores_of(y, sessions=3), tolerance=4.0)  # nobody leaves a reference
    d = [of_others(y, i)[1] for i in range(4)]
    means = [np.array([x[session == s].mean(axis=0) for s in range(3)]) for x in d]
    between = [8 * m.var(axis=0, ddof=1) for m in means]
    within = [((x - m[session]) ** 2).sum(axis=0) / 21 for x, m in zip(d, means, strict=True)]
    w2 = (np.array(between) - np.array(within)).sum() / (8 * 8)
    assert w2 > 0
    noise = (within[0] / 24 + w2 / 3).sum()
    got = one(found.table, taster=NAMES[0], aspect="level", descriptor="")
    assert got["estimate"] == pytest.approx(np.sqrt(((d[0].mean(axis=0) ** 2).sum() - noise) / 2), **exactly)


def test_lots_in_all_are_those_with_which_an_interval_is_likely_to_clear_its_tolerance():
    """Half widths over all descriptors as printed; on one, a spread's by scipy's F."""
    y = room(14, 4, 2, 3, seed=4)
    found = pst.assess_tasters(scores_of(y), tolerance=0.5).table
    n = 14
    for row in found[(found["descriptor"] == "") & found["aspect"].isin(["level", "scale_use"])].to_dict("records"):
        value, low, high, floor, ceiling = (row[k] for k in ("estimate", "low", "high", "floor", "ceiling"))
        ways = {"down": (value - low, abs(value - (ceiling if value > ceiling else floor))),
                "up": (high - value, abs((floor if value < floor else ceiling) - value))}  # fmt: skip
        ways.pop("up" if value > ceiling else "down" if value < floor else "", None)
        half, gap = max(ways.values(), key=lambda way: way[0] / way[1])
        assert row["lots_in_all"] == max(fewest(half / stats.t.ppf(0.975, n - 1), gap, n), n + 1)
    for row in found[(found["descriptor"] != "") & (found["aspect"] == "repeatability")].to_dict("records"):
        half = np.log(stats.f.ppf(0.975, n, 3 * n) / stats.f.ppf(0.025, n, 3 * n)) / 4
        gap = abs(np.log(row["estimate"]) - np.log(1.5))
        assert row["lots_in_all"] == fewest(half / stats.t.ppf(0.975, n - 1), gap, n)


@pytest.mark.parametrize(
    ("value", "low", "high"), [(0.8, 0.2, 1.7), (-0.8, -1.7, -0.2), (0.3, 0.1, 0.7), (-0.3, -0.7, -0.1)]
)
def test_lots_in_all_count_from_the_end_of_the_interval_that_is_in_the_way(value, low, high):
    """Distances to a tolerance of half a point, .3 beyond it or .2 inside, that the interval exceeds twofold."""
    at = [np.array([x]) for x in (value, low, high, 0.2)]
    found = finding(at[0], (at[1], at[2]), at[3], floor=-0.5, ceiling=0.5, why=np.array([""], object))
    half = max(high - value, value - low) if abs(value) < 0.5 else min(high - value, value - low)
    wanted = fewest(half / stats.t.ppf(0.975, 19), 0.3 if abs(value) > 0.5 else 0.2, 20)
    assert lots_to_settle("level", found, np.array([20]), tail=0.025)[0] == wanted


@pytest.mark.parametrize("aspect", ["repeatability", "scatter", "agreement"])
def test_an_end_that_no_tolerance_bounds_is_never_in_the_way(aspect):
    """Intervals that reach the end of what can be on the side where nothing is asked, and are inside on the other."""
    value = np.linspace(0.6, 0.95, 50)
    ends, edges = ((0.0 * value, value + 0.05), (-np.inf, 1.5)) if aspect != "agreement" else (
        (value - 0.05, np.ones(50)), (0.1, np.inf))  # fmt: skip
    found = finding(value, ends, value, floor=edges[0], ceiling=edges[1], why=np.full(50, "", object))
    assert (lots_to_settle(aspect, found, np.full(50, 6), tail=0.025) == 7).all()


def test_the_worst_is_named_with_its_word():
    y = room(40, 5, 2, 12, noise=0.4)
    y[:, 1, :, 2] += 1.2 - y[:, 1, :, 2].mean() + np.delete(y[..., 2], 1, axis=1).mean()
    assert one(pst.assess_tasters(scores_of(y), tolerance=0.5).summary, taster="beech")["worst"] == "level of word 3"


def test_a_root_mean_square_of_known_noise_is_that_of_scipy():
    squares, noise, h, df, bound = (np.array([x]) for x in (2.0, 0.3, 3.0, 40.0, 0.5))
    found = root_mean_square(squares, noise, np.array([4]), (h, df), bound=bound)
    g = 0.3 / 3
    assert found.p[0] == pytest.approx(stats.ncf.sf(2 / 0.3, 3, 40, 4 * 0.25 / g), rel=1e-9)
    assert stats.ncf.cdf(2 / 0.3, 3, 40, 4 * found.low[0] ** 2 / g) == pytest.approx(0.975, abs=1e-9)
    assert stats.ncf.cdf(2 / 0.3, 3, 40, 4 * found.high[0] ** 2 / g) == pytest.approx(0.025, abs=1e-9)


def test_order_and_repeats_in_the_table_are_those_of_a_library():
    """scipy.stats.pearsonr and F quantiles; own pots."""
    y = room()
    found = pst.assess_tasters(scores_of(y), tolerance=0.5)
    r = np.array([[stats.pearsonr(of_others(y, i)[0][:, k], y[:, i, :, k].mean(axis=1)).statistic for k in range(2)]
                  for i in range(4)])  # fmt: skip
    for i, name in enumerate(NAMES[:4]):
        for k in range(2):
            got = one(found.table, taster=name, aspect="agreement", descriptor=f"word {k + 1}")
            x, own = of_others(y, i)[0][:, k], y[:, i, :, k].mean(axis=1)
            interval = stats.pearsonr(x, own).confidence_interval(0.95)
            assert [got["estimate"], got["low"], got["high"]] == pytest.approx([r[i, k], *interval], **exactly)
            floor = np.median(np.delete(r[:, k], i)) / 2
            assert got["floor"] == pytest.approx(floor, **exactly)
            assert got["p"] == pytest.approx(stats.norm.cdf((np.arctanh(r[i, k]) - np.arctanh(floor)) * 3), **exactly)
            got = one(found.table, taster=name, aspect="repeatability", descriptor=f"word {k + 1}")
            within = y[:, :, :, k].var(axis=2, ddof=1).mean(axis=0)
            ratio = within[i] / np.delete(within, i).mean()
            ends = [np.sqrt(ratio / stats.f.ppf(q, 12, 36)) for q in (0.975, 0.025)]
            assert [got["estimate"], got["low"], got["high"]] == pytest.approx([np.sqrt(ratio), *ends], **exactly)
            assert got["p"] == pytest.approx(stats.f.sf(ratio / 2.25, 12, 36), **exactly)
            assert got["ceiling"] == 1.5


def test_telling_lots_apart_and_what_a_taster_shows_alone_are_one_way_analyses():
    """scipy.stats.f_oneway of each taster's marks over lots; a quarter of the others' median signal to noise."""
    y = room()
    found = pst.assess_tasters(scores_of(y), tolerance=0.5)
    f = np.array([[stats.f_oneway(*y[:, i, :, k]).statistic for k in range(2)] for i in range(4)])
    for i, name in enumerate(NAMES[:4]):
        for k in range(2):
            alone = one(found.alone, taster=name, descriptor=f"word {k + 1}")
            assert alone["p_lots"] == pytest.approx(stats.f_oneway(*y[:, i, :, k]).pvalue, rel=1e-9)
            sd = np.sqrt(y[:, i, :, k].var(axis=1, ddof=1).mean())
            ends = [sd * np.sqrt(12 / stats.chi2.ppf(q, 12)) for q in (0.975, 0.025)]
            assert [alone["sd"], alone["sd_low"], alone["sd_high"]] == pytest.approx([sd, *ends], **exactly)
            shares = [(g - 1) / (g + 1) for g in (f[i, k] / stats.f.ppf(q, 11, 12) for q in (0.975, 0.025))]
            assert (alone["df"], alone["lot_share"]) == (12, pytest.approx((f[i, k] - 1) / (f[i, k] + 1), **exactly))
            assert [alone["lot_share_low"], alone["lot_share_high"]] == pytest.approx(shares, **exactly)
            got = one(found.table, taster=name, aspect="discrimination", descriptor=f"word {k + 1}")
            phi = np.median((np.maximum(np.delete(f[:, k], i), 1) - 1) / 2) / 4
            assert got["floor"] == pytest.approx(phi / (1 + phi), **exactly)
            assert got["estimate"] == pytest.approx(alone["lot_share"], **exactly)
            assert got["p"] == pytest.approx(stats.f.cdf(f[i, k] / (1 + 2 * phi), 11, 12), **exactly)


def test_a_summary_counts_what_the_table_shows():
    y = room(30, 5, 2, 4, noise=0.4)
    y[:, 1] += 2
    found = pst.assess_tasters(scores_of(y), tolerance=0.5)
    judged = ["level", "repeatability", "discrimination", "agreement", "scale_use"]
    single = found.table[found.table["aspect"].isin(judged) & (found.table["descriptor"] != "")]
    for row in found.summary.to_dict("records"):
        mine = single[single["taster"] == row["taster"]]
        whole = mine.groupby("descriptor")["call"].agg(lambda calls: (calls == "with the panel").all())
        assert (row["shown_with_panel"], row["descriptors"], row["lots"]) == (whole.sum(), 4, 30)
    assert one(found.summary, taster="beech")["worst"] == "level over all descriptors"


@pytest.mark.parametrize(("assurance", "n"), [(0.5, 13), (0.8, 23)])
def test_lots_in_all_are_the_fewest_that_fit(assurance, n):
    """By scipy's t quantiles, one lot less does not fit."""
    sd, gap = 0.8, 0.5
    found = int(settling_lots(np.array([sd]), np.array([gap]), assurance=assurance)[0])
    reach = [(stats.t.ppf(0.975, m - 1) + stats.t.ppf(assurance, m - 1)) * sd / np.sqrt(m) for m in (found - 1, found)]
    assert reach[1] <= gap < reach[0]
    assert found == n


def test_bowls_are_the_farthest_off_in_tolerances_not_in_points():
    y = np.full((10, 3, 1, 2), 5.0) + 0.01 * np.random.default_rng(1).normal(size=(10, 3, 1, 2))
    y[4, 0, 0, 0] += 3  # 3 points, 1.5 tolerances
    y[7, 0, 0, 1] += 2  # 2 points, 4 tolerances
    found = pst.assess_tasters(scores_of(y), tolerance={"word 1": 2.0, "word 2": 0.5}).taste_again
    mine = found[found["taster"] == NAMES[0]]
    assert mine["lot"].tolist()[:2] == ["107", "104"]
    assert mine["others"].iloc[0] == pytest.approx(y[7, 1:, 0, 1].mean())


# ── trainees ─────────────────────────────────────────────────────────────────────────────────────────────────────────


def trained(y, sessions, **options):
    return pst.assess_trainees(scores_of(y, sessions=sessions), trainees=NAMES[0], tolerance=0.5, **options)


def wander_of(d, session):
    """Variance of a session's level and the mean squares behind it, by its definition in the analysis of variance."""
    k = session.max() + 1
    means = np.array([d[session == s].mean(axis=0) for s in range(k)])
    n = np.bincount(session)
    between = (n[:, None] * (means - d.mean(axis=0)) ** 2).sum(axis=0) / (k - 1)
    within = sum(((d[session == s] - means[s]) ** 2).sum(axis=0) for s in range(k)) / (len(d) - k)
    return max(((between - within).sum()) / (d.shape[1] * (len(d) - (n**2).sum() / len(d)) / (k - 1)), 0.0), within


def test_a_trainees_level_carries_the_wander_of_sessions_and_satterthwaites_df():
    y = room(24, 4, 2, 2, seed=5)
    session = np.arange(24) * 3 // 24
    y[:, 0] += np.array([0.5, -0.4, 0.2])[session][:, None, None]
    found = trained(y, 3)
    _, d = of_others(y, 0)
    w2, s2 = wander_of(d, session)
    by_lots, by_sessions = s2 / 24, w2 * 3 * 8**2 / 24**2
    df = (by_lots + by_sessions) ** 2 / (by_lots**2 / 21 + by_sessions**2 / (0.5 * 2 * 2))
    reach = stats.t.ppf(0.975, df) * np.sqrt(by_lots + by_sessions)
    assert w2 > 0
    assert found.table["difference"].to_numpy() == pytest.approx(d.mean(axis=0), **exactly)
    assert found.table["low"].to_numpy() == pytest.approx(d.mean(axis=0) - reach, **exactly)
    assert found.table["high"].to_numpy() == pytest.approx(d.mean(axis=0) + reach, **exactly)
    sd, gap = np.sqrt(s2 + w2 * 8), np.abs(0.5 - np.abs(d.mean(axis=0)))
    for k, row in enumerate(found.table.to_dict("records")):
        if row["reason"].startswith("level"):
            n = next(
                (n for n in range(3, 401)
                 if (stats.t.ppf(0.975, n - 1) + stats.t.ppf(0.8, n - 1)) * sd[k] / np.sqrt(n) <= gap[k]), np.inf
            )  # fmt: skip
            assert row["lots_in_all"] == n
    assert found.table["reason"].str.startswith("level").any()
    spread = np.sqrt(s2 + w2)
    limits = found.limits
    assert limits["limit_high"].to_numpy() == pytest.approx(d.mean(axis=0) + stats.norm.ppf(0.975) * spread, **exactly)
    assert limits["limit_low"].to_numpy() == pytest.approx(d.mean(axis=0) - stats.norm.ppf(0.975) * spread, **exactly)


def test_a_single_session_takes_the_wander_from_outside():
    y = room(24, 3, 2, 1, seed=6)
    found = trained(y, 1).table.iloc[0]
    _, d = of_others(y, 0)
    assumed = (0.3 * 0.5) ** 2 * (1 + 1 / 2)  # three tenths of the tolerance, for the trainee and the mean of two
    by_lots = d[:, 0].var(ddof=1) / 24
    df = (by_lots + assumed) ** 2 / (by_lots**2 / 23)
    reach = stats.t.ppf(0.975, df) * np.sqrt(by_lots + assumed)
    assert [found["low"], found["high"]] == pytest.approx([d.mean() - reach, d.mean() + reach], **exactly)


def test_seniors_reach_and_concordance_are_of_these_marks():
    """1.96 SD of the seniors' own differences to the other seniors; Lin 1989 and Pearson's r by their definitions."""
    y = room(24, 4, 2, 1, seed=7)
    found = trained(y, 1).limits.iloc[0]
    cell = y.mean(axis=2)[:, :, 0]
    own = [(cell[:, i] - np.delete(cell[:, 1:], i - 1, axis=1).mean(axis=1)).var(ddof=1) for i in (1, 2, 3)]
    assert found["seniors_reach"] == pytest.approx(stats.norm.ppf(0.975) * np.sqrt(np.mean(own)), **exactly)
    x, ref = cell[:, 0], cell[:, 1:].mean(axis=1)
    r = stats.pearsonr(x, ref).statistic
    lin = 2 * np.cov(x, ref, ddof=0)[0, 1] / (x.var() + ref.var() + (x.mean() - ref.mean()) ** 2)
    assert (found["order"], found["concordance"]) == pytest.approx((r, lin), **exactly)
    assert found["accuracy"] == pytest.approx(lin / r, **exactly)
    assert found["lots"] == 24


def test_the_learning_curve_is_the_ratio_of_mean_squares_freed_of_the_bias_of_its_logarithm():
    y = room(24, 4, 2, 2, seed=8)
    y[:8, 0] += 1.5 * np.random.default_rng(1).normal(size=(8, 1, 2))
    found = trained(y, 3, reference=list(NAMES[1:4])).curve
    cell = y.mean(axis=2)
    refs = [np.delete(cell[:, 1:], i, axis=1).mean(axis=1) for i in range(3)]
    session = np.arange(24) // 8
    for s in range(3):
        at = session == s
        top = np.sum([((cell[at, 0] - ref[at]) ** 2).sum() for ref in refs])
        bottom = np.sum([((cell[at, 1 + i] - ref[at]) ** 2).sum() for i, ref in enumerate(refs)])
        middle = np.log(top / bottom) - special.digamma(4) + np.log(4)
        reach = stats.norm.ppf(0.975) * np.sqrt(special.polygamma(1, 4))
        ends = np.exp((middle + np.array([0, -reach, reach])) / 2)
        assert found.loc[s, ["ratio", "low", "high"]].to_numpy(float) == pytest.approx(ends, **exactly)


def test_the_summary_of_a_trainee_adds_up():
    y = room(20, 4, 2, 4, seed=9, noise=0.9)
    found = trained(y, 2)
    row, table = one(found.summary), found.table
    assert row["licensed"] == (table["call"] == "ready").sum()
    assert (row["sessions"], row["lots"], row["descriptors"]) == (2, 20, 4)
    assert row["reference"] == "beech, elm and hornbeam"
    finite = table["lots_in_all"][np.isfinite(table["lots_in_all"])]
    assert row["lots_more"] == max((finite - 20).max(), 1)


def trial_of(**changes):
    """A trainee like the seniors on 6 words, with some findings changed."""
    rng = np.random.default_rng(1)
    y = 5 + rng.normal(size=(48, 1, 1, 6)) + 0.4 * rng.normal(size=(48, 4, 2, 6))
    active = np.ones((4, 6), bool)
    active[0] = False
    found = trial(pool(y, shared=False, session=np.arange(48) // 12), active, np.full(6, 0.5))
    return replace(found, **{name: replace(getattr(found, name), **part) for name, part in changes.items()}), found


def test_one_spread_beyond_tolerance_withholds_a_licence_without_refusing_it():
    p = np.array([[0.02, 1, 1, 1, 1, 1.0]])  # alone beyond at 2.5 %; 12 % after Benjamini & Hochberg over six
    found = licence(trial_of(steadiness={"p": p})[0])
    assert list(found.call) == ["cannot tell"] + ["ready"] * 5
    assert found.reason[0] == "marks spread beyond the tolerance"


@pytest.mark.parametrize(("p", "overall"), [(0.016, "not yet"), (0.1, "ready")])
def test_overall_three_tests_share_five_per_cent(p, overall):
    assert licence(trial_of(level_all={"p": np.array([p])})[0]).overall == overall


def test_a_slope_is_shown_above_0_one_sided():
    _, found = trial_of()
    df = found.evidence.moments.residual_df[0]
    slope, low = found.slope.estimate[0], found.slope.low[0]
    se = (slope - low) / stats.t.ppf(0.975, df)
    assert found.slope_low == pytest.approx(slope - stats.t.ppf(0.95, df) * se, **exactly)
    assert (
        licence(replace(found, slope_low=np.array([-0.1, 1, 1, 1, 1, 1]))).reason[0] == "not shown to follow the lots"
    )


def test_the_mean_level_is_a_t_interval_over_lots_and_sessions():
    _, found = trial_of()
    d = found.pool.mean[:, 0] - found.reference.score[:, 0]
    session = found.pool.session
    away = np.array([d[j] - d[session == session[j]].mean(axis=0) for j in range(48)]).mean(axis=1)
    w2, _ = wander_of(d, session)
    se = np.sqrt((away**2).sum() / 44 / 48 + w2 / 4 / (0.5 * 6))
    reach = stats.t.ppf(0.975, 44) * se
    assert mean_level(found) == pytest.approx((d.mean() - reach, d.mean() + reach), **exactly)


def test_lots_that_would_settle_a_licence_are_counted_at_the_level_asked_for():
    """Half-widths of 90 % intervals over their own t, by scipy: at 95 % the same intervals ask for fewer lots."""
    rng = np.random.default_rng(1)
    y = 5 + rng.normal(size=(24, 1, 1, 6)) + 1.2 * rng.normal(size=(24, 4, 2, 6))
    y[:, 0] = 5 + 1.2 * (y[:, 0] - 5)
    active = np.ones((4, 6), bool)
    active[0] = False
    found = trial(pool(y, shared=False, session=np.arange(24) // 12), active, np.full(6, 0.5), tail=0.05)
    part, lots = found.slope_all, 24
    value, low, high = (float(x[0]) for x in (part.estimate, part.low, part.high))
    floor, ceiling = 2 / 3, 3 / 2
    ways = {"down": (value - low, abs(value - (ceiling if value > ceiling else floor))),
            "up": (high - value, abs((floor if value < floor else ceiling) - value))}  # fmt: skip
    ways.pop("up" if value > ceiling else "down" if value < floor else "", None)
    half, gap = max(ways.values(), key=lambda way: way[0] / way[1])
    wanted = fewest(half / stats.t.ppf(0.95, lots - 1), gap, lots, sure=0.95)
    assert np.isfinite(wanted)
    assert _lots(found, np.array([SCALE_OVER_ALL]))[0] == max(wanted, lots + 1)


def test_a_curve_crosses_where_the_power_law_meets_one_and_a_half():
    """y = A + B log t meets log 2.25 at t = exp((log 2.25 - A) / B) = 4.4: inside from session 5 on."""
    session = np.arange(1, 13.0)
    wave = 1e-6 * (-1.0) ** np.arange(12)
    forecast, passed = _forecast(session, 2 - 0.8 * np.log(session) + wave, np.full(12, 1e-8), 0.025)
    assert (forecast, passed) == ("between session 5 and session 5", 5)
