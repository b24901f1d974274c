"""Every column of the lots' tables against a number from outside: a general library, a closed form, or plain counting.

Complete data: mean squares by statsmodels' `anova_lm`; what follows from them is textbook (Satterthwaite 1946; Searle,
Casella & McCulloch 1992, Variance Components, section 4.3).
"""

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy.stats import f as f_distribution
from scipy.stats import norm
from scipy.stats import t as student
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.multitest import multipletests

import panelstats as pst
from panelstats.lots.standard.matchtolerance import from_pairs
from panelstats.models.numbersneeded import power_with_pots
from tests.lots.test_comparison import NAMES, compare, panel, sheet
from tests.lots.test_standard import drawn
from tests.lots.test_standard import panel as weeks
from tests.models.published import frame


def mean_squares(table, *, shared):
    """MS and df by source of one descriptor, from a general library's sequential analysis of variance."""
    table = table.rename(columns={"pot": "brew"})
    formula = "score ~ C(lot) + C(taster) + C(lot):C(taster)" + (" + C(lot):C(brew)" if shared else "")
    lines = anova_lm(smf.ols(formula, table).fit())
    ms, df = lines["sum_sq"] / lines["df"], lines["df"]
    names = {"C(lot)": "lot", "C(taster)": "taster", "C(lot):C(taster)": "lot:taster", "C(lot):C(brew)": "lot:pot"}
    names["Residual"] = "residual"
    return ms.rename(names), df.rename(names)


@pytest.fixture(scope="module")
def own():
    found = compare("machines", "own", pairs=True, across="none")
    return found, *mean_squares(frame("machines").assign(pot=0), shared=False)


def test_limits_of_a_component_are_those_of_its_mean_squares(own):
    """Large-sample variance of a difference of mean squares over its coefficient; normal on the log scale."""
    found, ms, df = own
    table = found.components.set_index("source")
    lots, tasters, pots = 3, 6, 3
    lines = {
        "residual": (1, ["residual"]),
        "lot:taster": (pots, ["lot:taster", "residual"]),
        "taster": (pots * lots, ["taster", "lot:taster"]),
        "lot": (pots * tasters, ["lot", "lot:taster"]),
    }
    for source, (k, (top, *below)) in lines.items():
        variance = (ms[top] - sum(ms[name] for name in below)) / k
        se = np.sqrt(sum(2 * ms[name] ** 2 / df[name] for name in (top, *below))) / k
        spread = np.exp(norm.ppf(0.975) * se / variance / 2)
        row = table.loc[source]
        assert row["variance"] == pytest.approx(variance, rel=1e-6)
        assert (row["sd"], row["low"], row["high"]) == pytest.approx(
            (variance**0.5, variance**0.5 / spread, variance**0.5 * spread), rel=1e-6
        )
    assert table["share"].sum() == pytest.approx(1)
    assert table.loc["lot", "share"] == pytest.approx(table.loc["lot", "variance"] / table["variance"].sum())


def test_a_component_at_zero_says_zero_and_no_upper_limit():
    table = frame("machines")
    rng = np.random.default_rng(1)
    table["score"] = table.groupby("lot")["score"].transform("mean") + rng.normal(0, 1, len(table))
    found = pst.compare_lots(pst.read_scores(table), pots="own").components.set_index("source")
    at_zero = found.index[found["variance"] == 0]
    assert len(at_zero)
    assert (found.loc[at_zero, "low"] == 0).all()
    assert found.loc[at_zero, "high"].isna().all()


def test_deviations_from_the_class_and_their_limits(own):
    found, ms, df = own
    means = found.means
    se = np.sqrt(ms["lot:taster"] / 18 * (1 - 1 / 3))  # 6 tasters x 3 pots; less a third, its own share of the mean
    reach = student.ppf(0.975, df["lot:taster"]) * se
    raw = frame("machines").groupby("lot")["score"].mean()
    np.testing.assert_allclose(means["mean"], raw, rtol=1e-9)
    np.testing.assert_allclose(means["deviation"], raw - raw.mean(), rtol=1e-6)
    np.testing.assert_allclose(means["deviation_low"], raw - raw.mean() - reach, rtol=1e-6)
    np.testing.assert_allclose(means["deviation_high"], raw - raw.mean() + reach, rtol=1e-6)
    assert (means["tasters"] == 6).all()
    assert (means["looks"] == 18).all()
    assert means["compared"].all()


def test_simultaneous_limits_of_pairs_are_tukeys(own):
    """Student's range at 5 %, 3 means, 10 df: 3.877 (printed tables, as in Montgomery's appendix; recomputed)."""
    found, ms, _ = own
    half = 3.877 * np.sqrt(ms["lot:taster"] / 18)
    np.testing.assert_allclose(found.pairs["high"] - found.pairs["difference"], half, rtol=2e-4)
    np.testing.assert_allclose(found.pairs["difference"] - found.pairs["low"], half, rtol=2e-4)


def test_pairs_by_holm_and_alone_agree_with_a_general_library(own):
    _, ms, df = own
    for adjust, by in (("holm", "holm"), ("none", None)):
        pairs = compare("machines", "own", pairs=True, adjust=adjust).pairs
        t = pairs["difference"] / np.sqrt(2 * ms["lot:taster"] / 18)
        p = 2 * student.sf(np.abs(t), df["lot:taster"])
        np.testing.assert_allclose(pairs["p"], p, rtol=1e-6)
        np.testing.assert_allclose(pairs["p_adjusted"], multipletests(p, method=by)[1] if by else p, rtol=1e-6)
        tail = 0.025 / (3 if by else 1)  # intervals beside Holm are Bonferroni's
        half = student.isf(tail, df["lot:taster"]) * np.sqrt(2 * ms["lot:taster"] / 18)
        np.testing.assert_allclose(pairs["high"] - pairs["difference"], half, rtol=1e-6)


@pytest.mark.parametrize("name", ["briskness", "astringency"])
def test_shared_pots_classical_f_has_pots_and_tasters_in_its_error(name):
    table = frame("shared_pots_balanced")
    ms, df = mean_squares(table[table["descriptor"] == name], shared=True)
    error = ms["lot:pot"] + ms["lot:taster"] - ms["residual"]
    df_error = error**2 / sum(ms[k] ** 2 / df[k] for k in ("lot:pot", "lot:taster", "residual"))
    lines = compare("shared_pots_balanced", "shared", across="none").mean_squares
    lines = lines[lines["descriptor"] == name].set_index("source")
    np.testing.assert_allclose(lines.loc[list(ms.index), "mean_square"], ms, rtol=1e-9)
    assert lines["df"].to_dict() == pytest.approx(df.to_dict())
    row = lines.loc["lot"]
    assert (row["statistic"], row["df_error"]) == pytest.approx((ms["lot"] / error, df_error))
    assert row["p"] == pytest.approx(f_distribution.sf(ms["lot"] / error, df["lot"], df_error))


def test_p_is_adjusted_over_the_descriptors_as_a_general_library_does():
    rng = np.random.default_rng(3)
    parts = [sheet(panel(rng, 4, 6, 2, 0, s), tasters=NAMES[:6], pots=(1, 2), name=f"d{s}").frame for s in (0, 0.3, 1)]
    table = pd.concat([part.astype({"descriptor": str}) for part in parts]).drop(columns=["position", "session"])
    for across, method in (("holm", "holm"), ("bh", "fdr_bh")):
        found = pst.compare_lots(pst.read_scores(table), pots="own", across=across).anova
        np.testing.assert_allclose(found["p_adjusted"], multipletests(found["p"], method=method)[1], rtol=1e-12)


def test_merit_shrinks_the_deviation_by_the_reliability_of_the_mean():
    """Complete data: BLUP = deviation x sL / (sL + MS_lot:taster / (r T)) (Henderson 1975)."""
    scores = panel(np.random.default_rng(2), 25, 4, 2, 0, 1.0)
    source = sheet(scores, tasters=NAMES[:4], pots=(1, 2))
    found = pst.compare_lots(source, pots="own", lots="random")
    ms, _ = mean_squares(source.frame, shared=False)
    spread = (ms["lot"] - ms["lot:taster"]) / 8
    shrink = spread / (spread + ms["lot:taster"] / 8)
    merit = found.merit.set_index("lot")
    deviation = found.means.set_index("lot")["deviation"]
    np.testing.assert_allclose(merit["merit"], shrink * deviation[merit.index], rtol=1e-5, atol=1e-7)
    se = np.sqrt(spread - spread * shrink * (1 - 1 / 25))  # the mean of all lots is estimated too
    np.testing.assert_allclose(merit["se"], se, rtol=1e-5)
    reach = student.ppf(0.975, 24) * se  # t on the lots less one: their variance is estimated from them (rates.md)
    np.testing.assert_allclose(merit["high"] - merit["merit"], reach, rtol=1e-5)
    np.testing.assert_allclose(merit["merit"] - merit["low"], reach, rtol=1e-5)


def test_the_sentence_names_the_surest_pair_upper_lot_first():
    """The lot named first is the higher one, whichever stands first in the sheet."""
    base = np.random.default_rng(5).normal(0, 0.4, (3, 6, 2))
    for order in ((0, 1, 2), (2, 1, 0)):
        scores = 5 + base + np.array([0.0, 0.1, 3.0])[list(order)][:, None, None]
        found = pst.compare_lots(sheet(scores, tasters=NAMES[:6], pots=(1, 2)), pots="own")
        top, (verdict,) = f"{100 + order.index(2)}", found.verdicts
        assert f"Lot {top} scores" in verdict.sentence
        numbers = verdict.numbers
        row = found.pairs.iloc[int(np.argmax(np.abs(found.pairs["difference"] / found.pairs["se"])))]
        ends = sorted(abs(row[["low", "high"]].astype(float)))
        assert numbers["difference"] == pytest.approx(abs(row["difference"]))
        assert [numbers["low"], numbers["high"]] == pytest.approx(ends)
        assert f"{(found.pairs['p_adjusted'] < 0.05).sum()} of 3 pairs are told apart" in verdict.sentence


def near(p, tasters=4):
    """Two lots, one pot each: scores whose paired t test has just this p."""
    noise = np.array([0.3, -0.4, 0.5, -0.6, 0.2, 0.1])[:tasters]
    noise = noise - noise.mean()
    apart = student.isf(p / 2, tasters - 1) * noise.std(ddof=1) / np.sqrt(tasters)
    scores = np.stack([5 + np.arange(tasters), 5 + np.arange(tasters) + noise + apart])[:, :, None]
    return pst.compare_lots(sheet(scores, tasters=NAMES[:tasters]), pots="own")


@pytest.mark.parametrize(("p", "tasters", "said"), [(0.045, 4, True), (0.025, 4, False), (0.045, 6, False)])
def test_a_verdict_near_the_line_of_few_tasters_says_so(p, tasters, said):
    found = near(p, tasters)
    assert found.anova["p"].iloc[0] == pytest.approx(p, rel=1e-6)
    assert ("near the line" in found.verdicts[0].sentence) == said


def test_checks_give_the_share_they_speak_of():
    scores = np.round(panel(np.random.default_rng(6), 12, 6, 1, 0, 1.0))
    scores = np.clip(scores, 4, 5)
    found = pst.compare_lots(sheet(scores, tasters=NAMES[:6])).checks
    ends = found[found["check"] == "scale end"].set_index("limit")["value"]
    shares = [share for share in ((scores == 4).mean(), (scores == 5).mean()) if share > 0.30]
    assert list(ends) == pytest.approx(shares)
    assert (ends.index == 0.30).all()


def test_the_next_step_plans_with_the_pots_own_spread_or_says_what_it_assumed():
    rng = np.random.default_rng(8)
    seen = pst.compare_lots(
        sheet(panel(rng, 3, 8, 2, 0.5, 0.0), tasters=NAMES, pots=(1, 2)), pots="shared", tolerance=1
    )
    variance = seen.components.set_index("source")["variance"]
    assert variance["lot:pot"] > 0
    (verdict,) = seen.verdicts
    assert "are taken to differ" not in verdict.next_step
    pots = int(verdict.next_step.split(" pots a lot and")[0].split()[-1])
    wanted = float(verdict.next_step.split("a difference of ")[1].split(" ")[0])
    plan = {"tasters": 8, "lots": 3, "difference": wanted}
    fixed = pst.compare_lots(
        sheet(panel(rng, 3, 8, 2, 0.0, 0.0), tasters=NAMES, pots=(1, 2)), pots="shared", tolerance=0.5
    )
    assert "Pots are taken to differ by 0.25 points (standard deviation)." in fixed.verdicts[0].next_step
    parts = variance[["lot:pot", "lot:taster", "residual"]]
    power = power_with_pots(np.array([pots - 1, pots]), *parts, **plan)
    assert power[1] >= 0.8 - 0.03  # lots random there, fixed in the plan: nearly the same variances
    assert power[0] < 0.8 + 0.03


def test_pots_are_planned_for_all_the_tests_of_the_page_and_with_more_tasters_where_pots_do_not_do():
    """Followed in 34 simulated rooms, the plan left 1 open; planned for a single test, 11 of 30."""
    y = panel(np.random.default_rng(8), 3, 8, 2, 0.5, 0.0)
    words = [sheet(y + 0.01 * k, tasters=NAMES, pots=(1, 2), name=f"word {k}").frame for k in range(3)]
    scores = pst.read_scores(pd.concat(words)[["lot", "taster", "pot", "descriptor", "score"]])
    steps = [pst.compare_lots(scores, pots="shared", tolerance=1, across=across).verdicts[0].next_step
             for across in ("none", "holm")]  # fmt: skip
    pots, tasters = (
        [int(step.split(f" {word}")[0].split()[-1]) for step in steps] for word in ("pots a lot and", "tasters would")
    )
    assert pots[1] > pots[0] or tasters[1] > tasters[0]
    assert tasters == sorted(tasters)


def test_own_pots_tolerance_is_the_spread_of_a_taster_as_it_reaches_the_panel_mean():
    y = drawn(np.random.default_rng(4), sessions=3, tasters=5, pots=2, apart=0.0, pot_sd=0.2, own=True, descriptors=1)
    found = from_pairs(weeks(y, pots="own").cells(), "L0")
    standard = y[:, 0, :, :, 0]  # (session, taster, pot)
    pooled = standard.var(axis=2, ddof=1).mean()  # 15 df: three sessions of five tasters, one pair each
    wanted = student.ppf(0.975, 15) * np.sqrt(2 * pooled / 5)
    assert found["d0"] == pytest.approx(wanted)


def test_shared_pots_difference_has_pots_and_tasters_in_its_error():
    y = drawn(np.random.default_rng(21), sessions=1, tasters=7, pots=4, apart=0.6, pot_sd=0.6, own=False, descriptors=2)
    found = pst.match_standard(weeks(y, tolerance=1.0), "L0").table
    for name, row in found.set_index("descriptor").iterrows():
        lot, taster, pot = np.indices(y.shape[1:4]).reshape(3, -1)
        scores = y[0, ..., int(name[1])].ravel()
        ms, df = mean_squares(pd.DataFrame({"lot": lot, "taster": taster, "pot": pot, "score": scores}), shared=True)
        assert ms["lot:pot"] > ms["residual"] < ms["lot:taster"]  # no component at 0: the closed form is REML's
        error = ms["lot:pot"] + ms["lot:taster"] - ms["residual"]
        df_error = error**2 / sum(ms[k] ** 2 / df[k] for k in ("lot:pot", "lot:taster", "residual"))
        se, gap = np.sqrt(2 * error / 28), y[0, 1, ..., int(name[1])].mean() - y[0, 0, ..., int(name[1])].mean()
        reach, side = student.ppf(0.975, df_error) * se, student.ppf(0.95, df_error) * se
        wanted = (gap, se, df_error, gap - reach, gap + reach, gap - side, gap + side)
        shown = ["difference", "se", "df", "low", "high", "within_low", "within_high"]
        assert tuple(row[shown]) == pytest.approx(wanted, rel=1e-6)
        assert row["p"] == pytest.approx(2 * student.sf(abs(gap) / se, df_error), rel=1e-6)
    np.testing.assert_allclose(found["p_adjusted"], multipletests(found["p"], method="holm")[1], rtol=1e-9)


def test_faults_have_exact_limits_at_the_level_asked_for():
    from scipy.stats import binomtest

    rows = [(lot, taster, 5, mark) for lot, marks in (("a", "1110"), ("b", "1111")) for taster, mark in zip(
        NAMES, marks, strict=False)]  # fmt: skip
    table = pd.DataFrame(rows, columns=["lot", "taster", "brisk", "smoky"])
    found = pst.faults_noticed(pst.read_scores(table), level=0.9).table.set_index("lot")
    for lot, noticed in (("a", 3), ("b", 4)):
        exact = binomtest(noticed, 4).proportion_ci(0.9, method="exact")
        assert tuple(found.loc[lot, ["low", "high"]]) == pytest.approx((exact.low, exact.high))
