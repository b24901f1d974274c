"""Place in the row and the lot before, over a season: against least squares with a column for every sitting."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy import stats

import panelstats as pst
from panelstats.panel.season.alongrow import row_effects
from panelstats.panel.season.rowwords import QUESTION

NAMES = ["alder", "beech", "elm", "larch"]


def walks(rng, *, sessions=6, lots=10, tires=0.0, carries=0.0, panel=0.0, one_order=False, names=NAMES, words=1):
    """Sessions of lots walked once by each taster; elm tires and carries over, the panel moves along the row."""
    rows = []
    for session in range(sessions):
        worth, order = rng.normal(5, 1, (lots, words)), rng.permutation(lots)
        for name in names:
            order = order if one_order else rng.permutation(lots)
            for place, lot in enumerate(order):
                before = worth[order[place - 1]] - 5 if place else 0
                sway = (tires * place + carries * before) * (name == "elm") + panel * place
                marks = worth[lot] + sway + rng.normal(0, 0.3, words)
                rows.append((f"2031-01-{session + 1:02d}", name, f"{session}-{lot}", place + 1, *marks))
    columns = ["session", "taster", "lot", "position", *(f"word{k}" for k in range(words))]
    return pd.DataFrame(rows, columns=columns).round(2)


def of(table, names=NAMES):
    scores = pst.read_scores(table)
    return row_effects(scores, list(names), scores.cells())


def test_a_tasters_lines_equal_least_squares():
    table = walks(np.random.default_rng(1), tires=0.05, carries=-0.2).drop(index=[3, 17, 40, 77])
    found = of(table).table.set_index(["taster", "effect"])
    for at, row in table.iterrows():
        others = (table["lot"] == row["lot"]) & (table["taster"] != row["taster"])
        table.loc[at, "others"] = table.loc[others, "word0"].mean()
    for name in NAMES:
        mine = table[table["taster"] == name].sort_values(["session", "position"])
        mine["before"] = mine.groupby("session")["others"].shift()
        mine = mine.dropna()
        X = np.column_stack([mine["position"], mine["before"], pd.get_dummies(mine["session"])]).astype(float)
        y = (mine["word0"] - mine["others"]).to_numpy()
        b, (rss,), _, _ = np.linalg.lstsq(X, y, rcond=None)
        df = len(y) - X.shape[1]
        se = np.sqrt(rss / df * np.diag(np.linalg.inv(X.T @ X)))
        for k, effect, unit in ((0, "place in the row", 10), (1, "the lot before", 1)):
            line = found.loc[(name, effect)]
            reach = stats.t.ppf(0.975, df) * se[k]
            expected = [unit * b[k], unit * (b[k] - reach), unit * (b[k] + reach), df]
            np.testing.assert_allclose(line[["estimate", "low", "high", "df"]].astype(float), expected, rtol=1e-8)
            np.testing.assert_allclose(line["p"], 2 * stats.t.sf(abs(b[k]) / se[k], df), rtol=1e-6, atol=1e-12)


def test_the_panels_line_equals_covariance_analysis():
    table = walks(np.random.default_rng(2), panel=0.06)
    line = of(table).table.query("taster == ''").iloc[0]
    columns = [table["position"], pd.get_dummies(table["lot"]), pd.get_dummies(table["session"] + table["taster"])]
    X = np.column_stack(columns).astype(float)
    y = table["word0"].to_numpy()
    b, _, rank, _ = np.linalg.lstsq(X, y, rcond=None)
    rss, df = ((y - X @ b) ** 2).sum(), len(y) - rank
    rest = X[:, 0] - X[:, 1:] @ np.linalg.lstsq(X[:, 1:], X[:, 0], rcond=None)[0]
    se = np.sqrt(rss / df / (rest**2).sum())
    assert line["df"] == df
    np.testing.assert_allclose([line["estimate"], line["high"] - line["estimate"]],
                               [10 * b[0], 10 * stats.t.ppf(0.975, df) * se], rtol=1e-8)  # fmt: skip


def test_what_was_planted_is_told_and_nobody_else_is_accused():
    table = walks(np.random.default_rng(3), tires=-0.1, carries=-0.4, sessions=12)
    audit = pst.audit_season(pst.read_scores(table))
    told = [verdict for verdict in audit.verdicts if verdict.call == "sways"]
    assert {verdict.subject for verdict in told} == {"elm"}
    assert any("fall along the row" in verdict.sentence for verdict in told)
    assert any("lower, as if by contrast" in verdict.sentence for verdict in told)
    (rest,) = [v for v in audit.verdicts if v.call == "not shown" and v.question == QUESTION]
    assert "alder, beech and larch" in rest.sentence
    assert "would mostly not show" in rest.sentence
    assert "Benjamini" in audit.method


def test_a_trend_of_all_shows_in_the_panels_line_alone():
    audit = pst.audit_season(pst.read_scores(walks(np.random.default_rng(4), panel=0.1, sessions=12)))
    told = [verdict for verdict in audit.verdicts if verdict.call == "sways"]
    assert [verdict.subject for verdict in told] == [""]
    assert told[0].sentence.startswith("The whole panel: marks for word0 rise along the row by 1.0")


def test_quiet_seasons_are_called_swayed_in_no_more_than_one_in_twenty():
    table = walks(np.random.default_rng(5), words=200, sessions=4)
    p = of(table).table["p"]  # each line by itself, at 5 %: 9 lines of 200 descriptors that share their orders
    assert (p < 0.05).mean() < 0.065
    assert (p < 0.05).mean() > 0.035


@pytest.mark.parametrize("sessions", [1, 3])
def test_one_order_for_all_is_said_and_judged_by_nobody(sessions):
    audit = pst.audit_season(pst.read_scores(walks(np.random.default_rng(6), one_order=True, sessions=sessions)))
    assert audit.row.empty
    (said,) = [v for v in audit.verdicts if "one order" in v.sentence]
    assert said.call == "cannot tell"
    assert f"In {sessions} session" in said.sentence
    assert "order of his own" in said.next_step


def test_sessions_of_one_order_are_left_out_of_the_others():
    rng = np.random.default_rng(7)
    free, same = walks(rng, sessions=3), walks(rng, sessions=2, one_order=True)
    same["session"] = same["session"].str.replace("2031-01", "2031-02")
    same["lot"] = same["lot"].map(lambda lot: f"{700 + int(lot.replace('-', ''))}")
    both = of(pd.concat([free, same]))
    assert both.one_order == ["2031-02-01", "2031-02-02"]
    pd.testing.assert_frame_equal(both.table, of(free).table)


@pytest.mark.parametrize("names", [["elm"], ["elm", "yew"]])
def test_one_and_two_tasters(names):
    found = of(walks(np.random.default_rng(8), names=names), names)
    assert set(found.table["taster"]) == ({"", "elm", "yew"} if len(names) == 2 else set())
    assert found.one_order == []


def test_without_places_and_from_cells_nothing_is_said():
    scores = pst.read_scores(walks(np.random.default_rng(9)))
    assert pst.audit_season(scores.cells()).row.empty
    assert pst.audit_season(pst.read_scores(walks(np.random.default_rng(9)).drop(columns="position"))).row.empty


def repeated(rng, *, sessions=8, lots=10, grows=0.0, words=2, pots="own"):
    """Sessions in which every lot comes twice; elm's errors grow along the row."""
    rows = []
    for session in range(sessions):
        worth = rng.normal(5, 1, (lots, words))
        for name in NAMES:
            for place, cup in enumerate(rng.permutation(2 * lots)):
                sd = 0.3 * np.exp(grows * place * (name == "elm"))
                marks = worth[cup // 2] + rng.normal(0, sd, words)
                rows.append(
                    (f"2031-01-{session + 1:02d}", name, f"{session}-{cup // 2}", cup % 2 + 1, place + 1, *marks)
                )
    columns = ["session", "taster", "lot", "pot", "position", *(f"word{k}" for k in range(words))]
    table = pd.DataFrame(rows, columns=columns)
    room = {"sessions": pd.DataFrame({"session": sorted(set(table["session"])), "pots": pots})}
    return table, pst.read_scores(table, room=room)


def test_the_growth_of_repeats_is_that_of_a_gamma_model_on_the_mean_place():
    table, scores = repeated(np.random.default_rng(10), grows=0.05)
    found = row_effects(scores, NAMES, scores.cells()).table.query("effect == 'spread along the row'")
    scores_of = scores.frame.pivot_table(
        index=["session", "taster", "lot"], columns=["descriptor", "pot"], values="score"
    )
    square = (
        sum(
            (scores_of[word][1] - scores_of[word][2]) ** 2
            / 2
            / ((scores_of[word][1] - scores_of[word][2]) ** 2 / 2).mean()
            for word in ("word0", "word1")
        )
        / 2
    )
    place = table.groupby(["session", "taster", "lot"])["position"].mean()
    frame = pd.DataFrame({"square": square.to_numpy()}, index=scores_of.index.set_names(place.index.names))
    frame.index = pd.MultiIndex.from_tuples([tuple(map(str, key)) for key in frame.index], names=place.index.names)
    frame = frame.join(place).reset_index()
    frame["position"] -= frame.groupby(["session", "taster"])["position"].transform("mean")
    for name in NAMES:
        mine = frame[frame["taster"] == name]
        fit = sm.GLM(mine["square"], sm.add_constant(mine["position"]),
                     family=sm.families.Gamma(sm.families.links.Log())).fit(scale="X2", tol=1e-13)  # fmt: skip
        line = found[found["taster"] == name].iloc[0]
        reach = stats.t.ppf(0.975, len(mine) - 2) * fit.bse["position"]
        expected = np.exp(5 * (fit.params["position"] + np.array([0, -reach, reach])))
        np.testing.assert_allclose(line[["estimate", "low", "high"]].astype(float), expected, rtol=1e-6)
        assert line["df"] == len(mine) - 2
        assert line["sessions"] == 8
    assert found.set_index("taster").loc["elm", "low"] < np.exp(0.5) < found.set_index("taster").loc["elm", "high"]


def test_repeats_that_grow_along_the_row_are_told_and_pots_of_all_tell_nothing_of_it():
    audit = pst.audit_season(repeated(np.random.default_rng(11), grows=0.1)[1])
    told = [v for v in audit.verdicts if "times as far apart ten cups further on" in v.sentence]
    assert [v.subject for v in told] == ["elm"]
    assert told[0].call == "sways"
    assert "rest" in told[0].next_step
    (rest,) = [v for v in audit.verdicts if v.call == "not shown" and "Nor that repeats" in v.sentence]
    assert "alder, beech and larch" in rest.sentence
    assert "McCullagh" in audit.method
    shared = pst.audit_season(repeated(np.random.default_rng(11), grows=0.1, pots="shared")[1])
    assert "spread along the row" not in set(shared.row["effect"])


def test_quiet_repeats_are_called_growing_in_one_of_twenty_lines():
    found = [repeated(np.random.default_rng([12, run]), sessions=3, words=1)[1] for run in range(40)]
    lines = pd.concat([row_effects(scores, NAMES, scores.cells()).table for scores in found])
    p = lines.loc[lines["effect"] == "spread along the row", "p"]
    assert len(p) == 160
    assert abs((p < 0.05).mean() - 0.05) < 4 * np.sqrt(0.05 * 0.95 / len(p))
