"""What is proved stays when marks are shifted or stretched, names are others, or rows stand in another order."""

import numpy as np
import pandas as pd
import pytest

import panelstats as pst

RNG = np.random.default_rng(7)
LOTS, TASTERS = [f"{411 + n}" for n in range(8)], ["elm", "yew", "larch", "alder"]
ROOM = pd.DataFrame(
    [
        (lot, taster, pot, round(3 + n % 5 + RNG.normal() * 0.6, 1), round(5 - n % 3 + RNG.normal() * 0.6, 1),
         2 + n % 5 / 7)
        for n, lot in enumerate(LOTS) for taster in TASTERS for pot in (1, 2)
    ],
    columns=["lot", "taster", "pot", "brisk", "body", "price"],
)  # fmt: skip
WORDS = ["brisk", "body"]
OTHER_LOTS = dict(zip(LOTS, [f"B{n}" for n in range(len(LOTS))], strict=True))  # the same order by name
OTHER_TASTERS = dict(zip(TASTERS, ["t2", "t4", "t3", "t1"], strict=True))
ANALYSES = {
    "lots": pst.compare_lots, "panel": pst.panel_agreement, "tasters": pst.assess_tasters, "list": pst.shortlist_lots,
    "map": pst.map_lots, "pots": pst.check_pots,
}  # fmt: skip
# How marks are changed, and what becomes of a difference of one point.
CHANGES = {"stretched and shifted": (10.0, 100.0), "shrunk": (1e-3, 0.0)}
PLAIN = (
    "p",
    "p_adjusted",
    "statistic",
    "df",
    "df_error",
    "share",
    "icc_single",
    "icc_mean",
    "chance_best",
    "call",
    "letters",
)


def answers(analysis, table, tolerance=None):
    found = analysis(pst.read_scores(table, room=register(tolerance)))
    kept = {
        name: each[[column for column in each if column in PLAIN]].astype(object)
        for name, each in found.tables().items()
    }
    return [verdict.call for verdict in found.verdicts], kept


def register(tolerance):
    return {} if tolerance is None else {"descriptors": pd.DataFrame({"descriptor": WORDS, "tolerance": tolerance})}


def same(one, other):
    assert one[0] == other[0]
    for name, table in one[1].items():
        for column in table:
            a, b = (np.array(each[column].tolist(), object) for each in (table, other[1][name]))
            if all(isinstance(value, float | int) for value in a):
                np.testing.assert_allclose(
                    a.astype(float), b.astype(float), rtol=1e-5, atol=1e-7, err_msg=f"{name}.{column}"
                )
            else:
                assert a.tolist() == b.tolist(), f"{name}.{column}"


@pytest.fixture(scope="module")
def usual():
    return {name: answers(analysis, ROOM, 0.5) for name, analysis in ANALYSES.items()}


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize("name", [name for name in ANALYSES if name != "map"])
def test_points_of_another_size_prove_the_same(name, change, usual):
    factor, shift = CHANGES[change]
    marks = (ROOM[WORDS] * factor + shift).round(6)
    same(usual[name], answers(ANALYSES[name], ROOM.assign(**marks), 0.5 * factor))


@pytest.mark.parametrize("name", ANALYSES)
def test_other_names_in_another_order_prove_the_same(name, usual):
    other = ROOM.assign(lot=ROOM["lot"].map(OTHER_LOTS))
    same(usual[name], answers(ANALYSES[name], other, 0.5))


@pytest.mark.parametrize("name", ANALYSES)
def test_shuffled_rows_say_the_same(name):
    scores = pst.read_scores(
        ROOM, room={"lots": pd.DataFrame({"lot": LOTS}), "tasters": pd.DataFrame({"taster": TASTERS})}
    )
    shuffled = ROOM.sample(frac=1, random_state=3)
    other = pst.read_scores(
        shuffled, room={"lots": pd.DataFrame({"lot": LOTS}), "tasters": pd.DataFrame({"taster": TASTERS})}
    )
    assert list(map(str, ANALYSES[name](scores).verdicts)) == list(map(str, ANALYSES[name](other).verdicts))


def test_a_price_in_another_currency_says_the_same():
    one, other = (
        pst.explain_value(pst.read_scores(ROOM.assign(price=ROOM["price"] * rate)), "price") for rate in (1.0, 83.5)
    )
    assert [v.call for v in one.verdicts] == [v.call for v in other.verdicts]
