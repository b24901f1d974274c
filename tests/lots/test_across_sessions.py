"""Lots of several sessions: one model where lots join them, each session alone where none does."""

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from tests.models.published import frame, truth

CONTROLS = {"season": ["L048", "L049"], "shared_pots_season": ["C1", "C2"]}
POTS = {"season": "own", "shared_pots_season": "shared"}
SEASON_TABLES = ["season_anova", "season_components", "season_means", "season_pairs"]


def read(table, controls=(), **register):
    lots = pd.DataFrame({"lot": list(controls), "role": "control"} | register)
    return pst.read_scores(table, room={"lots": lots} if len(lots) else None)


@pytest.fixture(scope="module", params=list(POTS))
def published(request):
    name = request.param
    scores = read(frame(name).astype({"session": str}), CONTROLS[name])
    return name, scores, pst.compare_lots(scores, pots=POTS[name], pairs=True)


def test_components_and_pairs_equal_the_recomputed_season(published):
    name, scores, found = published
    known = truth(name)["strength"]  # tests/published/models: full matrices, R
    mine = found.season_components.set_index("source")["variance"]
    for source, value in known["variances"].items():
        np.testing.assert_allclose(mine[source], value, rtol=1e-7, err_msg=source)
    pairs = found.season_pairs.set_index(["lot_a", "lot_b"])
    if name == "shared_pots_season":  # the smaller one, against its control too
        against = pst.compare_lots(scores, pots=POTS[name], control=CONTROLS[name][0]).season_pairs
        pairs = pd.concat([pairs, against.set_index(["lot_a", "lot_b"])])
    told = [one for one in known["contrasts"] if (one["a"], one["b"]) in pairs.index]
    assert len(told) == (3 if name == "shared_pots_season" else 2)
    for one in told:
        row = pairs.loc[(one["a"], one["b"])]
        for column, key in (("difference", "estimate"), ("se", "se"), ("df", "df"), ("p", "p")):
            np.testing.assert_allclose(row[column], one[key], rtol=1e-6, err_msg=one["kind"])


def test_controls_are_shown_and_not_compared(published):
    name, _, found = published
    means = found.season_means.set_index("lot")
    assert not means.loc[CONTROLS[name], "compared"].any()
    assert means.drop(CONTROLS[name])["compared"].all()
    assert not {*found.season_pairs["lot_a"], *found.season_pairs["lot_b"]} & set(CONTROLS[name])
    assert abs(means.loc[means["compared"], "deviation"].mean()) < 1e-9
    assert (means.loc[CONTROLS[name], "sessions"] == found.season_anova["sessions"].iloc[0]).all()


def test_sessions_are_still_compared_each_alone(published):
    name, scores, found = published
    for session in scores.sessions["session"].astype(str)[:1]:
        alone = pst.compare_lots(scores.select(session=session), pots=POTS[name], pairs=True)
        mine = found.anova[found.anova["session"] == session].drop(columns="session").reset_index(drop=True)
        pd.testing.assert_frame_equal(mine, alone.anova)
        assert all(getattr(alone, table).empty for table in SEASON_TABLES)
        assert "one season" not in alone.method


def test_without_controls_each_session_stands_alone_and_that_is_said():
    scores = read(frame("shared_pots_season").astype({"session": str}))
    found = pst.compare_lots(scores, pots="shared")
    assert all(getattr(found, table).empty for table in SEASON_TABLES)
    (said,) = [verdict for verdict in found.verdicts if verdict.call == "not joined"]
    assert "session1; session2; session3 cannot be compared with one another" in said.sentence
    assert "controls" in said.next_step


def season(rng, lots, *, day=0.7, tasters="abcd", pots=2, words=("brisk",), noise=0.3):
    """Sessions of so many tasters and pots; a lot's worth is its own for good, each day moves the marks."""
    worth, level = {}, {taster: rng.normal(0, 0.5) for taster in tasters}
    rows = []
    for session, mine in enumerate(lots):
        moved = rng.normal(0, day)
        for lot in mine:
            value = worth.setdefault(lot, rng.normal(5, 1.5))
            rows += [
                (f"day{session}", lot, taster, pot, *(value + moved + level[taster] + rng.normal(0, noise, len(words))))
                for taster in tasters for pot in range(1, pots + 1)
            ]  # fmt: skip
    return pd.DataFrame(rows, columns=["session", "lot", "taster", "pot", *words]).round(1), worth


DAYS = [["C", "K", *(f"{s}-{k}" for k in range(3))] for s in range(4)]


def test_lots_of_different_days_are_compared_free_of_the_day():
    table, worth = season(np.random.default_rng(2), DAYS, day=2.0)
    found = pst.compare_lots(read(table, ["C", "K"]), pots="own", pairs=True)
    pairs = found.season_pairs
    true = pairs["lot_a"].map(worth) - pairs["lot_b"].map(worth)
    across = pairs["lot_a"].str[0] != pairs["lot_b"].str[0]
    assert np.abs(pairs["difference"] - true)[across].max() < 1
    assert ((pairs["low"] <= true) & (true <= pairs["high"]))[across].mean() > 0.9
    # left to the day, lots lie points apart that are not theirs
    mean = found.means.drop_duplicates("lot").set_index("lot")["mean"]
    plain = mean.reindex(pairs["lot_a"]).to_numpy() - mean.reindex(pairs["lot_b"]).to_numpy()
    assert np.abs(plain - true)[across].max() > 2
    assert any("compared as one" in verdict.sentence for verdict in found.verdicts)


def test_two_sets_of_joined_sessions_are_two_seasons():
    later = [["E", "F", *mine[2:]] for mine in DAYS[2:]]
    lots = [*DAYS[:2], *later]
    table, _ = season(np.random.default_rng(3), lots)
    found = pst.compare_lots(read(table, ["C", "K", "E", "F"]), pots="own")
    assert list(found.season_anova["season"]) == ["day0 to day1", "day2 to day3"]
    assert list(found.season_anova["joined_by"]) == ["C and K", "E and F"]
    assert any("cannot be compared with one another" in verdict.sentence for verdict in found.verdicts)


def test_a_replaced_control_joins_through_the_session_that_holds_both():
    lots = [["C", "11", "12"], ["C", "E", "31", "32"], ["E", "51", "52"]]
    table, _ = season(np.random.default_rng(4), lots)
    found = pst.compare_lots(read(table, ["C", "E"]), pots="own")
    assert list(found.season_anova["season"]) == ["day0 to day2"]
    assert list(found.season_anova["joined_by"]) == ["C and E"]


def test_classes_are_compared_apart_and_joined_by_one_control():
    table, _ = season(np.random.default_rng(5), DAYS)
    lots = list(dict.fromkeys(table["lot"]))
    register = pd.DataFrame({"lot": lots, "class": ["dust" if name[-1] == "1" else "leaf" for name in lots]})
    register["role"] = ["control" if name in "CK" else "" for name in lots]
    found = pst.compare_lots(pst.read_scores(table, room={"lots": register}), pots="own", pairs=True)
    assert list(found.season_anova["class"]) == ["leaf", "dust"]
    assert list(found.season_anova["lots"]) == [8, 4]
    kind = register.set_index("lot")["class"]
    assert (found.season_pairs["lot_a"].map(kind) == found.season_pairs["lot_b"].map(kind)).all()


def test_one_lot_in_every_session_has_nothing_to_be_compared_with():
    table, _ = season(np.random.default_rng(6), [["C"]] * 3)
    found = pst.compare_lots(read(table.assign(lot="7"), ["7"], role=""), pots="own")
    assert list(found.season_anova["reason"]) == ["one lot"]
    assert found.season_pairs.empty


@pytest.mark.parametrize("tasters", ["a", "ab"])
def test_one_and_two_tasters_have_defined_answers(tasters):
    table, _ = season(np.random.default_rng(7), DAYS, tasters=tasters)
    found = pst.compare_lots(read(table, ["C", "K"]), pots="own", pairs=True)
    assert np.isfinite(found.season_pairs[["difference", "se", "df", "low", "high", "p_adjusted"]]).all(axis=None)
    variance = found.season_components.set_index("source")["variance"]
    assert variance[["taster", "taster:session"]].isna().all() == (tasters == "a")


def test_scores_that_never_vary_and_pots_that_never_differ_are_told():
    table, _ = season(np.random.default_rng(8), DAYS, words=("brisk", "body"))
    same = table.assign(brisk=5.0, body=table.groupby(["session", "lot", "taster"])["body"].transform("first"))
    found = pst.compare_lots(read(same, ["C", "K"]), pots="own")
    reason = found.season_anova.set_index("descriptor")["reason"]
    assert reason["brisk"] == "no variation"
    assert reason["body"] == ""
    variance = found.season_components.set_index(["descriptor", "source"])["variance"]
    assert np.isnan(variance["body", "lot:taster:session"])


def test_few_sessions_are_cautioned():
    table, _ = season(np.random.default_rng(9), DAYS[:2])
    (said,) = [v for v in pst.compare_lots(read(table, ["C", "K"]), pots="own").verdicts if v.call == "joined"]
    assert said.next_step.startswith("2 sessions tell little of what a day does")


def test_order_of_rows_and_names_of_tasters_change_nothing():
    table, _ = season(np.random.default_rng(10), DAYS[:2])
    shuffled = table.sample(frac=1, random_state=1)
    names = ("yew", "elm", "beech", "alder")
    shuffled["taster"] = shuffled["taster"].map(dict(zip("abcd", names, strict=True)))
    one, two = (pst.compare_lots(read(t, ["C", "K"]), pots="shared").season_means for t in (table, shuffled))
    two = one[["lot"]].merge(two, on="lot")
    columns = ["mean", "se", "df", "deviation", "deviation_low"]
    np.testing.assert_allclose(one[columns], two[columns], rtol=1e-5)


def test_trainees_do_not_count():
    table, _ = season(np.random.default_rng(11), DAYS[:2])
    lots = pd.DataFrame({"lot": ["C", "K"], "role": "control"})
    tasters = pd.DataFrame({"taster": ["d"], "role": ["trainee"]})
    with_d = pst.compare_lots(pst.read_scores(table, room={"lots": lots, "tasters": tasters}), pots="own")
    without = pst.compare_lots(read(table[table["taster"] != "d"], ["C", "K"]), pots="own")
    pd.testing.assert_frame_equal(with_d.season_means, without.season_means)
