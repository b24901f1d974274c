"""A price, branch by branch: what is said from tables made up here, which lots count, and ridge regression by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from scipy.stats import t as student

import panelstats as pst
from panelstats.lots.value import words
from panelstats.lots.value.priced import order_shown, priced_lots
from panelstats.lots.value.tables import _groups, lots_table, together_table, words_table
from panelstats.lots.value.valuecalls import Asked, value_verdicts
from panelstats.models.errorfree import ErrorPart, error_free_correlations, slopes_alone, slopes_together
from panelstats.models.foretelling import PENALTIES, Foretold, foretell, scaled_within, within
from panelstats.result import Act

ASKED = Asked("price", "USD/kg", "class and sale", 0.95, "yes")
ROOM = SimpleNamespace(lots=range(60), error=[1], of_pots=True)
SLOPES = ["slope", "low", "high", "df"]
NO_WORDS = pd.DataFrame(columns=["descriptor", "correlation", "p_adjusted", *SLOPES, "alike", "call"])
NO_TOGETHER = pd.DataFrame(columns=["descriptors", *SLOPES, "p", "p_adjusted", "call"])
NO_LOTS = pd.DataFrame(columns=["lot", "price", "expected", "low", "high", "p_adjusted", "call"])


def link(**more):
    told = {"lots": 60, "unsold": 0, "left_out": 0, "share": 0.42, "share_anew": 0.3, "p": 0.01, "order_p": 0.005,
            "call": words.GOES}  # fmt: skip
    return pd.DataFrame([told | more])


def said(*, asked=ASKED, room=ROOM, table=NO_WORDS, together=NO_TOGETHER, lots=NO_LOTS, why="", **more):
    return value_verdicts(asked, room, link(**more), table, together, lots, why, least=24)


def word(name, correlation=0.5, slope=10.0, low=4.0, high=16.0, alike="", call=words.GOES):
    sizes = dict(zip(SLOPES, (slope, low, high, 50.0), strict=True))
    return {"descriptor": name, "correlation": correlation, "p_adjusted": 0.02, **sizes, "alike": alike, "call": call}


# --- whether ---


@pytest.mark.parametrize(("lots", "more"), [(20, "4 lots more"), (23, "1 lot more"), (30, "1 lot more")])
def test_too_few_lots_say_how_many_more(lots, more) -> None:
    (first, *rest) = said(why=words.FEW, lots=NO_LOTS, share=np.nan)
    assert not rest
    first = value_verdicts(ASKED, ROOM, link(lots=lots), NO_WORDS, NO_TOGETHER, NO_LOTS, words.FEW, least=24)[0]
    assert (first.call, first.act) == (words.CANNOT_TELL, Act.TASTE_AGAIN)
    assert more in first.next_step
    assert "needs 24" in first.sentence


def test_what_stands_in_the_way_has_a_next_step_of_its_own() -> None:
    order = said(why=words.NO_ORDER, order_p=0.234, table=pd.DataFrame([word("brisk")]))
    assert len(order) == 1  # nothing of words or lots
    assert "(p 0.23)" in order[0].sentence
    assert order[0].next_step == words.NO_ORDER_STEP
    for why in (words.NO_SPREAD, words.NO_SCORES):
        (flat,) = said(why=why, order_p=np.nan)
        assert flat.next_step == words.NO_SPREAD_STEP.format(by="price")
        assert flat.call == words.CANNOT_TELL


def test_a_link_is_told_with_both_shares_and_an_open_one_names_no_lot() -> None:
    (first, none) = said()
    assert (first.call, first.act, first.next_step) == (words.GOES, Act.DECIDE, "")
    assert "about 42 %" in first.sentence
    assert "30 %" in first.sentence
    assert first.numbers == {"share": 0.42, "share_anew": 0.3, "p": 0.01}
    assert "over 0 lots" in none.sentence
    assert "0 %" in said(share_anew=-0.2)[0].sentence
    (first,) = said(call=words.CANNOT_TELL, p=0.4)
    assert (first.call, first.act) == (words.CANNOT_TELL, Act.TASTE_AGAIN)
    assert first.next_step


@pytest.mark.parametrize(
    ("blind", "error", "of_pots", "lots", "told"),
    [
        ("yes", [1], True, 5, []),
        ("no", [1], True, 5, ["was not blind"]),
        ("partly", [1], True, 5, ["was not blind"]),
        ("", [1], True, 5, ["Nobody wrote"]),
        ("yes", [], True, 5, ["nothing shows his error"]),
        ("yes", [], False, 5, ["nothing shows his error"]),
        ("yes", [1], False, 5, ["One pot a lot"]),
        ("yes", [], False, 0, []),
    ],
)
def test_what_it_rests_on_is_told_where_it_matters(blind, error, of_pots, lots, told) -> None:
    asked = Asked("price", "", "class", 0.95, blind)
    found = said(asked=asked, room=SimpleNamespace(lots=range(lots), error=error, of_pots=of_pots), why=words.FEW)[1:]
    assert len(found) == bool(told)
    every = ["was not blind", "Nobody wrote", "nothing shows his error", "One pot a lot"]
    assert [part for part in every if found and part in found[0].sentence] == told


def test_lots_left_out_are_counted() -> None:
    (_, rest) = said(why=words.FEW, unsold=2, left_out=1)
    assert "2 lots without a price" in rest.sentence
    assert "1 lot stand alone" in rest.sentence


# --- words ---


def test_words_stand_by_the_size_of_their_correlation_each_the_way_it_goes() -> None:
    rows = [word("dull", -0.8, -12.0, -20.0, -5.0), word("body", 0.4), word("brisk", 0.9, 25.0, 20.0, 30.0)]
    table = pd.DataFrame([*rows, word("flat", 0.95, call=words.NOT_SHOWN)])
    found = [v for v in said(table=table) if v.call == words.GOES][1:]
    assert [v.subject for v in found] == ["brisk", "dull", "body"]
    assert "fetched less" in found[1].sentence
    assert "fetched more" in found[0].sentence
    assert found[1].numbers == {"change": -12.0, "low": -20.0, "high": -5.0, "p": 0.02}
    assert found[0].act is Act.DECIDE
    # a quarter of the interval is a standard error or so: 10 over 4 is 2.5, no decimals; 1 over 4 is one decimal
    assert "+25 % a point" in found[0].sentence
    near = said(table=pd.DataFrame([word("brisk", 0.9, 25.0, 24.5, 25.5)]))[1].sentence
    assert "+25.0 % a point" in near


def test_words_that_stand_for_one_another_are_told_once_through_others() -> None:
    table = pd.DataFrame([word("a", alike="b"), word("b", alike="a, c"), word("c", alike="b"), word("d"),
                          word("e", alike="x"), word("y", alike="a", call=words.NOT_SHOWN)])  # fmt: skip
    found = [v.subject for v in said(table=table) if v.call == words.TOGETHER]
    assert found == ["a, b, c", "e, x"]


def test_words_beyond_the_others_stand_by_their_p_or_none_is_told() -> None:
    sizes = dict(zip(SLOPES, (5.0, 1.0, 9.0, 80.0), strict=True))
    rows = [{"descriptors": name, **sizes, "p": p, "p_adjusted": 2 * p, "call": call}
            for name, p, call in (("a", 0.02, words.BEYOND), ("b and c", 0.001, words.BEYOND),
                                  ("d", 0.0001, words.CANNOT_TELL))]  # fmt: skip
    found = [v for v in said(together=pd.DataFrame(rows)) if v.call == words.BEYOND]
    assert [v.subject for v in found] == ["b and c", "a"]
    assert found[1].numbers == {"change": 5.0, "low": 1.0, "high": 9.0, "p": 0.04}
    open_ = [v for v in said(together=pd.DataFrame(rows[2:])) if v.next_step == words.NOT_BEYOND_STEP]
    assert len(open_) == 1
    assert open_[0].call == words.CANNOT_TELL


# --- lots ---


def test_lots_stand_by_their_p_and_carry_how_far_they_were_sold_from_their_scores() -> None:
    rows = [{"lot": lot, "price": price, "expected": 4.0, "low": 3.0, "high": 5.0, "p_adjusted": p, "call": call}
            for lot, price, p, call in (("1", 9.0, 0.03, words.ABOVE), ("2", 4.1, 1.0, words.AS_EXPECTED),
                                        ("3", 1.5, 0.001, words.BELOW))]  # fmt: skip
    found = [v for v in said(lots=pd.DataFrame(rows)) if v.question == words.LOT_QUESTION]
    assert [(v.subject, v.call) for v in found] == [("3", words.BELOW), ("1", words.ABOVE)]
    assert found[0].numbers == {"change": -2.5, "price": 1.5, "expected": 4.0, "low": 3.0, "high": 5.0}
    assert "fetched 1.5 USD/kg" in found[0].sentence
    (none,) = [v for v in said(lots=pd.DataFrame(rows[1:2])) if v.question == words.LOT_QUESTION]
    assert "over 1 lot)" in none.sentence
    assert not [v for v in said(lots=pd.DataFrame(rows), call=words.CANNOT_TELL) if v.question == words.LOT_QUESTION]


def foretold(left, df):
    return Foretold(0.5, 0.4, 0.01, np.asarray(left), df, np.array([0.5]), np.array([0.01]))


def test_a_lot_is_held_against_the_errors_of_the_others() -> None:
    """t of a residual against those of the others (scipy), Holm by hand; prices multiply."""
    left = np.array([0.9, -0.1, 0.12, -0.05, 0.08, -0.07, 0.02, 0.1, -0.12, 0.03, 0.06, -0.09])
    price = np.exp(1 + left)
    lots = pd.DataFrame({"lot": [str(n) for n in range(12)], "price": price.astype(object), "stratum": 0})
    table = lots_table(SimpleNamespace(lots=lots), np.log(price), foretold(left, 9.0), 0.95, carried=True)
    np.testing.assert_allclose(table["expected"], np.e)
    np.testing.assert_allclose(table["ratio"], np.exp(left))
    others = np.array([np.sqrt((np.delete(left, k) ** 2).sum() / 8) for k in range(12)])
    p = 2 * student.sf(np.abs(left) / others, 8)
    holm = np.empty(12)
    worst = 0.0
    for rank, at in enumerate(np.argsort(p)):
        worst = holm[at] = max(worst, min((12 - rank) * p[at], 1))
    np.testing.assert_allclose(table["p_adjusted"], holm)
    np.testing.assert_allclose(np.log(table["high"] / np.e), student.ppf(0.975, 8) * others)
    assert list(table["call"][[0, 1]]) == [words.ABOVE, words.AS_EXPECTED]
    room_, found = SimpleNamespace(lots=lots), foretold(left, 9.0)
    for level, above in ((1 - 1.001 * holm[0], 1), (1 - 0.999 * holm[0], 0)):
        told = lots_table(room_, np.log(price), found, level, carried=True)["call"]
        assert (told == words.ABOVE).sum() == above
    closed = lots_table(room_, np.log(price), found, 0.95, carried=False)
    assert closed[["expected", "ratio", "p_adjusted"]].isna().all(axis=None)
    assert set(closed["call"]) == {words.CANNOT_TELL}


# --- which lots and words count ---


def sheet(rows, words_=("brisk", "body")):
    """Rows of (session, lot, taster) with marks that differ."""
    rng = np.random.default_rng(len(rows))
    marks = rng.integers(2, 17, (len(rows), len(words_))) / 2
    return pd.DataFrame(rows, columns=["session", "lot", "taster"]).assign(**dict(zip(words_, marks.T, strict=True)))


def priced(frame, register, **prices):
    scores = pst.read_scores(frame, room={"lots": register})
    cells = scores.cells()
    return priced_lots(cells, pd.Series(prices or 3.0, cells.lots["lot"].astype(str)))


def test_a_lot_of_two_sessions_counts_where_most_tasted_it_and_the_first_where_as_many() -> None:
    days = ("2031-01-06", "2031-01-13")
    rows = [(days[0], lot, t) for lot in "ABCDE" for t in ("elm", "yew")]
    rows += [(days[1], lot, t) for lot in "ABFGH" for t in ("elm", "yew", "oak") if not (lot == "B" and t == "oak")]
    register = pd.DataFrame({"lot": list("ABCDEFGH"), "same": list("ABCDEFGH"), "price": 3})
    found = priced(sheet(rows), register)
    where = found.lots.set_index("lot")["session"].to_dict()
    assert where == {"A": days[1], "B": days[0], "C": days[0], "D": days[0], "E": days[0],
                     "F": days[1], "G": days[1], "H": days[1]}  # fmt: skip
    assert (found.unsold, found.left_out) == (0, 0)


def test_controls_and_standards_do_not_count_and_unsold_lots_are_counted() -> None:
    rows = [("1", lot, t) for lot in "ABCDEFG" for t in ("elm", "yew")]
    register = pd.DataFrame({"lot": list("ABCDEFG"), "role": ["control", "standard", *[""] * 5]})
    found = priced(sheet(rows), register, A=3.0, B=3.0, C=3.0, D=np.nan, E=2.0, F=2.5, G=4.0)
    assert list(found.lots["lot"]) == list("CEFG")
    assert list(found.lots["price"]) == [3.0, 2.0, 2.5, 4.0]
    assert (found.unsold, found.left_out) == (1, 0)


@pytest.mark.parametrize(
    ("grades", "by_grade", "left_out"),
    [
        ("AAABBB" + "CCCC", True, 0),
        ("AAABBBB" + "CC" + "D", False, 0),  # three of ten would be lost
        ("A" * 9 + "BBBBBBBBB" + "CC", True, 2),  # two of twenty are
        ("A" * 8 + "BBBBBBBB" + "CC" + "D", False, 0),  # three of nineteen are not
        ("A" * 10, False, 0),
    ],
)
def test_grades_part_the_lots_while_few_are_lost_by_it(grades, by_grade, left_out) -> None:
    lots = [f"L{n:02d}" for n in range(len(grades))]
    register = pd.DataFrame({"lot": lots, "grade": [f"grade {name}" for name in grades]})
    found = priced(sheet([("1", lot, t) for lot in lots for t in ("elm", "yew")]), register)
    assert (found.by_grade, found.left_out) == (by_grade, left_out)
    assert len(found.lots) == len(lots) - left_out
    parts = found.lots.groupby("stratum")["grade"].nunique()
    assert (parts == 1).all() if by_grade else len(parts) == 1
    assert sorted(parts.index) == list(range(len(parts)))


def test_classes_of_fewer_than_three_priced_lots_are_left_out() -> None:
    lots = list("ABCDEFG")
    register = pd.DataFrame({"lot": lots, "class": ["x"] * 3 + ["y"] * 2 + ["z"] * 2})
    found = priced(sheet([("1", lot, t) for lot in lots for t in ("elm", "yew")]), register)
    assert list(found.lots["lot"]) == list("ABC")
    assert found.left_out == 4


def test_a_word_that_more_than_a_fifth_lacks_is_dropped_and_lots_that_lack_another() -> None:
    frame = sheet([("1", f"L{n}", t) for n in range(10) for t in ("elm", "yew")], ("brisk", "body", "rare"))
    frame.loc[frame["lot"].isin(["L0", "L1"]), "body"] = np.nan  # two of ten: kept
    frame.loc[frame["lot"].isin(["L0", "L4", "L5"]), "rare"] = np.nan  # three of ten
    found = priced(frame, pd.DataFrame({"lot": [f"L{n}" for n in range(10)], "price": 3}))
    assert found.descriptors == ["brisk", "body"]
    assert list(found.lots["lot"]) == [f"L{n}" for n in range(2, 10)]
    assert found.left_out == 2


def test_order_is_shown_by_tasters_who_agree_and_never_by_one() -> None:
    line = np.arange(12.0)[:, None, None]
    assert order_shown([np.repeat(line, 3, axis=1)], np.random.default_rng(0)) == 1 / 200
    assert np.isnan(order_shown([line], np.random.default_rng(0)))
    against = np.concatenate([line, -line], axis=1)
    assert order_shown([against], np.random.default_rng(0)) == 1.0
    # a taster's level and use of the scale tell nothing of the order
    bent = np.concatenate([line, 5 + 0.01 * line, 100 * line], axis=1)
    assert order_shown([bent], np.random.default_rng(0)) == 1 / 200
    holes = np.repeat(line, 3, axis=1)
    holes[[0, 3, 7], [0, 1, 2]] = np.nan
    assert order_shown([holes], np.random.default_rng(0)) == 1 / 200


# --- tables of words ---


def test_words_are_linked_through_others_and_groups_stand_by_their_first() -> None:
    r = np.eye(5)
    for a, b in ((0, 3), (3, 4)):
        r[a, b] = r[b, a] = 0.7
    r[1, 2] = r[2, 1] = 0.69
    some = np.array([True, True, True, True, True])
    assert [list(group) for group in _groups(r, some)] == [[0, 3, 4], [1], [2]]
    some[3] = False
    assert [list(group) for group in _groups(r, some)] == [[0], [1], [2], [4]]


def made(n=120, d=3, *, df=2.0, seed=0):
    rng = np.random.default_rng(seed)
    x = rng.standard_normal((n, d))
    x[:, 1] = x[:, 0] + 0.2 * x[:, 1]
    y = 0.1 * x[:, 0] + 0.1 * x[:, 2] + 0.05 * rng.standard_normal(n)
    part = ErrorPart(np.zeros((n, d, d)), np.full(n, df), 0.01 * n * df * np.eye(d), n * df, 0.5)
    room_ = SimpleNamespace(descriptors=["a", "b", "c"][:d], x=x, error=[part])
    return room_, y, np.zeros(n, int)


def test_slopes_of_words_are_percents_of_a_point_and_flat_words_have_none() -> None:
    room_, y, stratum = made()
    room_.x[:, 1] = 3.0
    found = foretell(room_.x, y, stratum, rng=np.random.default_rng(0), shuffles=99)
    table = words_table(room_, y, stratum, found, 0.9).set_index("descriptor")
    plain = slopes_alone(within(room_.x, stratum), within(y, stratum), stratum, room_.error, level=0.9)
    np.testing.assert_allclose(table.loc[["a", "c"], "slope"], 100 * (np.exp(plain.slope[[0, 2]]) - 1))
    np.testing.assert_allclose(table.loc[["a", "c"], "low"], 100 * (np.exp(plain.low[[0, 2]]) - 1))
    np.testing.assert_allclose(table.loc[["a", "c"], "high"], 100 * (np.exp(plain.high[[0, 2]]) - 1))
    assert table.loc["b", "call"] == words.CANNOT_TELL
    assert np.isnan(table.loc["b", "slope"])
    for name, at in (("a", 0), ("c", 2)):
        assert table.loc[name, "call"] == (words.GOES if found.alone_p[at] <= 0.1 else words.NOT_SHOWN)
    assert (table["df"] == 118).all()


def test_words_that_cannot_be_told_apart_enter_as_their_mean_and_only_where_there_is_room() -> None:
    room_, y, stratum = made()
    table = together_table(room_, y, stratum, 0.95, most=10)
    assert list(table) == ["descriptors", "slope", "low", "high", "df", "p", "p_adjusted", "call"]
    assert list(together_table(room_, y, stratum, 0.95, most=1)) == list(table)
    assert list(table["descriptors"]) == ["a and b", "c"]
    x = within(room_.x, stratum)
    mixed = np.column_stack([x[:, :2].mean(axis=1), x[:, 2]])
    error = 0.5 * 0.01 * np.diag([0.5, 1.0])  # the mean of two of as much error has half of it
    part = ErrorPart(np.zeros((120, 2, 2)), np.full(120, 2.0), error * 2 * 240, 240.0, 0.5)
    plain = slopes_together(mixed, within(y, stratum), stratum, [part], level=0.95)
    np.testing.assert_allclose(table["slope"], 100 * np.expm1(plain.slope), rtol=1e-6)
    small, large = sorted(plain.p)
    np.testing.assert_allclose(sorted(table["p_adjusted"]), [2 * small, max(2 * small, large)], rtol=1e-6)
    np.testing.assert_allclose(table["p"], plain.p, rtol=1e-6)
    assert set(table["call"]) == {words.BEYOND}
    assert together_table(room_, y, stratum, 0.95, most=1).empty
    assert len(together_table(room_, y, stratum, 0.95, most=2)) == 2
    assert together_table(*made(df=0.9), 0.95, most=10).empty  # too little to tell the error by
    room_.error = []
    assert together_table(room_, y, stratum, 0.95, most=10).empty


# --- foretelling and slopes ---


def test_the_share_anew_is_that_of_choosing_every_penalty_without_the_row() -> None:
    """Every row left out in truth, every penalty tried on the others by leaving each out, by least squares."""
    rng = np.random.default_rng(6)
    stratum = np.repeat([0, 1], [7, 6])
    x = rng.standard_normal((13, 2)) * [1.0, 5.0] + stratum[:, None]
    y = 0.8 * x[:, 0] + rng.standard_normal(13) + 3 * stratum
    one = np.eye(2)[stratum]

    def fitted(rows, z, penalty):
        extra = np.column_stack([np.sqrt(penalty) * np.eye(2), np.zeros((2, 2))])
        design = np.vstack([np.column_stack([z[rows], one[rows]]), extra])
        return np.linalg.lstsq(design, np.concatenate([y[rows], np.zeros(2)]), rcond=None)[0]

    wrong = base = 0.0
    for row in range(13):
        rest = np.delete(np.arange(13), row)
        mean = np.array([x[rest][stratum[rest] == s].mean(axis=0) for s in (0, 1)])
        level = np.array([y[rest][stratum[rest] == s].mean() for s in (0, 1)])
        away = x - mean[stratum]
        z = away / np.sqrt((away[rest] ** 2).mean(axis=0))
        unit = (np.linalg.svd(z[rest], compute_uv=False) ** 2).mean()
        errors = []
        for penalty in PENALTIES * unit:
            inner = 0.0
            for other in rest:
                b = fitted(rest[rest != other], z, penalty)
                inner += (y[other] - np.concatenate([z[other], one[other]]) @ b) ** 2
            errors.append(inner)
        b = fitted(rest, z, PENALTIES[int(np.argmin(errors))] * unit)
        wrong += (y[row] - np.concatenate([z[row], one[row]]) @ b) ** 2
        base += (y[row] - level[stratum[row]]) ** 2
    found = foretell(x, y, stratum, rng=np.random.default_rng(0), shuffles=9)
    assert found.share_anew == pytest.approx(1 - wrong / base, abs=1e-8)


def test_of_many_rows_parts_are_left_out_and_tell_nearly_the_same() -> None:
    rng = np.random.default_rng(1)
    x = rng.standard_normal((201, 2))
    found = foretell(x, x[:, 0] + rng.standard_normal(201), np.zeros(201, int), rng=rng, shuffles=9)
    assert found.share_anew == pytest.approx(found.share, abs=0.03)
    assert found.share == pytest.approx(0.5, abs=0.12)


def test_degrees_of_freedom_are_rows_less_strata_less_the_trace_of_the_hat() -> None:
    rng = np.random.default_rng(2)
    stratum = np.repeat([0, 1, 2], 10)
    x = rng.standard_normal((30, 4))
    y = x[:, 0] + 0.5 * rng.standard_normal(30)
    found = foretell(x, y, stratum, rng=np.random.default_rng(0), shuffles=9)
    z = scaled_within(x, stratum)
    unit = (np.linalg.svd(z, compute_uv=False) ** 2).mean()
    own, size = within(y, stratum), 10
    best = None
    for penalty in PENALTIES * unit:
        hat = z @ np.linalg.solve(z.T @ z + penalty * np.eye(4), z.T)
        left = (own - hat @ own) / (1 - np.diag(hat) - 1 / size)
        if best is None or (left**2).sum() < best[0]:
            best = (left**2).sum(), left, 30 - 3 - np.trace(hat)
    np.testing.assert_allclose(found.left, best[1], atol=1e-9)
    assert found.df == pytest.approx(best[2])


def test_p_counts_shuffles_that_reach_what_was_seen_and_the_value_as_it_stands() -> None:
    """Pure chance: p is spread over (0, 1] in steps of a hundredth, and the mean of many is a half."""
    rng = np.random.default_rng(3)
    ps = []
    for _ in range(60):
        found = foretell(rng.standard_normal((12, 2)), rng.standard_normal(12), np.zeros(12, int), rng=rng, shuffles=19)
        ps.append((found.p, *found.alone_p))
        assert (np.round(20 * np.array(ps[-1])) == pytest.approx(20 * np.array(ps[-1]))) is True
        assert min(ps[-1]) >= 0.05
        assert max(ps[-1]) <= 1
    assert np.mean(ps, axis=0)[0] == pytest.approx(0.525, abs=0.12)
    assert np.mean(np.min(np.array(ps)[:, 1:], axis=1) <= 0.1) == pytest.approx(0.1, abs=0.12)  # over both words


def test_of_columns_together_no_direction_is_taken_for_less_than_a_twentieth() -> None:
    x = np.array([[-1.0], [0.0], [1.0], [2.0], [-2.0]])
    huge = ErrorPart(np.zeros((5, 1, 1)), np.zeros(5), np.array([[500.0]]), 5.0, 1.0)
    found = slopes_together(x, 0.3 * x[:, 0], np.zeros(5, int), [huge], level=0.95)
    assert found.slope[0] == pytest.approx(0.3 * 20)
    assert found.df == 3


def test_p_of_a_slope_is_that_of_t_on_its_degrees_of_freedom() -> None:
    rng = np.random.default_rng(4)
    stratum = np.repeat([0, 1], 8)
    x, y = within(rng.standard_normal((16, 2)), stratum), within(rng.standard_normal(16), stratum)
    for function in (slopes_alone, slopes_together):
        found = function(x, y, stratum, [], level=0.8)
        assert found.df == 16 - 2 - 1
        np.testing.assert_allclose(found.p, 2 * student.sf(np.abs(found.slope / found.se), 13))
        np.testing.assert_allclose(found.slope - found.low, student.ppf(0.9, 13) * found.se)
        np.testing.assert_allclose(found.high - found.slope, found.slope - found.low)


def test_correlations_free_of_error_never_leave_what_a_correlation_may_be() -> None:
    x = within(np.random.default_rng(5).standard_normal((10, 2)), np.zeros(10, int))
    huge = ErrorPart(np.zeros((10, 2, 2)), np.zeros(10), np.array([[900.0, 900.0], [900.0, 900.0]]), 9.0, 1.0)
    assert np.abs(error_free_correlations(x, np.zeros(10, int), [huge])).max() <= 1
    plain = error_free_correlations(x, np.zeros(10, int), [])
    np.testing.assert_allclose(plain, np.corrcoef(x.T), atol=1e-12)


def test_a_lot_from_one_pot_tells_nothing_of_pots_and_one_lot_from_two_does() -> None:
    """The error of tasters, of pots, and less that of looks; the last from one look beyond tasters and pots."""
    names, rng = [f"L{n}" for n in range(6)], np.random.default_rng(3)
    keys = [(lot, t, pot) for lot in names for t in ("elm", "yew") for pot in ((1, 2) if lot == "L0" else (1,))]
    frame = pd.DataFrame(keys, columns=["lot", "taster", "pot"]).assign(brisk=rng.integers(2, 17, len(keys)) / 2)
    scores = pst.read_scores(frame, room={"lots": pd.DataFrame({"lot": names, "price": 3})})
    cells = scores.cells(pots="shared")
    found = priced_lots(cells, pd.Series(3.0, cells.lots["lot"].astype(str)))
    assert len(found.error) == 3
    tasters, pots, looks = found.error
    assert list(pots.df) == [1.0, 0, 0, 0, 0, 0]
    assert list(looks.df) == [1.0, 0, 0, 0, 0, 0]
    marks = frame[frame["lot"] == "L0"].pivot_table(index="taster", columns="pot", values="brisk").to_numpy()
    apart = marks[:, 1] - marks[:, 0]
    assert pots.whole[0, 0] == pytest.approx(apart.mean() ** 2 / 2)
    assert looks.whole[0, 0] == pytest.approx(((apart - apart.mean()) ** 2).sum() / 2)
    assert pots.squares[1:].max() == 0
    assert looks.squares[1:].max() == pytest.approx(0)
    assert pots.share == pytest.approx((0.5 + 5) / 6)
    assert looks.share == pytest.approx(-pots.share / 2)
    assert tasters.share == pytest.approx(0.5)
    assert found.of_pots
    alone = pst.read_scores(frame[frame["taster"] == "elm"], room={"lots": pd.DataFrame({"lot": names, "price": 3})})
    (pots,) = priced_lots(alone.cells(pots="shared"), pd.Series(3.0, names)).error
    assert pots.whole[0, 0] == pytest.approx((marks[0, 1] - marks[0, 0]) ** 2 / 2)
