"""Trial recipes: shares against other solvers, bounds and aims, honest distance, what is said where none reaches."""

from __future__ import annotations

import json
from itertools import product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

import panelstats as pst
from panelstats.__main__ import main
from panelstats.lots.blends import words
from panelstats.models.recipes import Stock, cheapest, fewest, nearest

HERE = Path(__file__).parents[1] / "published" / "grades"


def tasted(
    profiles: dict[str, tuple[float, ...]], *, noise: float = 0.0, tasters: int = 6, seed: int = 0
) -> pst.Scores:
    """A session; the words are w0, w1, ... of the liquor."""
    rng = np.random.default_rng(seed)
    level = rng.standard_normal((tasters, len(next(iter(profiles.values())))))
    rows = [
        {"lot": lot, "taster": f"t{k}"}
        | {f"w{j}": round(v + level[k, j] + noise * rng.standard_normal(), 4) for j, v in enumerate(values)}
        for lot, values in profiles.items() for k in range(tasters)
    ]  # fmt: skip
    register = pd.DataFrame(
        {"descriptor": [f"w{j}" for j in range(level.shape[1])], "stage": "liquor", "tolerance": 0.5}
    )
    lots = pd.DataFrame({"lot": list(profiles), "role": ["standard" if lot == "S" else "" for lot in profiles]})
    return pst.read_scores(pd.DataFrame(rows), room={"descriptors": register, "lots": lots})


# --- shares ---


def test_nearest_shares_are_those_of_four_solvers() -> None:
    """R quadprog, all active sets, SLSQP and bvls (blend.json)."""
    found = json.loads((HERE / "blend.json").read_text("utf-8"))
    stock = Stock(*(np.array(found[key], float) for key in ("lots_profiles", "target", "lower", "upper")))
    shares = nearest(stock, np.ones(4))
    np.testing.assert_allclose(shares, found["shares"], atol=2e-7)
    assert (stock.off(shares) ** 2).sum() == pytest.approx(found["sum_of_squares"], rel=1e-6)


@given(st.integers(0, 10_000))
def test_shares_add_up_keep_their_bounds_and_are_no_farther_than_another_solver_finds(seed: int) -> None:
    """scipy's SLSQP from the middle."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 6))
    lower, upper = rng.uniform(0, 0.1, n), rng.uniform(0.5, 1, n)
    stock = Stock(rng.uniform(0, 10, (3, n)), rng.uniform(2, 8, 3), lower, upper)
    shares = nearest(stock, np.ones(3))
    assert shares.sum() == pytest.approx(1, abs=1e-8)
    assert (shares >= lower - 1e-9).all()
    assert (shares <= upper + 1e-9).all()
    bounds = list(zip(lower, upper, strict=True))
    other = minimize(lambda x: (stock.off(x) ** 2).sum(), np.full(n, 1 / n), bounds=bounds,
                     constraints={"type": "eq", "fun": lambda x: x.sum() - 1}, method="SLSQP")  # fmt: skip
    if other.success:
        assert (stock.off(shares) ** 2).sum() <= other.fun + 1e-5


def test_cheapest_and_fewest_are_those_of_a_fine_grid() -> None:
    """All blends of three lots in steps of a hundredth, by brute force."""
    stock = Stock(np.array([[4.0, 6.0, 7.0], [6.0, 4.0, 5.5]]), np.array([5.5, 5.0]), np.zeros(3), np.ones(3))
    within, cost = np.array([0.4, 0.4]), np.array([5.0, 1.0, 3.0])
    grid = [np.array([a, b, 100 - a - b]) / 100 for a, b in product(range(101), repeat=2) if a + b <= 100]
    inside = [x for x in grid if (np.abs(stock.off(x)) <= within + 1e-9).all()]
    found = cheapest(stock, within, cost, 0.0)
    assert found is not None
    assert cost @ found == pytest.approx(min(cost @ x for x in inside), abs=0.05)
    few = fewest(stock, within, 0.02)
    assert few is not None
    assert (few > 0).sum() == min((x > 0).sum() for x in inside)
    assert (np.abs(stock.off(few)) <= within + 1e-6).all()
    assert (few[few > 0] >= 0.02 - 1e-9).all()


def test_as_near_recipes_end_in_the_most_even_one() -> None:
    alike = Stock(np.array([[5.0, 5.0, 5.0]]), np.array([5.0]), np.zeros(3), np.ones(3))
    np.testing.assert_allclose(nearest(alike, np.ones(1)), 1 / 3, atol=1e-4)


# --- recipes from scores ---


def test_a_standard_that_is_a_blend_is_found_again_in_its_shares() -> None:
    mixed = {"S": (5.2, 4.6, 5.9), "1": (4.0, 6.0, 5.0), "2": (6.0, 4.0, 7.0), "3": (8.0, 1.0, 5.0)}
    shares = np.linalg.solve(np.vstack([np.array([mixed[k] for k in "123"]).T[:2], np.ones(3)]), [5.2, 4.6, 1.0])
    mixed["S"] = tuple(np.array([mixed[k] for k in "123"]).T @ shares)
    found = pst.suggest_blends(tasted(mixed), "S")
    got = found.recipes[found.recipes["recipe"] == words.NEAREST].set_index("lot")["share"]
    np.testing.assert_allclose(got.reindex(list("123")).fillna(0), shares, atol=1e-3)
    assert found.summary["call"].iloc[0] == words.REACHES
    assert found.summary["distance"].iloc[0] == pytest.approx(0, abs=1e-3)


def test_honest_distance_holds_the_errors_that_the_search_flatters() -> None:
    """Expected squared distance gains sum x^2 V and the standard's V (independent means, in closed form)."""
    rng = np.random.default_rng(3)
    mixed = {"S": (5.0,) * 6} | {str(k): tuple(5 + rng.standard_normal(6)) for k in range(8)}
    scores = tasted(mixed, noise=1.0, seed=4)
    found = pst.suggest_blends(scores, "S", tolerance=1.0)
    row = found.summary.iloc[0]
    table = found.table[found.table["recipe"] == words.NEAREST]
    shares = found.recipes[found.recipes["recipe"] == words.NEAREST]["share"]
    wide = scores.frame.assign(lot=scores.frame["lot"].astype(str), taster=scores.frame["taster"].astype(str))
    variance = []
    for name in table["descriptor"]:
        m = wide[wide["descriptor"] == name].pivot_table(index="lot", columns="taster", values="score").to_numpy()
        rest = m - m.mean(axis=1, keepdims=True) - m.mean(axis=0) + m.mean()
        variance.append((rest**2).sum() / (8 * 5) / 6)
    expected = np.sqrt((table["difference"] ** 2 + np.array(variance) * ((shares**2).sum() + 1)).mean())
    assert row["honest"] == pytest.approx(expected, rel=0.06)
    assert row["distance"] < row["honest_low"] < row["honest"] < row["honest_high"]


def test_stock_and_batch_bound_the_shares() -> None:
    scores = tasted({"S": (5.0,), "1": (5.0,), "2": (6.0,), "3": (4.0,)})
    stock = pd.DataFrame({"lot": ["1", "2", "3"], "kilograms": [20.0, 500.0, np.nan], "cost": [1.0, 2.0, 3.0]})
    found = pst.suggest_blends(scores, "S", stock=stock, batch=100)
    for _, rows in found.recipes.groupby("recipe"):
        given_ = rows.set_index("lot")
        assert given_["share"].sum() == pytest.approx(1)
        assert given_["kilograms"].get("1", 0.0) <= 20 + 1e-6
    cost = found.summary.set_index("recipe")["cost"]
    assert cost[words.CHEAPEST] <= cost[words.NEAREST] + 1e-9


def test_no_blend_reaches_a_standard_outside_the_stock() -> None:
    found = pst.suggest_blends(tasted({"S": (9.0, 5.0), "1": (4.0, 5.0), "2": (6.0, 5.0)}), "S")
    first = found.verdicts[0]
    assert first.call == words.NONE_REACHES
    assert "w0 stays 3.0 below" in first.sentence
    assert "higher on w0" in first.next_step
    assert set(found.recipes["recipe"]) == {words.NEAREST}


def test_bounds_that_hold_a_blend_back_are_named() -> None:
    scores = tasted({"S": (6.0,), "1": (4.0,), "2": (6.2,)})
    stock = pd.DataFrame({"lot": ["1", "2"], "most": [1.0, 0.5]})
    told = pst.suggest_blends(scores, "S", stock=stock).verdicts[0]
    assert "2 at the most the stock gives" in told.sentence


def test_density_of_a_recipe_is_told_as_bounds_and_held_against_the_pack() -> None:
    scores = tasted({"S": (5.0,), "1": (4.0,), "2": (6.0,)})
    weighed = pd.DataFrame({"lot": ["1", "2"], "mass": [150.0, 210.0], "volume": 500.0})
    found = pst.suggest_blends(scores, "S", densities=weighed, grams=250, millilitres=1000)
    row = found.density.iloc[0]
    assert row["low"] == pytest.approx(1 / (0.5 / 0.30 + 0.5 / 0.42), rel=1e-3)
    assert row["fits"] == "yes"
    one = pst.suggest_blends(scores, "S", densities=weighed.iloc[:1], grams=250, millilitres=1000)
    assert "2 of the recipe were not weighed" in " ".join(map(str, one.verdicts))


@pytest.mark.parametrize(
    ("stock", "told"),
    [
        ({"lot": ["1", "9"]}, "was not tasted"),
        ({"lot": ["1", "1"]}, "stands twice"),
        ({"lot": ["1", "S"]}, "is the standard"),
        ({"lot": ["1", "2"], "cost": ["cheap", "2"]}, "cheap"),
        ({"lot": ["1", "2"], "least": [0.8, 0.7]}, "more than the whole"),
        ({"lot": ["1", "2"], "most": [0.3, 0.2]}, "does not fill"),
        ({"lot": ["1", "2"], "least": [0.5, 0.0], "most": [0.3, 1.0]}, "above the most"),
    ],
)
def test_a_stock_that_cannot_be_mixed_is_refused(stock: dict, told: str) -> None:
    scores = tasted({"S": (5.0,), "1": (4.0,), "2": (6.0,)})
    with pytest.raises(pst.DesignError) as refused:
        pst.suggest_blends(scores, "S", stock=pd.DataFrame(stock))
    assert told in str(refused.value)


def test_what_goes_into_a_blend_is_to_be_listed_and_a_recipe_to_be_tasted() -> None:
    found = pst.suggest_blends(tasted({"S": (5.0,), "1": (4.0,), "2": (6.0,)}), "S")
    told = " ".join(map(str, found.verdicts))
    assert "allergens" in told
    assert "panelstats match" in told


def test_the_command_reads_stock_and_weighings_beside_the_sheets(tmp_path: Path) -> None:
    scores = tasted({"S": (5.0,), "1": (4.0,), "2": (6.0,)})
    sheet = tmp_path / "week.csv"
    scores.frame[["lot", "taster", "descriptor", "score"]].to_csv(sheet, index=False)
    stock = tmp_path / "stock.csv"
    stock.write_text("Lot,Kg,Price\n1,300,3.1\n2,200,2.9\n", "utf-8")
    asked = ["blend", str(sheet), "--standard", "S", "--stock", str(stock), "--kilograms", "100"]
    assert main(asked) == 0
    page = (tmp_path / "week-recipes.html").read_text("utf-8")
    assert "50 % 1" in page
    before = stock.read_bytes()
    assert main([*asked, "--out", str(stock), "--overwrite"]) == 2
    assert stock.read_bytes() == before
