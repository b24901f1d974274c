"""The error of one look and what is made of it, against R (tests/published/lots/README.md) and closed forms."""

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import optimize, stats

from panelstats.models.borrowing import borrowed_variances
from panelstats.models.chances import chances, chances_by_cut
from panelstats.models.dayline import day_line
from panelstats.models.lookagain import expected_gain, share_right, to_the_cut
from panelstats.models.lookerror import join_sources
from panelstats.models.merit import Looked, merit_given, spread_of_lots

FOLDER = Path(__file__).parents[1] / "published" / "lots"


def truth(name):
    return json.loads((FOLDER / f"{name}.json").read_text())


@pytest.mark.parametrize("case", truth("sources")["cases"])
def test_sources_join_as_a_gamma_model_with_identity_link(case):  # R glm(Gamma(identity))
    found = join_sources([case["mean_squares"]], [case["df"]], [case["design_pot_tasterlot_look"]])
    assert found.components[0] == pytest.approx([case["pot"], case["taster_lot"], case["look"]], abs=1e-9)
    for tasters in (1, 3):
        value, df = found.of(np.array([[1.0, 1 / tasters, 1 / tasters]]))
        assert value[0] == pytest.approx(case["one_look"][f"tasters_{tasters}"]["V"], abs=1e-8)
        assert df[0] == pytest.approx(case["one_look"][f"tasters_{tasters}"]["df"], abs=1e-6)


def test_a_sum_of_variances_that_no_source_shows_is_not_known():
    one_taster = join_sources([[0.5]], [[12.0]], [[[1.0, 0.0, 1.0]]])
    assert one_taster.knows(np.array([[1.0, 0.0, 1.0]]))[0]
    value, df = one_taster.of(np.array([[[1.0, 0.0, 1.0], [1.0, 1.0, 1.0], [0.5, 0.0, 1.0]]]))
    assert value[0, 0] == pytest.approx(0.5)
    assert df[0, 0] == pytest.approx(12.0)
    assert np.isnan(value[0, 1:]).all()


def test_redrawn_components_spread_as_chi_squares_do():
    found = join_sources([[0.5, 0.2]], [[10.0, 40.0]], [[[0, 1, 1], [0, 0, 1]]])
    drawn = found.drawn(np.random.default_rng(1), 4000)[:, 0] @ np.array([0.0, 1.0, 1.0])
    expected = stats.invgamma(5, scale=0.5 * 5)  # nu MS / chi-square on nu
    assert np.median(drawn) == pytest.approx(expected.median(), rel=0.03)
    assert np.quantile(drawn, 0.9) == pytest.approx(expected.ppf(0.9), rel=0.06)


def test_few_variances_borrow_from_the_other_cells():  # R glm(Gamma(log)) refitted without each cell
    known = truth("pooled_variances")
    found = borrowed_variances(np.array(known["mean_square"]), np.array(known["df"]))
    for name, key in (("mean_square", "pooled"), ("df", "pooled_df"), ("prior", "prior"), ("prior_df", "prior_df")):
        assert getattr(found, name) == pytest.approx(np.array(known[key]), rel=1e-6)


def test_a_class_without_repeats_borrows_from_the_others_and_two_cells_lend_nothing():
    ms, df = np.array([[0.4, 0.3], [0.5, 0.4], [0.0, 0.0]]), np.array([[12.0, 12], [12, 12], [0, 0]])
    found = borrowed_variances(ms, df)
    assert not found.own[2].any()
    assert found.mean_square[2] == pytest.approx(np.exp(np.log(ms[:2]).mean(axis=0)))
    assert (found.df[2] > 0).all()
    assert (found.df[2] < 24).all()
    alone = borrowed_variances(ms[:2, :1], df[:2, :1])
    assert alone.mean_square == pytest.approx(ms[:2, :1])
    assert (alone.df == df[:2, :1]).all()


def _one_look():
    known = truth("merit_one_look")
    table = pd.read_csv(FOLDER / "merit_one_look.csv").pivot_table(index="lot", columns="taster", values="score")
    y = table.reindex(known["lot"]).to_numpy()[:, :, None]
    given = known["variances"]
    shape = (len(y), 1)
    looked = Looked(
        np.nan_to_num(y), np.isfinite(y).astype(int), np.full(shape, given["pot"]),
        np.full(shape, given["taster_lot_plus_look"]),
    )  # fmt: skip
    return known, looked


def test_merit_is_lme4s_prediction():
    known, looked = _one_look()
    found = merit_given(looked, np.array([known["variances"]["lot"]]))
    assert found.levels[:, 0] == pytest.approx(known["taster_levels"], abs=1e-10)
    assert found.merit[:, 0] == pytest.approx(known["merit"], abs=1e-10)
    assert found.variance[:, 0] == pytest.approx(known["variance"], abs=1e-10)


def test_a_lot_nobody_scored_has_no_merit_and_a_taster_without_scores_no_level():
    _, looked = _one_look()
    looks = looked.looks.copy()
    looks[3], looks[:, 1] = 0, 0
    found = merit_given(Looked(looked.mean, looks, looked.common, looked.error), np.array([0.64]))
    assert np.isnan(found.merit[3, 0])
    assert np.isnan(found.levels[1, 0])
    assert np.isfinite(np.delete(found.merit, 3, axis=0)[looks.sum(axis=1)[np.arange(24) != 3, 0] > 0]).all()


def test_spread_of_complete_lots_is_the_variance_of_their_means():
    rng = np.random.default_rng(3)
    mean = rng.normal(size=(30, 2, 1)) + rng.normal(size=(30, 1, 1))
    looked = Looked(mean, np.ones((30, 2, 1), int), np.full((30, 1), 0.1), np.full((30, 1), 0.3))
    observed, error, lots = spread_of_lots(looked)
    assert observed[0] == pytest.approx(mean.mean(axis=1).var(ddof=1))
    assert error[0] == pytest.approx(0.1 + 0.3 / 2)
    assert lots[0] == 30


def test_chances_by_the_cut():
    known = truth("merit_one_look")
    found = chances_by_cut(np.array(known["merit"]), np.array(known["variance"]), 5)
    assert found == pytest.approx(np.array(known["chance_best_5_cut"]["chance"]), abs=1e-9)
    assert found.sum() == pytest.approx(5)


@pytest.mark.parametrize("take", [1, 20, 59, 60])
def test_the_cut_is_found_among_lots_of_any_spread(take):  # scipy.optimize.brentq on scipy.stats.norm, a row at a time
    rng = np.random.default_rng(8)
    merit = np.concatenate([rng.normal(size=(6, 60)), np.round(rng.normal(size=(6, 60))), rng.standard_cauchy((3, 60))])
    variance = np.exp(rng.normal(0, 4, merit.shape))
    found = chances_by_cut(merit, variance, take)
    assert found.sum(axis=-1) == pytest.approx(np.full(len(merit), take), abs=1e-9)
    for mine, m, sd in zip(found, merit, np.sqrt(variance), strict=True):
        away = 40 * sd.max() + np.ptp(m)
        cut = optimize.brentq(
            lambda c, m=m, sd=sd: stats.norm.sf(c, m, sd).sum() - take, m.min() - away, m.max() + away
        )
        assert mine == pytest.approx(stats.norm.sf(cut, m, sd), abs=1e-6)


def test_chances_by_draws_sum_to_the_list_and_agree_with_integration():  # R integrate: best of five
    known = truth("best_of_five")
    rng = np.random.default_rng(5)
    mean, sd = np.array(known["mean"]), np.sqrt(np.array(known["variance"]))
    drawn = mean + sd * rng.standard_normal((200_000, 5))
    best = np.bincount(drawn.argmax(axis=1), minlength=5) / len(drawn)
    assert best == pytest.approx(np.array(known["p"]), abs=0.005)  # the draws of the test itself
    score = np.linspace(-2, 2, 12)
    found = chances(score, score.var(ddof=1), np.full((1000, 12), 0.1), take=3, level=0.95, rng=rng)
    assert found.best.sum() == pytest.approx(3)
    assert found.worst.sum() == pytest.approx(3)
    assert (np.diff(found.best) > -0.02).all()
    assert found.best == pytest.approx(found.worst[::-1], abs=0.05)
    assert ((found.low < found.merit) & (found.merit < found.high)).all()


@pytest.mark.parametrize("lots", [20, 300])
def test_intervals_cover_and_chances_come_true(lots):
    rng = np.random.default_rng(lots)
    covered, promised, true = [], [], []
    take, error, df = max(3, lots // 10), 0.3, 24
    for _ in range(40):
        lot = 0.8 * rng.standard_normal(lots)
        score = lot + np.sqrt(error) * rng.standard_normal(lots)
        score -= score.mean()
        estimate = error * rng.chisquare(df) / df
        drawn = np.repeat(estimate * df / rng.chisquare(df, (1000, 1)), lots, axis=1)
        found = chances(score, score.var(ddof=1), drawn, take=take, level=0.95, rng=rng)
        away = lot - lot.mean()
        covered.append(((found.low <= away) & (away <= found.high)).mean())
        promised.append(found.best)
        true.append(lot >= np.sort(lot)[-take])
    middle = (np.concatenate(promised) > 0.3) & (np.concatenate(promised) < 0.7)
    assert np.mean(covered) > 0.92
    assert np.concatenate(promised)[middle].mean() == pytest.approx(np.concatenate(true)[middle].mean(), abs=0.09)


def test_without_a_variance_between_lots_there_are_no_chances():
    score = np.linspace(-0.1, 0.1, 8)
    drawn = np.full((1000, 8), 50.0)
    assert chances(score, 1e-6, drawn, take=3, level=0.95, rng=np.random.default_rng(1)) is None
    many = np.linspace(-0.1, 0.1, 150)
    assert chances(many, 1e-6, np.full((1000, 150), 1.0), take=3, level=0.95, rng=np.random.default_rng(1)) is None


@pytest.mark.parametrize("case", truth("look_again")["gain"])
def test_gain_of_one_more_look(case):  # closed form
    found = expected_gain(np.array([case["distance"]], float), np.array([case["move_sd"]]))
    assert found[0] == pytest.approx(case["gain"], abs=1e-10)


def test_distances_lie_between_the_last_inside_and_the_first_outside():
    merit, listed = np.array([3.0, 2.0, 1.5, 0.0]), np.array([True, True, False, False])
    assert to_the_cut(merit, listed) == pytest.approx([1.5, 0.5, 0.5, 2.0])


def test_a_perfect_second_look_makes_the_list_right():
    rng = np.random.default_rng(2)
    merit, variance = rng.normal(size=40), np.full(40, 0.3)
    none, every = np.zeros(40, bool), np.ones(40, bool)
    now = share_right(merit, variance, variance, none, 4, rng)
    perfect = share_right(merit, variance, np.full(40, 1e-9), every, 4, rng)
    assert now < 0.9
    assert perfect == pytest.approx(1.0, abs=0.01)


def test_the_days_line_is_weighted_least_squares():  # R lm with weights
    known, table = truth("drift"), pd.read_csv(FOLDER / "drift.csv")
    control = table["lot"].eq("control").to_numpy()
    place = (table["position"] - table["position"].min()) / np.ptp(table["position"])
    y, x, known_df = table["score"].to_numpy()[:, None], place.to_numpy(), np.array([1e9])
    few = day_line(y[control], x[control], np.zeros(control.sum(), int),
                   np.full((control.sum(), 1), known["variance_control"]), df=known_df, correct=True)  # fmt: skip
    assert few.change[0] == pytest.approx(known["controls_only"]["change"], abs=1e-9)
    assert few.se[0] == pytest.approx(known["controls_only"]["se_known"], abs=1e-9)
    assert few.factor[0] == pytest.approx(known["controls_only"]["factor"], abs=1e-9)
    variance = np.where(control, known["variance_control"], known["variance_lot"])[:, None]
    both = day_line(y, x, control.astype(int), variance, df=known_df, correct=True)
    assert both.change[0] == pytest.approx(known["lots_and_controls"]["change"], abs=1e-9)
    assert both.se[0] == pytest.approx(known["lots_and_controls"]["se"], abs=1e-9)
    assert both.factor[0] == pytest.approx(known["lots_and_controls"]["factor"], abs=1e-9)
    assert both.low[0] == pytest.approx(both.change[0] - 1.959964 * both.se[0], abs=1e-6)
    left = both.left(np.array([[0.5]]))[0, 0]
    assert left == pytest.approx(0.25 * (both.se[0] ** 2 + ((1 - both.factor[0]) * both.change[0]) ** 2))


def test_an_uncorrected_day_takes_nothing_off():
    line = day_line(np.array([[5.0], [4.0], [3.0]]), np.array([0, 0.5, 1]), np.zeros(3, int), np.full((3, 1), 0.1),
                    df=np.array([10.0]), correct=False)  # fmt: skip
    assert line.change[0] == pytest.approx(-2.0)
    assert line.taken[0] == 0


@pytest.mark.parametrize(("tasters", "chosen", "random"), [(1, 0.567, 0.519), (3, 0.69, 0.64)])
def test_second_looks_where_they_gain_most_beat_looks_at_random(tasters, chosen, random):
    """Simulated once with 800 days: 60 second looks at new pots on 300 lots, list of 30, variances known."""
    rng = np.random.default_rng(tasters)
    one, two = (0.16 / tasters + 0.09 / pots + 0.25 / (tasters * pots) for pots in (1, 2))
    own = 0.16 / tasters  # the same tasters' opinion of a lot comes again
    after = {"gain": [], "random": []}
    for _ in range(200):
        lot = 0.8 * rng.standard_normal(300)
        opinion = np.sqrt(own) * rng.standard_normal(300)
        first, second = (lot + opinion + np.sqrt(one - own) * rng.standard_normal(300) for _ in range(2))
        merit, variance = 0.64 / (0.64 + one) * first, 0.64 * one / (0.64 + one)
        listed = np.zeros(300, bool)
        listed[np.argsort(-merit)[:30]] = True
        moves = np.sqrt(variance - 0.64 * two / (0.64 + two))
        gains = expected_gain(to_the_cut(merit, listed), np.full(300, moves))
        best = lot >= np.sort(lot)[-30]
        for way, again in (("gain", np.argsort(-gains)[:60]), ("random", rng.choice(300, 60, replace=False))):
            now = merit.copy()
            now[again] = 0.64 / (0.64 + two) * (first[again] + second[again]) / 2
            after[way].append(best[np.argsort(-now)[:30]].mean())
    assert np.mean(after["gain"]) == pytest.approx(chosen, abs=0.02)
    assert np.mean(after["random"]) == pytest.approx(random, abs=0.02)
