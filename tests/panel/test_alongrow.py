"""Place in the row and the lot before, over a season: against least squares with a column for every sitting."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

import panelstats as pst
from panelstats.panel.season.alongrow import row_effects

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
    return row_effects(pst.read_scores(table), list(names))


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
    (rest,) = [verdict for verdict in audit.verdicts if verdict.call == "not shown"]
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
