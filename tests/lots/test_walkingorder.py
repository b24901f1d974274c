"""The row the tasters walked along: confounded with the lots, taken off where it shows, else left alone."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf

import panelstats as pst
from tests.lots.test_comparison import NAMES


def walk(rng, *, lots=6, tasters=8, fall=0.0, one_order=False, apart=0.0):
    """Own pots: every taster walks twice past all lots; marks fall by `fall` from the first place to the last."""
    rows = []
    for name in NAMES[:tasters]:
        level, mind = rng.normal(5, 0.5), rng.normal(0, 0.4, lots)
        order = np.arange(lots) if one_order else rng.permutation(lots)
        for pot in (1, 2):
            for at, lot in enumerate(order):
                place = (pot - 1) * lots + at
                score = level + mind[lot] + apart * (lot == 0) - fall * place / (2 * lots - 1) + rng.normal(0, 0.5)
                rows.append((f"L{lot}", name, pot, place + 1, round(score, 3)))
    return pd.DataFrame(rows, columns=["lot", "taster", "pot", "position", "brisk"])


def read(table):
    return pst.read_scores(table)


def test_one_order_for_all_is_said_first_with_what_would_tell():
    found = pst.compare_lots(read(walk(np.random.default_rng(1), one_order=True, apart=3.0)), pots="own")
    first = found.verdicts[0]
    assert "place in the row and lot cannot be told apart" in first.sentence
    assert first.call == "cannot tell"
    assert "control at several places" in first.next_step


def test_orders_that_differ_say_nothing_of_the_kind():
    found = pst.compare_lots(read(walk(np.random.default_rng(1))), pots="own")
    assert "in one order" not in str(found)
    assert "Marks move along the row" not in found.method


def test_a_fall_along_the_row_is_taken_off_as_a_general_library_would():
    """Slope by ordinary least squares of cell means on lot, taster and place (statsmodels)."""
    table = walk(np.random.default_rng(2), fall=4.0)
    found = pst.compare_lots(read(table), pots="own")
    assert "Marks move along the row" in found.method
    cells = table.groupby(["lot", "taster"], as_index=False)[["position", "brisk"]].mean()
    slope = smf.ols("brisk ~ C(lot) + C(taster) + position", cells).fit().params["position"]
    away = table["position"] - table.groupby("taster")["position"].transform("mean")
    freed = (table["brisk"] - slope * away).groupby(table["lot"]).mean()
    np.testing.assert_allclose(found.means.set_index("lot")["mean"][freed.index], freed, atol=1e-9)
    assert f"{slope * 11:+.1f}".replace("-", "−") in found.method


@pytest.mark.parametrize("gone", ["position", "taster"])
def test_no_places_and_one_taster_have_defined_answers(gone):
    table = walk(np.random.default_rng(3), fall=4.0)
    table = table.drop(columns="position") if gone == "position" else table[table["taster"] == NAMES[0]]
    found = pst.compare_lots(read(table), pots="own")
    assert "in one order" not in str(found)
    assert found.anova["p"].notna().all()


def in_the_order_of_the_sheet(order, **kinds):
    table = walk(np.random.default_rng(5), one_order=True, **kinds).drop(columns="position").assign(session="1")
    said = pd.DataFrame({"session": ["1"], "order": [order]})
    return pst.compare_lots(pst.read_scores(table, room={"sessions": said}), pots="own").verdicts[0].sentence


def test_the_order_of_the_sheet_is_the_walk_where_the_register_says_so():
    assert "All tasters tasted the lots in one order" in in_the_order_of_the_sheet("as listed")


def test_marks_that_run_along_a_list_are_told_where_nothing_is_said_of_the_order():
    told = in_the_order_of_the_sheet("", fall=4.0)
    assert "if the lots were tasted in that order, place in the row and lot cannot be told apart" in told
    assert "brisk −" in told
    for order, fall in (("randomised", 4.0), ("", 0.0)):
        assert "in one order" not in in_the_order_of_the_sheet(order, fall=fall)


@pytest.mark.parametrize("order", ["as listed", ""])
def test_marks_that_sag_together_along_the_list_make_nobody_one_of_the_panel(order):
    """Marks that say nothing of the lots and fall by 1.5 points along the row: a common sag is no agreement on lots."""
    rng = np.random.default_rng(6)
    words = [f"word {d}" for d in range(8)]
    rows = [(f"{k:02d}", name, *(6 - 1.5 * k / 23 + rng.normal(0, 0.4, 8)).round(1)) for name in NAMES[:6]
            for k in range(24)]  # fmt: skip
    table = pd.DataFrame(rows, columns=["lot", "taster", *words]).assign(session="1")
    said = {"sessions": pd.DataFrame({"session": ["1"], "order": [order]})}
    calls = pst.assess_tasters(pst.read_scores(table, room=said)).summary["call"]
    assert (calls != "with the panel").all()


def test_unequal_slopes_are_told_and_equal_ones_are_not():
    """Mandel's test of slopes: steep and flat tasters raise it, parallel ones do not."""
    rng = np.random.default_rng(4)
    lots = rng.normal(0, 2, 12)
    for slopes, told in ((np.linspace(0.5, 1.5, 6), True), (np.ones(6), False)):
        rows = [
            (f"L{k}", name, 6 + slope * lot + rng.normal(0, 0.5))
            for k, lot in enumerate(lots)
            for name, slope in zip(NAMES, slopes, strict=False)
        ]
        table = pd.DataFrame(rows, columns=["lot", "taster", "brisk"])
        checks = pst.compare_lots(read(table), pots="own").checks
        assert ("unequal slopes" in set(checks["check"])) == told
