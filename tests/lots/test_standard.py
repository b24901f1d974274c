"""Lots held against the standard: what was planted is found, pots are honoured, tolerances say whose they are."""

import dataclasses
import re

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import ncx2, ttest_rel

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.lots.standard.fit import match_standard
from panelstats.lots.standard.matchtolerance import from_pairs
from panelstats.models.distance import distance
from tests import known
from tests.kept import rooms


@pytest.fixture(scope="module")
def room():
    return known.scores("blends")


def first_pots(scores, pots):
    """The scores of the first pots only."""
    return dataclasses.replace(scores, frame=scores.frame[scores.frame["pot"] <= pots], _memo={})


def panel(y, *, roles=("standard", "trial"), pots="shared", sessions=1, **descriptors):
    """Scores from an array (session, lot, taster, pot, descriptor)."""
    y = np.asarray(y, float)
    index = np.indices(y.shape[:4]).reshape(4, -1)
    frame = pd.DataFrame({
        "session": [f"w{k:03d}" for k in index[0]], "lot": [f"L{k}" for k in index[1]],
        "taster": [f"taster {k}" for k in index[2]], "pot": index[3] + 1,
    })  # fmt: skip
    names = [f"d{k}" for k in range(y.shape[4])]
    frame[names] = y.reshape(-1, y.shape[4])
    rooms = {
        "lots": pd.DataFrame({"lot": [f"L{k}" for k in range(y.shape[1])], "role": list(roles)}),
        "sessions": pd.DataFrame({"session": sorted(set(frame["session"])), "pots": pots}),
        "descriptors": pd.DataFrame({"descriptor": names, "low": -100.0, "high": 100.0} | descriptors),
    }
    return pst.read_scores(frame, room=rooms)


def drawn(rng, *, sessions, tasters, pots, apart, pot_sd, own, descriptors=3):
    """Two lots a session, apart by `apart` on the first descriptor: taster, lot:taster, pot and palate errors."""
    shape = (sessions, 2, tasters, pots, descriptors)
    brew = rng.normal(0, pot_sd, shape if own else (sessions, 2, 1, pots, descriptors))
    y = 5 + rng.normal(0, 0.5, (sessions, 1, tasters, 1, descriptors)) + brew
    y = y + rng.normal(0, 0.4, (sessions, 2, tasters, 1, descriptors)) + rng.normal(0, 0.8, shape)
    y[:, 1, :, :, 0] += apart
    return y


def test_planted_blends_are_found_and_nothing_else(room):
    found = match_standard(room, "S")
    calls = found.summary.set_index("lot")["call"]
    assert calls.to_dict() == {"B1": "match", "B2": "differ"}
    apart = found.table[found.table["call"] == "differ"]
    assert set(apart["descriptor"]) == {"strength", "colour", "body"}
    assert (apart["lot"] == "B2").all()
    assert "outside the tolerance" in str(found)


def test_own_pots_two_lots_agree_with_the_paired_t_test():
    y = drawn(np.random.default_rng(1), sessions=1, tasters=9, pots=2, apart=0.6, pot_sd=0.2, own=True, descriptors=1)
    rng = np.random.default_rng(2)  # tasters clearly apart, and clearly of different minds: no component at 0
    y[0, 1] += rng.normal(0, 1, (9, 1, 1))
    y[0] += rng.normal(0, 3, (1, 9, 1, 1))
    found = match_standard(panel(y, pots="own", tolerance=2.0), "L0").table.iloc[0]
    means = y[0, :, :, :, 0].mean(axis=2)  # complete: the model's error is lot:taster, so the paired t test
    library = ttest_rel(means[1], means[0])
    assert found["difference"] == pytest.approx(means[1].mean() - means[0].mean())
    assert found["p"] == pytest.approx(library.pvalue, rel=1e-6)
    assert found["df"] == pytest.approx(library.df, rel=1e-6)
    interval = library.confidence_interval(0.95)
    assert (found["low"], found["high"]) == (pytest.approx(interval.low), pytest.approx(interval.high))
    sides = library.confidence_interval(0.90)  # each side at 5 %: what a match lies inside
    assert (found["within_low"], found["within_high"]) == (pytest.approx(sides.low), pytest.approx(sides.high))


def test_one_shared_brew_proves_nothing_of_the_blends(room):
    found = match_standard(first_pots(room, 1), "S")
    assert set(found.table["call"]) == {"cannot tell"}
    assert "One shared brew" in str(found)
    assert all("pots of each" in verdict.next_step for verdict in found.verdicts)


def test_two_shared_pots_say_what_two_pots_can_prove(room):
    found = match_standard(first_pots(room, 2), "S")
    open_ones = [verdict for verdict in found.verdicts if verdict.call == "cannot tell"]
    assert open_ones
    for verdict in open_ones:
        assert "Two pots of each leave pot-to-pot differences uncertain" in verdict.sentence
        assert "pots of each" in verdict.next_step


def test_few_pots_that_nothing_steadies_print_the_honest_rate(room):
    y = drawn(np.random.default_rng(3), sessions=1, tasters=8, pots=3, apart=3.0, pot_sd=0.1, own=False)
    three = match_standard(panel(y, tolerance=1.0), "L0")
    assert three.summary["call"].tolist() == ["differ"]
    assert "about 9 % of tastings" in str(three)
    assert "about 9 % of tastings" not in str(match_standard(room, "S"))  # eight descriptors of the liquor lend theirs


def test_calls_and_limits_never_contradict_each_other(room):
    for tolerance in (0.3, 0.6, 1.0, 2.0):
        table = match_standard(room, "S", tolerance=tolerance).table
        match, differ = (table[table["call"] == call] for call in ("match", "differ"))
        assert ((match["within_low"] > -tolerance) & (match["within_high"] < tolerance)).all()
        assert ((differ["low"] > 0) | (differ["high"] < 0)).all()


def test_tolerance_says_whose_it_is(room):
    assert set(match_standard(room, "S").table["tolerance_from"]) == {"the register's"}
    table = match_standard(room, "S", tolerance={"strength": 0.5}).table.set_index("descriptor")
    assert set(table.loc["strength", "tolerance_from"]) == {"yours"}
    assert set(table.loc["colour", "tolerance_from"]) == {"the register's"}


def test_hidden_pairs_of_the_standard_set_the_tolerance_where_none_is_declared():
    rng = np.random.default_rng(4)
    y = drawn(rng, sessions=8, tasters=6, pots=2, apart=0.0, pot_sd=0.3, own=False, descriptors=2)
    scores = panel(y)
    found = match_standard(scores, "L0")
    assert set(found.table["tolerance_from"]) == {"hidden pairs of the standard"}
    # eight pairs, 8 df: 95 % of differences between two pots of the standard, t = 2.306 (two-sided 5 %, 8 df)
    pots = y[:, 0].mean(axis=1)  # (session, pot, descriptor)
    sd = np.sqrt(((pots[:, 0] - pots[:, 1]) ** 2).sum(axis=0) / 8)
    np.testing.assert_allclose(from_pairs(scores.cells(), "L0"), 2.306 * sd, rtol=2e-4)


def test_few_hidden_pairs_set_nothing():
    y = drawn(np.random.default_rng(5), sessions=2, tasters=6, pots=2, apart=0.0, pot_sd=0.3, own=False)
    assert set(match_standard(panel(y), "L0").table["tolerance_from"]) == {"the default"}


def test_cells_give_what_scores_give(room):
    one, other = match_standard(room, "S"), match_standard(room.cells(), "S")
    pd.testing.assert_frame_equal(one.table, other.table)


def test_moving_every_score_changes_nothing():
    y = drawn(np.random.default_rng(6), sessions=1, tasters=5, pots=3, apart=0.7, pot_sd=0.2, own=False)
    one = match_standard(panel(y, tolerance=1.0), "L0").table
    other = match_standard(panel(y + 7, tolerance=1.0), "L0").table
    pd.testing.assert_frame_equal(one, other, rtol=1e-4, atol=1e-6)


def test_one_taster_and_unscored_descriptors_have_defined_answers():
    y = drawn(np.random.default_rng(7), sessions=1, tasters=1, pots=3, apart=0.0, pot_sd=0.2, own=False)
    alone = match_standard(panel(y, tolerance=1.0), "L0")
    assert set(alone.summary["call"]) <= {"match", "differ", "cannot tell"}
    y = drawn(np.random.default_rng(8), sessions=1, tasters=4, pots=2, apart=0.0, pot_sd=0.2, own=False)
    y[0, 1, :, :, 1] = np.nan  # the trial was never scored on d1
    gap = match_standard(panel(y, tolerance=1.0), "L0")
    row = gap.table.set_index("descriptor").loc["d1"]
    assert row["call"] == "cannot tell"
    assert row["reason"]
    assert gap.summary["call"].iloc[0] != "match"


def test_several_sessions_are_told_apart():
    y = drawn(np.random.default_rng(9), sessions=3, tasters=5, pots=2, apart=0.0, pot_sd=0.1, own=False)
    found = match_standard(panel(y, tolerance=2.0), "L0")
    assert found.summary["session"].tolist() == ["w000", "w001", "w002"]
    assert "in w001" in str(found)


def test_impossible_questions_are_refused_in_words(room):
    with pytest.raises(DesignError, match="no such lot"):
        match_standard(room, "Z9")
    with pytest.raises(DesignError, match="no size"):
        match_standard(room, "S", tolerance=-1)
    with pytest.raises(DesignError, match="no such descriptor"):
        match_standard(room, "S", tolerance={"wine": 1.0})
    with pytest.raises(DesignError, match="not a probability"):
        match_standard(room, "S", level=95)


def likeliest(x, q, level):
    """Feldman & Cousins by brute force: noncentral chi-square densities on a fine grid (scipy.stats.ncx2)."""
    seen = np.linspace(1e-3, 4 * x + 200, 9000)
    true = np.linspace(0, np.sqrt(x) + 9, 400) ** 2
    density = ncx2.pdf(seen, q, np.maximum(true, 1e-12)[:, None])
    ratio = density / density.max(axis=0)
    here = int(np.argmin(np.abs(seen - x)))
    better = np.where(ratio > ratio[:, [here]], density, 0.0).sum(axis=1) * (seen[1] - seen[0])
    inside = np.sqrt(true[better < level])
    return inside.min(), inside.max()


@pytest.mark.parametrize(("q", "size"), [(2, 0.2), (4, 1.0), (6, 0.05), (6, 2.0), (8, 0.7)])
def test_distance_interval_is_the_likelihood_ordered_one(q, size):
    value, low, high = distance(np.full(q, size), np.full(q, 0.5), np.full(q, 1e6), np.eye(q), level=0.9)
    wanted = np.array(likeliest(q * (size / 0.5) ** 2, q, 0.9)) * 0.5 / np.sqrt(q)
    assert value == pytest.approx(np.sqrt(max(0.0, size**2 - 0.25)))
    np.testing.assert_allclose([low, high], wanted, atol=0.03)


@settings(deadline=None, max_examples=15)
@given(st.integers(1, 8), st.floats(0, 3), st.floats(2, 200))
def test_distance_interval_is_never_empty_and_holds_its_estimate(q, size, df):
    value, low, high = distance(np.full(q, size), np.full(q, 0.3), np.full(q, df), np.eye(q), level=0.95)
    assert 0 <= low < high
    assert low <= value * 1.01 + 0.01
    assert value <= high * 1.01


def test_estimated_correlations_do_not_pass_for_fewer_descriptors():
    """Bai & Saranadasa 1996: the trace of a squared sample covariance is too large; eight tasters, ten descriptors."""
    rng, q = np.random.default_rng(3), 10
    sample, se, df = np.corrcoef(rng.standard_normal((8, q)).T), np.full(q, 0.3), np.full(q, 7.0)
    _, low, high = distance(np.full(q, 1.0), se, df, sample, level=0.95, correlation_df=7.0)
    _, as_known_low, as_known_high = distance(np.full(q, 1.0), se, df, sample, level=0.95)
    assert high - low < as_known_high - as_known_low


def test_distance_interval_covers_with_correlated_errors():
    rng, q, runs = np.random.default_rng(10), 6, 400
    correlation = np.full((q, q), 0.4) + 0.6 * np.eye(q)
    truth, root = np.linspace(0, 0.8, q), np.linalg.cholesky(correlation)
    covered = 0
    for _ in range(runs):
        d = truth + 0.25 * (root @ rng.standard_normal(q))
        _, low, high = distance(d, np.full(q, 0.25), np.full(q, 400.0), correlation, level=0.95)
        covered += low <= np.sqrt((truth**2).mean()) <= high
    assert covered / runs >= 0.95 - 4 * np.sqrt(0.95 * 0.05 / runs)


@pytest.mark.parametrize("own", [True, False])
def test_error_rates_own_and_shared_pots(own):
    rng, n = np.random.default_rng(11 + own), 30
    pots = "own" if own else "shared"
    alike = drawn(rng, sessions=n, tasters=8, pots=3, apart=0.0, pot_sd=0.3, own=own)
    differ = match_standard(panel(alike, pots=pots, tolerance=1.0), "L0").summary["call"] == "differ"
    far = drawn(rng, sessions=n, tasters=8, pots=3, apart=2.0, pot_sd=0.3, own=own)
    match = match_standard(panel(far, pots=pots, tolerance=1.0), "L0").summary["call"] == "match"
    bound = 0.05 + 4 * np.sqrt(0.05 * 0.95 / n)
    assert differ.mean() <= bound
    assert match.mean() <= bound


@pytest.mark.parametrize("pots", ["shared", "same"])
def test_one_brew_of_each_asks_for_brews_and_not_for_tasters_alone(pots):
    """What tasters add to one brew, however many, says nothing of the lots: mends, identity of the brew."""
    y = 5 + np.random.default_rng(3).normal(0, 1, (1, 3, 5, 1, 1))
    scores = panel(y, pots=pots, roles=("standard", "trial", "trial"))
    step = match_standard(scores, "L0", tolerance=1.0).verdicts[0].next_step
    assert re.match(r"\d+ pots of each, by \d+ tasters, would settle d0 within 1 point", step)
    step = pst.compare_lots(scores, tolerance=1.0).verdicts[0].next_step
    assert re.search(r"\d+ pots a lot and \d+ tasters would find a difference of 2 points", step)


@pytest.mark.parametrize("wild", [0.3, 1.2])
def test_where_twelve_pots_are_too_few_more_tasters_are_named_with_them(wild):
    """Pots far apart, tasters few: either alone would be advice that cannot be followed (Searle et al. 1992)."""
    rng = np.random.default_rng(5)
    y = 5 + rng.normal(0, wild, (1, 2, 1, 2, 1)) + rng.normal(0, 1, (1, 2, 4, 2, 1))
    found = match_standard(panel(y, pots="shared"), "L0", tolerance=1.0)
    pots, tasters = map(int, re.match(r"(\d+) pots of each, by (\d+) tasters", found.verdicts[0].next_step).groups())
    assert 3 <= pots <= 12
    assert tasters >= 4


def test_where_no_likelihood_is_greatest_there_is_no_standard_error_and_no_largest_difference():
    """Tasters who agree on the lots to the last half point beside pots that differ: found in a drawn room."""
    found = match_standard(rooms.session(11), "401")
    row = found.table.set_index("descriptor").loc["aroma"]
    assert np.isnan(row[["se", "df", "low", "high"]].astype(float)).all()
    assert row["reason"] == "no degrees of freedom"
    assert "– to –" not in found.verdicts[0].sentence
    assert "No answer on aroma" in found.verdicts[0].sentence
