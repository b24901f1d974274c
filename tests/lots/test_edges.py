"""The edges of what is said of lots: fewest tasters, lots and degrees of freedom, each against a general library."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy import stats
from statsmodels.stats.anova import anova_lm
from statsmodels.stats.multitest import multipletests

import panelstats as pst
from panelstats.lots.blends.profiles import profiles
from panelstats.lots.classfit import class_fits
from panelstats.lots.compare.walkingorder import _slopes
from panelstats.lots.looksquares import POTS_OF_A_LOT, look_squares
from panelstats.lots.shortlist.classday import class_days
from panelstats.lots.shortlist.dayslevel import row_of
from panelstats.lots.shortlist.listcalls import _tired, _unranked
from panelstats.lots.shortlist.ranking import Ranking
from panelstats.lots.standard.beside import error_correlation
from tests.bench.made import cells_from_array
from tests.lots.test_beside import WORDS, panel
from tests.lots.test_comparison import NAMES, sheet
from tests.lots.test_makes import made as made_lots
from tests.lots.test_maps import FAST, made, room
from tests.lots.test_recipe_columns import TWO
from tests.lots.test_recipes import tasted
from tests.lots.test_shortlist import jumped

# ── a day of one look ────────────────────────────────────────────────────────────────────────────────────────────────


def test_a_lot_whose_place_nobody_wrote_may_have_met_the_level_of_any_other():
    """The law of total variance: level and error of any other lot, each as likely; nothing is taken off it."""
    scores, _ = jumped(2)
    frame = scores.frame.copy()
    frame.loc[frame["lot"] == "L007", "position"] = np.nan
    scores = replace(scores, frame=frame, _memo={})
    (one,) = class_days(cells := scores.cells(pots="shared"), scores, look_squares(cells, scores), level=0.95)
    row, walk = row_of(one, scores), one.jumps.walks[0]
    places, cup = np.unique(row.cup_place, return_inverse=True)
    cups = pd.crosstab(row.cup_lot, cup, normalize="index")
    gone = list(one.grid.lots).index("L007")
    assert set(cups.index) == set(range(len(one.grid.lots))) - {gone}
    parts = cups - cups[one.ranked[cups.index]].mean()
    level, error = parts @ walk.level(places), walk.error(parts.to_numpy(), places)
    assert one.left[cups.index, 0] == pytest.approx(error)
    second = (level**2 + error).mean() - level.mean() ** 2
    assert one.left[gone, 0] == pytest.approx(second)
    assert one.taken[gone, :, 0] == pytest.approx(0, abs=1e-12)


@pytest.mark.parametrize("again", [1, 2, 3])
def test_pots_of_a_lot_are_freed_of_the_line_along_the_row_where_two_lots_or_more_were_brewed_again(again):
    """Least squares of the pots' means on lot and place, by statsmodels; a single pair leaves nothing beside a line."""
    rng = np.random.default_rng(again)
    cups = [(f"L{n}", pot, 7 * pot + n) for n in range(6) for pot in (1, 2) if pot == 1 or n < again]
    rows = [(lot, taster, pot, at, *(5 + rng.normal(size=2))) for lot, pot, at in cups for taster in NAMES[:3]]
    table = pd.DataFrame(rows, columns=["lot", "taster", "pot", "position", "brisk", "body"])
    table["position"] += (table["lot"] == "L1") * 4 * table["pot"]
    scores = pst.read_scores(table)
    found = look_squares(scores.cells(pots="shared"), scores).set_index(["source", "descriptor"])
    means = table[table["lot"].isin([f"L{n}" for n in range(again)])].groupby(["lot", "pot"], as_index=False).mean(
        numeric_only=True
    )  # fmt: skip
    for word in ("brisk", "body"):
        model = " + position" if again > 1 else ""
        fit = smf.ols(f"{word} ~ {'C(lot)' if again > 1 else '1'}{model}", means).fit()
        row = found.loc[(POTS_OF_A_LOT, word)]
        assert row["df"] == fit.df_resid
        assert row["mean_square"] == pytest.approx(3 * fit.ssr / fit.df_resid)


def test_where_no_word_ranks_the_lots_the_smallest_p_is_told():
    day = SimpleNamespace(speaks=np.array(["the lots"] * 3), tasters=np.full((9, 3), 2))
    every = [SimpleNamespace(descriptor=name, p=p, lots=np.arange(9), take=3, day=day, d=d, passed=False)
             for d, (name, p) in enumerate([("brisk", 0.31), ("body", np.nan), ("colour", 0.17)])]  # fmt: skip
    for order in (every, every[::-1]):
        (verdict,) = _unranked(order, "")
        assert "0.17" in verdict.sentence
        assert "0.31" not in verdict.sentence


def test_tasters_who_part_in_the_last_third_of_the_row_are_told_by_f_over_the_words():
    """Residual mean squares of lot + taster in both thirds by statsmodels, scipy's F, Holm over the words."""
    rng = np.random.default_rng(4)
    lots, tasters, many = 36, 4, 6
    place, seen = np.arange(lots, dtype=float), rng.random((lots, tasters, many)) > 0.1
    spread = 1 + np.linspace(0, 3, many) * (place >= 24)[:, None, None]
    mean = np.where(seen, 5 + rng.normal(size=(lots, 1, 1)) + spread * rng.normal(size=(lots, tasters, many)), np.nan)
    names = np.array([f"word {k}" for k in range(many)])
    day = SimpleNamespace(place=place, mean=mean, looks=seen * 1, grid=SimpleNamespace(descriptors=names))
    ratios, chances = {}, []
    cuts = np.quantile(place, [1 / 3, 2 / 3])
    for k, name in enumerate(names):
        lot, taster = np.indices((lots, tasters)).reshape(2, -1)
        long = pd.DataFrame({"y": mean[..., k].ravel(), "lot": lot, "taster": taster}).dropna()
        fits = [smf.ols("y ~ C(lot) + C(taster)", long[part[long["lot"]]]).fit()
                for part in (place <= cuts[0], place >= cuts[1])]  # fmt: skip
        ratios[name] = fits[1].mse_resid / fits[0].mse_resid
        chances.append(stats.f.sf(ratios[name], fits[1].df_resid, fits[0].df_resid))
    told = {name: (ratios[name], p) for name, p, shown in
            zip(names, chances, multipletests(chances, 0.05, "holm")[0], strict=True) if shown}  # fmt: skip
    assert 0 < len(told) < many
    found = {verdict.subject: (verdict.numbers["ratio"], verdict.numbers["p"]) for verdict in _tired(day)}
    assert list(found) == list(told)
    for name, numbers in told.items():
        assert found[name] == pytest.approx(numbers)


@pytest.mark.parametrize("take", [1, 2, 3, 4, 5, 6])
def test_equal_chances_are_listed_by_score_and_equal_scores_by_name(take):
    """The order of pandas, by three columns."""
    rng = np.random.default_rng(take)
    lots = pd.DataFrame({"name": rng.permutation([f"L{n}" for n in range(24)]), "score": rng.integers(-2, 3, 24) / 2,
                         "best": rng.integers(0, 3, 24) / 2})  # fmt: skip
    grid = SimpleNamespace(lots=lots["name"].to_numpy(str), descriptors=np.array(["brisk"]))
    found = SimpleNamespace(best=lots["best"].to_numpy(float))
    day, score = SimpleNamespace(grid=grid), lots["score"].to_numpy()
    ranking = Ranking(day, 0, np.arange(24), score, take, 1.0, 0.1, 9.0, 0.001, 1, found)
    wanted = lots.sort_values(["best", "score", "name"], ascending=[False, False, True])["name"][:take]
    assert sorted(lots["name"][ranking.listed]) == sorted(wanted)


# ── lots compared ────────────────────────────────────────────────────────────────────────────────────────────────────


def test_the_checks_of_every_word_hold_the_p_of_a_general_library():
    """A taster's residuals by F; slopes by the interaction with the lots' means (Mandel); spread by Spearman's rank."""
    rng = np.random.default_rng(5)
    lots, tasters = 30, 5
    lot = np.sort(rng.normal(0, 1.5, lots))[:, None]
    noise = 0.4 * rng.normal(size=(3, lots, tasters))
    y = 5 + lot + noise
    y[0, :, 3] += rng.normal(size=lots) * 1.5
    y[1] += lot * np.array([-0.5, 0, 0, 0, 0.5])
    y[2] += (np.exp(lot / 1.5) - 1) * noise[2]
    words = ["brisk", "body", "colour"]
    table = pd.concat(
        pd.DataFrame({"lot": np.repeat(np.arange(lots), tasters).astype(str), "taster": np.tile(NAMES[:tasters], lots),
                      "descriptor": word, "score": marks.ravel()}) for word, marks in zip(words, y, strict=True)
    )  # fmt: skip
    checks = pst.compare_lots(pst.read_scores(table)).checks
    found = checks.set_index(["descriptor", "check"])["value"]
    told = {}
    for word, marks in zip(words, y, strict=True):
        long = pd.DataFrame({"y": marks.ravel(), "mean": np.repeat(marks.mean(axis=1) - marks.mean(), tasters)})
        long["lot"], long["taster"] = np.indices(marks.shape).reshape(2, -1)
        rest = smf.ols("y ~ C(lot) + C(taster)", long).fit()
        squares = (rest.resid**2).groupby(long["taster"]).sum()
        ratio = squares.max() / ((squares.sum() - squares.max()) / (tasters - 1))
        told[word, "unequal tasters"] = 3 * tasters * stats.f.sf(ratio, lots - 1, (lots - 1) * (tasters - 1))
        own = {f"slope{k}": long["mean"] * (long["taster"] == k) for k in range(1, tasters)}
        slopes = smf.ols(f"y ~ C(lot) + C(taster) + {' + '.join(own)}", long.assign(**own)).fit()
        told[word, "unequal slopes"] = 3 * anova_lm(rest, slopes)["Pr(>F)"].iloc[1]
        spread = (rest.resid**2).groupby(long["lot"]).sum()
        told[word, "residual spread"] = stats.spearmanr(marks.mean(axis=1), spread).pvalue
    wanted = {at: p for at, p in told.items() if p * (3 if at[1] == "residual spread" else 1) < 0.01}
    assert set(wanted) >= set(zip(words, ["unequal tasters", "unequal slopes", "residual spread"], strict=True))
    assert found.to_dict() == pytest.approx(wanted, rel=1e-6)


def test_a_place_is_told_on_the_words_on_which_a_general_library_finds_it():
    """Words rise ever more along the row: p of statsmodels' line beside lot and taster, times the words."""
    rng = np.random.default_rng(11)
    lots, tasters, many = 7, 5, 16
    lot, taster = np.indices((lots, tasters)).reshape(2, -1)
    place = np.concatenate([rng.permutation(lots) for _ in range(tasters)]).reshape(tasters, lots).T.ravel() + 1.0
    parts = [
        pd.DataFrame({"lot": lot, "taster": taster, "position": place, "descriptor": f"word {k:02d}",
                      "score": lot + 0.03 * k * place + rng.normal(0, 0.6, len(lot))})
        for k in range(many)
    ]  # fmt: skip
    rows = pd.concat([part[rng.random(len(part)) > 0.15] for part in parts])
    found = _slopes(rows.astype(dict.fromkeys(("descriptor", "lot", "taster"), "category")))
    told = {}
    for word, mine in rows.groupby("descriptor"):
        fit = smf.ols("score ~ C(lot) + C(taster) + position", mine).fit()
        if fit.pvalues["position"] * many < 0.05:
            told[word] = fit.params["position"]
    assert 0 < len(told) < many
    assert found == pytest.approx(told)


@pytest.mark.parametrize("count", [20, 21])
@pytest.mark.parametrize("lots", [None, "fixed", "random"])
def test_merits_are_told_of_lots_taken_as_random_and_of_more_than_twenty(lots, count):
    y = np.random.default_rng(1).normal(5, 1, size=(count, 3, 1)) + np.arange(count)[:, None, None] / 5
    found = pst.compare_lots(sheet(y), lots=lots)
    assert len(found.merit) == (count if lots == "random" or (lots is None and count > 20) else 0)


@pytest.mark.parametrize(
    ("tasters", "pots", "shared", "said"),
    [(1, 2, False, "error within cells, for this taster only"),
     (3, 1, False, "lot:taster and error together (one look a cell)"),
     (3, 2, False, "lot:taster + error within cells"), (3, 2, True, "lot:taster + lot:pot")],
)  # fmt: skip
def test_what_lots_are_measured_against_is_told_as_the_layout_has_it(tasters, pots, shared, said):
    """The denominators of the textbook's analyses of variance: one-way, two-way, with replicates, with pots of all."""
    rng = np.random.default_rng(2)
    y = (
        5
        + np.arange(8)[:, None, None] / 2
        + rng.normal(size=(8, tasters, 1))
        + 0.3 * rng.normal(size=(8, tasters, pots))
    )
    y = y + shared * rng.normal(size=(8, 1, pots))
    found = pst.compare_lots(sheet(y, tasters=NAMES[:tasters], pots=(1, 2)), pots="shared" if shared else "own")
    assert found.anova["error_term"].tolist() == [said]


def test_three_tasters_are_enough_to_tell_how_errors_correlate():
    scores = panel(tasters=3)
    (group,) = class_fits(scores.cells(pots="own"), tolerance=None, across="holm", level=0.95)
    found, df = error_correlation(group, WORDS, "B1", "S")
    means = scores.frame.astype({"lot": str, "taster": str, "descriptor": str})
    means = means.pivot_table("score", "taster", ["lot", "descriptor"])
    assert found == pytest.approx(np.corrcoef((means["B1"][WORDS] - means["S"][WORDS]).to_numpy().T))
    assert df == 2


@pytest.mark.parametrize("effect", [3.0, -3.0])
def test_a_verdict_on_makes_carries_the_numbers_of_its_pair(effect):
    found = pst.compare_makes(made_lots(["a", "b"] * 10, effect=effect), "way")
    ((verdict,), (pair,), (row,)) = found.verdicts, found.pairs.to_dict("records"), found.table.to_dict("records")
    ends = {name: verdict.numbers[name] for name in ("low", "change", "high")}
    assert sorted(map(abs, ends.values())) == sorted(abs(pair[name]) for name in ("low", "difference", "high"))
    assert ends["low"] < ends["change"] < ends["high"]
    assert verdict.numbers["p"] == row["p_adjusted"]


# ── blends and maps ──────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("left", [1, 2, 3, 4])
def test_a_lot_counts_the_tasters_who_scored_it_down_to_one(left):
    scores = tasted({**TWO, "3": (5.5, 5.0)}, noise=0.6, tasters=4, seed=2)
    gone = (scores.frame["lot"] == "2") & scores.frame["taster"].isin([f"t{k}" for k in range(left, 4)])
    some = replace(scores, frame=scores.frame[~gone], _memo={})
    assert list(profiles(some.cells(), "S", ["1", "2", "3"], None).tasters) == [4, left, 4, 4]


def test_lots_are_placed_class_by_class_in_the_order_of_the_map():
    marks = made(12, 6, 5)
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False)
    cells = replace(cells, lots=cells.lots.assign(**{"class": ["white"] * 6 + ["green"] * 6}))
    found = pst.map_lots(cells, axes=1, **FAST)
    again = found.place(cells)
    assert list(dict.fromkeys(found.lots["class"])) == ["white", "green"]
    assert again[["class", "lot"]].to_numpy().tolist() == found.lots[["class", "lot"]].to_numpy().tolist()
    assert again["axis_1"].to_numpy() == pytest.approx(found.lots["axis_1"].to_numpy(), abs=1e-9)


@pytest.mark.parametrize(("lots", "tasters", "there"), [(3, 5, True), (5, 3, True), (2, 5, False), (5, 2, False)])
def test_three_tasters_and_three_lots_are_enough_for_one_picture(lots, tasters, there):
    found = room(made(lots, tasters, 4, seed=1, noise=0.1))
    assert bool(len(found.picture)) == there
