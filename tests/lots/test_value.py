"""Prices against scores: money as rooms write it, rows foretold by the others, slopes freed of error, what is said."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy.stats import t as student

import panelstats as pst
from panelstats.lots.value import words
from panelstats.models.errorfree import ErrorPart, error_free_correlations, slopes_alone, slopes_together
from panelstats.models.foretelling import PENALTIES, _Ridge, foretell, scaled_within, within
from panelstats.sheets.content.money import amounts

NAMES = ["colour", "strength", "body", "brisk"]


def room(
    lots: int = 60,
    effect: float = 0.12,
    *,
    seed: int = 0,
    tasters: int = 3,
    pots: int = 1,
    noise: float = 0.6,
    grades: int = 1,
    price: dict[int, object] | None = None,
    blind: str = "yes",
    alike: bool = False,
) -> pst.Scores:
    """A room whose brisk lots fetch more; `price` overrides what stands for some lots."""
    rng = np.random.default_rng(seed)
    true = rng.standard_normal((lots, 4))
    if alike:
        true[:, 1] = true[:, 3]
    grade = np.arange(lots) % grades
    brew = 0.3 * rng.standard_normal((lots, pots, 1, 4))
    marks = 5 + true[:, None, None] + brew + noise * rng.standard_normal((lots, pots, tasters, 4))
    marks += 0.5 * rng.standard_normal((tasters, 4))
    keys = pd.MultiIndex.from_product([range(lots), range(1, pots + 1), [f"t{k}" for k in range(tasters)]],
                                      names=["lot", "pot", "taster"]).to_frame(index=False)  # fmt: skip
    sheet = pd.concat([keys, pd.DataFrame(marks.reshape(-1, 4).round(1), columns=NAMES)], axis=1)
    paid = np.exp(1 + 0.4 * grade + effect * true[:, 3] + 0.08 * rng.standard_normal(lots))
    register = pd.DataFrame({"lot": range(lots), "class": "all", "grade": np.array(["A", "B", "C"])[grade],
                             "price (usd/kg)": [f"{value:.2f}" for value in paid]})  # fmt: skip
    for lot, text in (price or {}).items():
        register.loc[lot, "price (usd/kg)"] = text
    days = pd.DataFrame({"session": ["1"], "blind": [blind]})
    return pst.read_scores(sheet.assign(session="1"), room={"lots": register, "sessions": days})


# --- money ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "values", "unit"),
    [
        (["3.20", "4.05", "12"], [3.2, 4.05, 12], ""),
        (["3,20", "4,05", "1.250,00"], [3.2, 4.05, 1250], ""),
        (["$3.20", "$ 1,250.00", ""], [3.2, 1250, np.nan], "$"),
        (["420/-", "1,020/-", "unsold"], [420, 1020, np.nan], "/-"),
        (["3.20 EUR/kg", "4 EUR/kg", "Withdrawn"], [3.2, 4, np.nan], "EUR/kg"),
        (["1 250,5", "980,25", "0"], [1250.5, 980.25, np.nan], ""),
        (["1'250.50", "980.25", None], [1250.5, 980.25, np.nan], ""),
        (["1,234,567", "12.5", "-"], [1234567, 12.5, np.nan], ""),
        (["1,250", "980", ""], [1250, 980, np.nan], ""),
        (["1.250", "980", ""], [1250, 980, np.nan], ""),
        (["3.205", "4.100", ""], [3.205, 4.1, np.nan], ""),
        ([3.2, 4, float("nan")], [3.2, 4, np.nan], ""),
    ],
)  # fmt: skip
def test_money_is_read_as_written(written: list, values: list, unit: str) -> None:
    found = amounts(written, column="price", lots=list("abc"))
    np.testing.assert_allclose(found.values, values)
    assert found.unit == unit


@pytest.mark.parametrize(
    ("written", "told"),
    [
        (["3.20 USD", "4.05 EUR", ""], "two currencies"),
        (["3.20 USD", "4.05", ""], "two currencies"),
        (["3.20", "4,05", ""], "decimal comma"),
        (["1,250", "30", ""], "thousands or decimals"),
        (["about four", "4.05", ""], "not an amount"),
        (["-3.20", "4.05", ""], "not an amount"),
    ],
)  # fmt: skip
def test_money_that_cannot_be_told_is_refused_by_lot(written: list, told: str) -> None:
    with pytest.raises(pst.DesignError, match=told) as refused:
        amounts(written, column="price", lots=["101", "102", "103"])
    assert "lot" in str(refused.value)


# --- foretelling ------------------------------------------------------------------------------------------------------


def test_left_out_errors_are_those_of_refits_without_the_row() -> None:
    """Each row left out in truth: ridge as least squares with a row for each penalised slope (statsmodels OLS)."""
    rng = np.random.default_rng(1)
    stratum = np.repeat([0, 1, 2], [8, 5, 4])
    x, y = rng.standard_normal((17, 3)) + stratum[:, None], rng.standard_normal(17) + stratum
    z = scaled_within(x, stratum)
    at = 4
    penalty = PENALTIES[at] * (np.linalg.svd(z, compute_uv=False) ** 2).mean()
    found = _Ridge.of(z, np.bincount(stratum)[stratum]).left_out(within(y, stratum)[:, None], at)[:, 0]
    design = np.column_stack([z, np.eye(3)[stratum]])
    extra = np.column_stack([np.sqrt(penalty) * np.eye(3), np.zeros((3, 3))])
    for row in range(17):
        keep = np.arange(17) != row
        fit = sm.OLS(np.concatenate([y[keep], np.zeros(3)]), np.vstack([design[keep], extra])).fit()
        assert found[row] == pytest.approx(y[row] - design[row] @ fit.params, abs=1e-9)


def test_share_foretold_is_that_of_the_best_penalty_against_strata_alone() -> None:
    rng = np.random.default_rng(2)
    stratum = np.repeat([0, 1], [20, 15])
    x = rng.standard_normal((35, 2))
    y = x[:, 0] + rng.standard_normal(35)
    found = foretell(x, y, stratum, rng=np.random.default_rng(0), shuffles=99)
    size = np.array([20, 15])[stratum]
    base = ((within(y, stratum) / (1 - 1 / size)) ** 2).sum()
    assert found.share == pytest.approx(1 - (found.left**2).sum() / base)
    assert found.share_anew <= found.share + 1e-12
    assert found.p == pytest.approx(0.01)
    r = np.corrcoef(within(x, stratum)[:, 0], within(y, stratum))[0, 1]
    assert found.alone[0] == pytest.approx(r)


def test_a_constant_column_is_no_word_and_carries_nothing() -> None:
    rng = np.random.default_rng(3)
    x = np.column_stack([rng.standard_normal(30), np.full(30, 5.0)])
    found = foretell(x, x[:, 0] + rng.standard_normal(30), np.zeros(30, int), rng=rng, shuffles=49)
    assert np.isnan(found.alone[1])
    assert np.isnan(found.alone_p[1])
    assert found.alone_p[0] <= 0.04


# --- slopes freed of error --------------------------------------------------------------------------------------------


def _error(rng: np.random.Generator, n: int, d: int, tasters: int = 3) -> tuple[np.ndarray, ErrorPart]:
    marks = rng.standard_normal((n, tasters, d))
    away = marks - marks.mean(axis=1, keepdims=True) - marks.mean(axis=0) + marks.mean(axis=(0, 1))
    squares = np.einsum("ltd,lte->lde", away, away) * n / (n - 1)
    whole = np.einsum("ltd,lte->de", away, away)
    return marks, ErrorPart(squares, np.full(n, tasters - 1.0), whole, (n - 1) * (tasters - 1.0), 1 / tasters)


def test_slopes_and_their_jackknife_are_those_of_doing_it_all_again_without_each_row() -> None:
    """The same slopes from the raw marks, every row left out in truth, U formed again (by hand, plain loops)."""
    rng = np.random.default_rng(4)
    n, d = 14, 2
    stratum = np.zeros(n, int)
    marks, part = _error(rng, n, d)
    true = 2 * rng.standard_normal((n, d))
    x = true + marks.mean(axis=1)
    y = true[:, 0] + 0.3 * rng.standard_normal(n)

    def again(rows: np.ndarray, *, together: bool) -> np.ndarray:
        m, xx, yy = marks[rows], x[rows] - x[rows].mean(axis=0), y[rows] - y[rows].mean()
        away = m - m.mean(axis=1, keepdims=True) - m.mean(axis=0) + m.mean(axis=(0, 1))
        k = len(rows)
        u = np.einsum("ltd,lte->de", away, away) / ((k - 1) * 2) / 3
        s, sxy = xx.T @ xx / (k - 1), xx.T @ yy / (k - 1)
        return np.linalg.solve(s - u, sxy) if together else sxy / (np.diag(s) - np.diag(u))

    own = within(x, stratum), within(y, stratum)
    for function, together in ((slopes_alone, False), (slopes_together, True)):
        found = function(*own, stratum, [part], level=0.9)
        every = np.arange(n)
        np.testing.assert_allclose(found.slope, again(every, together=together), atol=1e-10)
        out = np.array([again(every[every != row], together=together) for row in every])
        se = np.sqrt((n - 1) / n * ((out - out.mean(axis=0)) ** 2).sum(axis=0))
        np.testing.assert_allclose(found.se, se, atol=1e-10)
        np.testing.assert_allclose(found.high - found.slope, student.ppf(0.95, n - 2) * se, atol=1e-9)


def test_error_taken_out_of_a_slope_never_leaves_less_than_a_fifth() -> None:
    x = np.array([[-1.0], [0.0], [1.0]])
    huge = ErrorPart(np.zeros((3, 1, 1)), np.zeros(3), np.array([[50.0]]), 5.0, 1.0)
    found = slopes_alone(x, x[:, 0], np.zeros(3, int), [huge], level=0.95)
    assert found.slope[0] == pytest.approx(5.0)


def test_error_free_correlation_of_one_taste_under_two_words_is_one() -> None:
    """Textbook correction for attenuation (Spearman 1904, from memory): r / sqrt(reliabilities)."""
    rng = np.random.default_rng(5)
    n, tasters = 4000, 3
    true = rng.standard_normal(n)
    errors = rng.standard_normal((n, tasters, 2))
    x = true[:, None] + errors.mean(axis=1)
    away = errors - errors.mean(axis=1, keepdims=True)
    part = ErrorPart(np.einsum("ltd,lte->lde", away, away), np.full(n, 2.0), np.einsum("ltd,lte->de", away, away),
                     2.0 * n, 1 / tasters)  # fmt: skip
    stratum = np.zeros(n, int)
    assert error_free_correlations(within(x, stratum), stratum, [part])[0, 1] == pytest.approx(1, abs=0.03)


# --- what is said -----------------------------------------------------------------------------------------------------


def test_a_word_that_carries_the_price_is_named_with_its_slope() -> None:
    found = pst.explain_value(room(seed=16), "price", shuffles=199)
    assert found.link["call"].iloc[0] == words.GOES
    table = found.table.set_index("descriptor")
    assert list(table.index[table["call"] == words.GOES]) == ["brisk"]
    assert table.loc["brisk", "low"] < 100 * np.expm1(0.12) < table.loc["brisk", "high"]
    assert "USD/kg" in found.method
    assert found.verdicts[0].numbers["share"] == pytest.approx(found.link["share"].iloc[0])


def test_prices_of_chance_name_no_word_and_no_lot_and_say_what_would_tell() -> None:
    found = pst.explain_value(room(effect=0.0, seed=7), shuffles=199)
    assert found.link["call"].iloc[0] == words.CANNOT_TELL
    assert not (found.table["call"] == words.GOES).any()
    assert set(found.lots["call"]) == {words.CANNOT_TELL}
    assert "more lots" in found.verdicts[0].next_step.lower()


def test_grades_of_different_price_are_no_link() -> None:
    """Grades part the strata: what a grade fetches is not what a word fetches."""
    scores = room(90, effect=0.0, seed=8, grades=3)
    found = pst.explain_value(scores, shuffles=199)
    assert found.link["strata"].iloc[0] == 3
    assert found.link["call"].iloc[0] == words.CANNOT_TELL


def test_a_lot_sold_at_twice_its_scores_is_told_with_what_they_say() -> None:
    scores = room(seed=9, price={5: "12.00"})
    far = pst.explain_value(scores, shuffles=199).lots
    far = far[far["call"] != words.AS_EXPECTED]
    assert list(far["lot"]) == ["5"]
    row = far.iloc[0]
    assert row["low"] < row["expected"] < row["high"] < row["price"] == 12
    assert row["ratio"] == pytest.approx(row["price"] / row["expected"])


def test_the_interval_of_a_lots_price_is_that_of_the_other_lots_errors() -> None:
    """t on the degrees of freedom left less one, the standard deviation without the lot itself, lot by lot (scipy)."""
    from panelstats.lots.value.priced import priced_lots

    scores = room(40, seed=17)
    found = pst.explain_value(scores, shuffles=99)
    assert found.link["call"].iloc[0] == words.GOES
    cells = scores.cells()
    paid = scores.lots.set_index(scores.lots["lot"].astype(str))["price (usd/kg)"].astype(float)
    priced = priced_lots(cells, paid)
    y, stratum = np.log(priced.lots["price"].to_numpy(float)), priced.lots["stratum"].to_numpy(int)
    ridge = foretell(priced.x, y, stratum, rng=np.random.default_rng(0), shuffles=9)
    for at, row in enumerate(found.lots.to_dict("records")):
        rest = np.delete(ridge.left, at)
        reach = student.ppf(0.975, ridge.df - 1) * np.sqrt((rest**2).sum() / (ridge.df - 1))
        assert np.log(row["price"] / row["expected"]) == pytest.approx(ridge.left[at], abs=1e-9)
        assert np.log(row["high"] / row["expected"]) == pytest.approx(reach, rel=1e-9)
        assert np.log(row["expected"] / row["low"]) == pytest.approx(reach, rel=1e-9)


def test_words_of_one_taste_cannot_be_told_apart() -> None:
    found = pst.explain_value(room(120, seed=10, alike=True), shuffles=199)
    told = [v for v in found.verdicts if v.call == words.TOGETHER]
    assert len(told) == 1
    assert {"strength", "brisk"} == set(told[0].subject.split(", "))
    assert list(found.together["descriptors"])[1] == "strength and brisk"


def test_beyond_the_others_is_asked_of_many_lots_only() -> None:
    assert pst.explain_value(room(60), shuffles=49).together.empty
    many = pst.explain_value(room(120, seed=11), shuffles=49).together.set_index("descriptors")
    assert many.loc["brisk", "call"] == words.BEYOND
    assert (many.drop("brisk")["call"] == words.CANNOT_TELL).all()


def test_pots_enter_the_error_where_lots_have_several() -> None:
    """Expected: disagreement / tasters + (pot - look / tasters) / pots, the textbook two-way components by hand."""
    from panelstats.lots.value.priced import priced_lots

    scores = room(40, seed=12, pots=2)
    cells = scores.cells(pots="shared")
    priced = priced_lots(cells, pd.Series(3.0, cells.lots["lot"].astype(str)))
    found = sum(np.diagonal(part.covariance()) for part in priced.error)
    frame = scores.frame.assign(lot=scores.frame["lot"].astype(str), taster=scores.frame["taster"].astype(str))
    for at, name in enumerate(priced.descriptors):
        cube = frame[frame["descriptor"] == name].pivot_table(index="lot", columns=["pot", "taster"], values="score")
        m = cube.to_numpy().reshape(40, 2, 3)
        lt = m.mean(axis=1)
        lt = ((lt - lt.mean(axis=1, keepdims=True) - lt.mean(axis=0) + lt.mean()) ** 2).sum() / (39 * 2)
        pot = ((m.mean(axis=2) - m.mean(axis=(1, 2))[:, None]) ** 2).sum() / 40
        rest = m - m.mean(axis=1, keepdims=True) - m.mean(axis=2, keepdims=True) + m.mean(axis=(1, 2), keepdims=True)
        look = (rest**2).sum() / 80
        assert found[at] == pytest.approx(lt / 3 + (pot - look / 3) / 2, rel=1e-9)


@pytest.mark.parametrize(
    ("scores", "why"),
    [
        (room(20), "24"),
        (room(40, price=dict.fromkeys(range(40), "3.00")), "fetched the same"),
        (room(40, noise=40.0, effect=0.0, seed=13), "not shown to follow the lots"),
        (room(30, price=dict.fromkeys(range(30), "unsold")), "24"),
    ],
)
def test_what_cannot_be_asked_is_said_with_the_next_step(scores: pst.Scores, why: str) -> None:
    found = pst.explain_value(scores, shuffles=49)
    first = found.verdicts[0]
    assert first.call == words.CANNOT_TELL
    assert why in first.sentence
    assert first.next_step
    assert found.table["slope"].isna().all()
    assert not any("nan" in str(verdict) for verdict in found.verdicts)


def test_unsold_lots_and_open_tasting_are_told() -> None:
    told = " ".join(map(str, pst.explain_value(room(40, price={1: "unsold", 2: ""}, blind="no"), shuffles=49).verdicts))
    assert "2 lots without a price" in told
    assert "not blind" in told
    blind = " ".join(map(str, pst.explain_value(room(40), shuffles=49).verdicts))
    assert "blind" not in blind


def test_one_taster_and_no_repeats_is_judged_and_says_that_slopes_are_flat() -> None:
    found = pst.explain_value(room(60, tasters=1, seed=14), shuffles=199)
    assert found.link["call"].iloc[0] == words.GOES
    assert "nothing shows his error" in " ".join(map(str, found.verdicts))


def test_results_hang_neither_on_row_order_nor_on_money_unit() -> None:
    scores = room(40, seed=15)
    cents = [f"{100 * float(price):.0f}" for price in scores.lots["price (usd/kg)"]]
    columns = ["session", "lot", "taster", "pot", "descriptor", "score"]
    turned = pst.read_scores(
        scores.frame.iloc[::-1].reset_index(drop=True)[columns],
        room={"lots": scores.lots.assign(**{"price (usd/kg)": cents}), "sessions": scores.sessions},
    )
    one, other = (pst.explain_value(each, shuffles=49) for each in (scores, turned))
    key = "descriptor"
    a, b = (found.table.set_index(key).sort_index() for found in (one, other))
    np.testing.assert_allclose(a[["slope", "low", "high"]], b[["slope", "low", "high"]], rtol=1e-6)


def test_the_column_is_found_by_its_bare_name_or_refused_with_the_choice() -> None:
    scores = room(30)
    with pytest.raises(pst.DesignError, match="no such column"):
        pst.explain_value(scores, "weight")
    assert pst.explain_value(scores, "Price", shuffles=9).link["by"].iloc[0] == "price"


def test_the_page_leads_with_the_answer_and_its_picture(tmp_path) -> None:
    page = pst.write_report(pst.review_value(room(seed=6)), tmp_path / "value.html").read_text("utf-8")
    first = page[page.index('id="first-screen"') : page.index('class="tasted"')]
    assert "brisk" in first
    assert "<svg" in first
    assert "nan" not in first


def test_the_letter_to_a_garden_tells_what_its_own_lots_fetched() -> None:
    scores = room(seed=9, price={5: "12.00", 6: "0.60"})
    register = scores.lots.assign(garden=["Hill" if n < 6 else "Flats" for n in range(len(scores.lots))])
    frame = scores.frame[["session", "lot", "taster", "pot", "descriptor", "score"]]
    review = pst.review_garden(pst.read_scores(frame, room={"lots": register, "sessions": scores.sessions}), "Hill")
    found = review.find(pst.ValueFound)
    told = {v.subject for v in found.verdicts if v.question == words.LOT_QUESTION}
    assert told == {"5"}
    assert set(found.lots["lot"]) == {str(n) for n in range(6)}
    assert found.link["lots"].iloc[0] == 60
