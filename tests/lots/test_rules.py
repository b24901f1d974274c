"""What is said of lots follows by the written rules from the numbers beside it."""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import statsmodels.formula.api as smf
from scipy.optimize import brentq
from statsmodels.stats.multitest import multipletests

import panelstats as pst
from panelstats.lots.compare.lotcalls import _brews
from panelstats.lots.standard.fit import match_standard
from tests import known
from tests.lots.test_comparison import NAMES, panel, sheet
from tests.lots.test_standard import drawn
from tests.lots.test_standard import panel as against


@pytest.mark.parametrize(("level", "said", "left"), [(0.975, "97.5 %", "2.5 %"), (0.999, "99.9 %", "0.1 %")])
def test_a_method_names_the_level_that_was_asked_for(level, said, left):
    scores = known.scores("bench.xlsx")
    found = pst.map_lots(scores, resamples=19, besides=False, level=level)
    assert said in found.method
    assert left in found.method
    assert left in pst.check_pots(scores, level=level).method


@pytest.mark.parametrize("review", [pst.review_session, pst.review_summary, pst.review_map])
def test_a_latest_session_without_a_score_is_refused_in_words(review):
    sheet = pd.DataFrame({"session": ["1"] * 4 + ["2"] * 2, "lot": ["a", "a", "b", "b", "a", "b"],
                          "taster": ["t", "u"] * 3, "brisk": [5.0, 6, 7, 8, np.nan, np.nan]})  # fmt: skip
    scores = pst.read_scores(sheet)
    assert list(scores.sessions["session"]) == ["1", "2"]
    with pytest.raises(pst.DesignError, match="no score to review"):
        review(scores)


@pytest.fixture(scope="module")
def held():
    y = drawn(np.random.default_rng(3), sessions=1, tasters=9, pots=2, apart=1.4, pot_sd=0.1, own=True, descriptors=8)
    y[0, 1, :, :, 3] -= 2.0
    y[0, 1, :, :, 5] += 1.2
    y[0, 1, :, :, 6] -= 1.6
    return match_standard(against(y, pots="own", tolerance=1.0), "L0")


def test_a_descriptor_differs_after_holm_matches_inside_its_tolerance_and_is_else_open(held):
    table = held.table
    assert table["p_adjusted"].to_numpy() == pytest.approx(multipletests(table["p"], method="holm")[1])
    inside = (table["within_low"] > -table["tolerance"]) & (table["within_high"] < table["tolerance"])
    differs = table["p_adjusted"] < 0.05
    assert (table.loc[differs & ~inside, "call"] == "differ").all()
    assert (table.loc[inside & ~differs, "call"] == "match").all()
    assert (table.loc[~inside & ~differs, "call"] == "cannot tell").all()
    assert differs.sum() >= 4
    half = table["high"] - table["difference"], table["difference"] - table["low"]
    np.testing.assert_allclose(*half)
    assert (half[0] > table["within_high"] - table["difference"]).all()  # 95 % against 90 %


def test_the_largest_differences_are_named_first_whichever_way_they_point(held):
    apart = held.table[held.table["call"] == "differ"]
    order = apart["descriptor"].iloc[np.argsort(-apart["difference"].abs().to_numpy())].astype(str).tolist()
    sentence = held.verdicts[0].sentence
    named = [name for name in order if f"{name} " in sentence]
    assert len(named) >= 3
    assert named == order[: len(named)]
    assert [sentence.index(f"{name} ") for name in named] == sorted(sentence.index(f"{name} ") for name in named)
    outside = ((apart["low"] > apart["tolerance"]) | (apart["high"] < -apart["tolerance"])).sum()
    assert outside
    assert held.verdicts[0].numbers["largest"] == pytest.approx(held.table["difference"].abs().max())
    row = held.summary.iloc[0]
    assert row["distance"] > 0
    assert [held.verdicts[0].numbers[k] for k in ("distance", "low", "high")] == pytest.approx(
        [row["distance"], row["low"], row["high"]]
    )


def along(rng, p, *, others=0):
    """Marks whose fall along the row has just this p by ordinary least squares; and words that do not move."""
    lots, tasters = 6, 7
    rows = [(f"L{lot}", NAMES[i], at + 1) for i in range(tasters) for at, lot in enumerate(rng.permutation(lots))]
    table = pd.DataFrame(rows, columns=["lot", "taster", "position"])
    noise = rng.normal(0, 1, len(table))

    def of(slope):
        table["w0"] = 5 + slope * table["position"] + noise
        return smf.ols("w0 ~ C(lot) + C(taster) + position", table).fit()

    bare = -of(0.0).params["position"]
    of(brentq(lambda slope: of(slope).pvalues["position"] - p, bare + 1e-6, bare + 2))
    for k in range(others):
        still = rng.normal(5, 1, len(table))
        flat = smf.ols("y ~ C(lot) + C(taster) + position", table.assign(y=still)).fit().params["position"]
        table[f"w{k + 1}"] = still - flat * table["position"]
    return table


@pytest.mark.parametrize(
    ("p", "others", "moves"), [(0.03, 0, True), (0.03, 1, False), (0.02, 1, True), (0.06, 0, False)]
)
def test_a_place_is_taken_off_at_five_per_cent_shared_by_the_descriptors(p, others, moves):
    found = pst.compare_lots(pst.read_scores(along(np.random.default_rng(5), p, others=others)), pots="own")
    assert ("Marks move along the row" in found.method) == moves


def test_most_pots_are_those_of_the_lot_tasted_from_most():
    looks = np.zeros((3, 4, 5, 1))
    looks[0, :, 0], looks[1, :3, [0, 4]], looks[2, 2, 1:4] = 1, 2, 1
    assert _brews(SimpleNamespace(grid=SimpleNamespace(looks=looks)), 0) == 3
    assert _brews(SimpleNamespace(grid=SimpleNamespace(looks=looks[:2])), 0) == 2


@pytest.mark.parametrize(("lots", "tasters", "some"), [(1, 4, False), (4, 1, False), (2, 2, True)])
def test_mean_squares_are_given_from_two_lots_and_two_tasters_on(lots, tasters, some):
    scores = panel(np.random.default_rng(1), lots, tasters, 2, 0, 1.0)
    found = pst.compare_lots(sheet(scores, tasters=NAMES[:tasters], pots=(1, 2)), pots="own")
    assert bool(len(found.mean_squares)) == some
