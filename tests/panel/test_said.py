"""What is said of each taster and each word is that taster's and that word's: names, sides, ends, reasons."""

import re
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

import panelstats as pst
from panelstats.panel.season.alongrow import SPREAD
from panelstats.panel.season.charted import charted
from panelstats.panel.season.rowverdicts import _not_shown
from panelstats.panel.season.series import Series
from panelstats.panel.season.tables import COLUMNS, Judged, named_among, summary_of, table_of
from panelstats.panel.tasters.crossedwords import _strongest
from panelstats.panel.tasters.finding import finding
from panelstats.panel.tasters.judgement import Bench
from panelstats.panel.tasters.naming import _splits
from panelstats.panel.tasters.spread import CONSTANT
from panelstats.panel.tasters.words import finding_said
from panelstats.panel.training.learning import _counted_from, _forecast
from tests.panel.invented import pool
from tests.panel.sheets import NAMES, scores_of
from tests.panel.test_columns import one, room
from tests.panel.test_rules import bench_of

NUMBER = r"[-−]?\d+(?:\.\d+)?"


def numbers(text):
    return [float(n.replace("−", "-")) for n in re.findall(NUMBER, text)]


@pytest.mark.parametrize("aspect", ["level", "noticed"])
@pytest.mark.parametrize("value", [2.0, 0.6, 0.3, -0.3, -0.6, -2.0])
def test_a_finding_on_one_side_is_told_by_its_size_between_its_ends(aspect, value):
    """Above by 0.3 (0.1 to 0.5), below by 0.3 (0.1 to 0.5): the ends turn with the sign."""
    at = np.array([value])
    found = finding(at, (at - 0.2, at + 0.2), np.array([0.01]), floor=-0.1, ceiling=0.1, why=np.array([""], object))
    said = finding_said(aspect, found, (0,), "brisk")
    size, low, high = numbers(said)[:3]
    unit = 100 if aspect == "noticed" else 1
    assert (size, low, high) == pytest.approx(unit * np.array([abs(value), abs(value) - 0.2, abs(value) + 0.2]))
    assert bool(re.search("above|more", said)) == (value > 0) != bool(re.search("below|fewer", said))


@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize("d", [0, 4, 9])
def test_whoever_is_off_on_one_word_is_told_so_on_that_word_with_its_row(d, side):
    y = room(16, 5, 2, 10, noise=0.3)
    y -= y.mean(axis=(0, 2), keepdims=True) - 5
    y[:, 2, :, d] += side * 1.2
    found = pst.assess_tasters(scores_of(y), tolerance=0.5)
    (verdict,) = [v for v in found.verdicts if v.subject == NAMES[2]]
    row = one(found.table, taster=NAMES[2], aspect="level", descriptor=f"word {d + 1}")
    assert {name: verdict.numbers[name] for name in ("estimate", "low", "high", "floor", "ceiling")} == {
        name: row[name] for name in ("estimate", "low", "high", "floor", "ceiling")
    }
    where = f"points {'above' if side > 0 else 'below'} the others' on word {d + 1} ("
    before, after = str(verdict).split(where)
    assert numbers(before)[-1] == pytest.approx(abs(row["estimate"]), abs=0.06)
    assert numbers(after)[:2] == pytest.approx(sorted(abs(row[end]) for end in ("low", "high")), abs=0.06)


@pytest.mark.parametrize(
    ("words", "kind"), [(1, "follows"), (2, "follows"), (3, "one impression"), (4, "one impression")]
)
def test_from_three_words_on_that_follow_one_it_is_one_impression(words, kind):
    t = np.full((6, 6), -np.inf)
    t[1 : 1 + words, 0] = 5.0 + np.arange(words)
    t[1, 5] = 4.0  # another word's
    found = _strongest(t, np.full((6, 6), -np.inf), np.array([3.0, 3.0]))
    assert found == (kind, words, 0, 4.0 + words, 3.0)


def test_the_panel_is_split_on_each_word_on_which_somebody_stands_out_and_nobody_is_named():
    out = np.array([[1, 1, 0, 0], [1, 0, 0, 1], [0, 0, 0, 1], [0, 0, 0, 1]], bool)  # of some, of one, of none, of three
    named = np.zeros(out.shape, bool)
    named[1, 3] = True
    p = np.where(out, 1e-4, 0.9)
    cell = SimpleNamespace(p=p, estimate=np.where(out, 1.0, -1.0))
    found = SimpleNamespace(
        judged=["level"], cells={"level": cell}, tasters={"level": SimpleNamespace(p=np.full(4, 0.9))}
    )
    splits = _splits(found, {"level": named}, {"level": np.zeros(4, bool)})
    assert [(split.descriptor, split.above, split.below) for split in splits] == [
        (0, (0, 1), (2, 3)),
        (1, (0,), (1, 2, 3)),
    ]


# ── what can be asked ────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize("d", [0, 1, 2])
@pytest.mark.parametrize("aspect", ["agreement", "scale_use"])
def test_who_gives_one_mark_to_all_has_no_order_and_no_scale_on_that_word_alone(aspect, d):
    y = room(9, 4, 2, 3, noise=0.1)
    y[:, 1, :, d] = 6.0
    found = bench_of(y).judge(np.ones((4, 3), bool)).cells[aspect]
    constant = np.zeros((4, 3), bool)
    constant[1, d] = True
    assert ((found.why == CONSTANT) == constant).all()
    assert (np.isnan(found.estimate) == constant).all()


@pytest.mark.parametrize(
    ("classes", "line", "order"), [([0, 0, 0], False, False), ([0, 0, 1, 1], True, False), ([0, 0, 0, 0], True, True)]
)
def test_a_line_takes_a_degree_of_freedom_beside_the_classes_and_the_error_of_a_correlation_two(classes, line, order):
    """A line leaves lots - classes - 1, Fisher's z lots - classes - 2; of fewer than four lots nothing is asked."""
    lots = len(classes)
    y = 5 + np.arange(lots)[:, None, None, None] + 0.01 * np.random.default_rng(1).normal(size=(lots, 4, 2, 3))
    found = Bench(replace(pool(y, shared=False), block=np.array(classes)), np.full(3, 4.0)).judge(np.ones((4, 3), bool))
    for aspect, asked in (("scale_use", line), ("agreement", order)):
        assert ((found.cells[aspect].why == "") == asked).all()
        assert (np.isfinite(found.cells[aspect].low) == asked).all()


# ── a season ─────────────────────────────────────────────────────────────────────────────────────────────────────────


def test_a_summary_tells_each_tasters_own_words_and_nobody_elses():
    days = ["2031-01-01", "2031-02-01"]
    row = dict.fromkeys(COLUMNS, "") | {"call": "steady", "chart": "level", "attended": 2, "last": days[1]}
    table = pd.DataFrame([row | {"taster": who, "descriptor": "body"} for who in NAMES[:3]])
    words = [(NAMES[0], "brisk", "body"), (NAMES[1], "body", "colour")]
    crossed = pd.DataFrame(
        [
            {"taster": who, "descriptor": one, "other": two, "kind": "swapped", "since": days[0]}
            for who, one, two in words
        ]
    )
    found = summary_of(table, crossed, days, {}).set_index("taster")
    for who, word, other in words:
        assert found.loc[who, "call"] == "crossed words"
        assert found.loc[who, "moves"] == f"{word} and {other}: swapped since {days[0]}"
    assert found.loc[NAMES[2], ["call", "moves"]].tolist() == ["steady", ""]


@pytest.mark.parametrize("together", [True, False])
def test_whatever_cannot_be_told_in_a_season_says_why(together):
    """Two of three jump; whoever is named takes the other's alarm along, whose own level is then told as it stands."""
    rng = np.random.default_rng(3)
    value = 0.1 * rng.normal(size=(24, 3, 1))
    value[10:, 0] += 2.0
    value[10:, 1] += 0.6
    series = Series(value, np.full(value.shape, 0.1), np.ones(value.shape))
    charts = charted(lambda _: series, np.ones((3, 1), bool), alpha=0.05, side="both", baseline=np.full((3, 1), 8),
                     most=0, seed=1)  # fmt: skip
    assert charts.alarmed[:, 0].tolist() == [True, True, False]
    named, reason = named_among(charts, 3, together=np.full((3, 1), together))
    edge = np.array([0.5])
    table = table_of(
        Judged("level", charts, list(NAMES[:3]), ["body"], -edge, edge, named, reason), np.arange(24).astype(str)
    )
    assert table["call"].tolist() == ["jumped" if together else "cannot tell", "cannot tell", "steady"]
    assert ((table["call"] == "cannot tell") == (table["reason"] != "")).all()
    assert (table["low"] < table["change"]).all()
    assert (table["change"] < table["high"]).all()


def test_where_no_growth_of_repeats_is_shown_the_middle_limit_is_told_as_so_many_times():
    """Upper limits of 1.5, 2.5 and 4 times what was estimated: the middle one."""
    table = pd.DataFrame(
        {"taster": NAMES[:3], "effect": SPREAD, "estimate": [2.0, 0.4, 1.0], "low": 0.3, "high": [3.0, 1.0, 4.0]}
    )
    assert "2.5" in _not_shown(table, list(NAMES[:3])).sentence


@pytest.mark.parametrize(
    ("lots", "passed", "counted"),
    [([30, 8, 8, 8], 2, 1), ([30, 8, 8, 7], 2, 0), ([9, 9, 12, 12], 3, 0), ([9, 8, 8, 8], 0, 0), ([8, 8, 8], 1, 0)],
)
def test_a_trainee_counts_from_where_the_curve_passed_if_three_sessions_and_24_lots_are_left(lots, passed, counted):
    assert _counted_from(passed, np.arange(len(lots)), np.array(lots)) == counted


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_curve_is_foretold_to_pass_from_its_lower_limit_to_its_upper(seed):
    """Limits of the fitted line by statsmodels' weighted least squares, held against a ratio of 1.5 of spreads."""
    session = np.arange(1, 13.0)
    y = 2 - 0.8 * np.log(session) + 0.2 * np.random.default_rng(seed).normal(size=12)
    x = sm.add_constant(np.log(session))
    fit = sm.WLS(y, x, weights=np.full(12, 1 / 0.01)).fit()
    assert fit.scale > 1  # else the errors of the sessions are taken as known
    grid = np.arange(1, 19)
    low, high = fit.get_prediction(sm.add_constant(np.log(grid))).conf_int(alpha=0.05).T
    ends = [int(grid[limit <= np.log(1.5**2)][0]) for limit in (low, high)]
    forecast, passed = _forecast(session, y, np.full(12, 0.01), 0.025)
    assert ends[0] < ends[1]
    assert forecast == "between session {} and session {}".format(*ends)
    assert passed == (ends[1] if ends[1] <= 12 else 0)


# ── agreement ────────────────────────────────────────────────────────────────────────────────────────────────────────


def test_a_taster_who_missed_a_class_has_no_part_in_whether_classes_are_told_apart():
    y = room(15, 5, 1, 3)
    lots = pd.DataFrame({"lot": [f"{100 + j}" for j in range(15)], "class": np.repeat(["low", "middle", "high"], 5)})
    y[5:10, 1, :, 0], y[:5, 3] = np.nan, np.nan  # of one word, of every word
    days = pd.DataFrame({"session": ["one"], "pots": ["own"]})

    def classes(who):
        sheet = pd.concat(
            [pd.DataFrame(y[:, i, 0], columns=["brisk", "body", "colour"]).assign(lot=lots["lot"], taster=NAMES[i])
             for i in who]
        ).assign(session="one")  # fmt: skip
        sheet = sheet[sheet[["brisk", "body", "colour"]].notna().any(axis=1)]
        return pst.panel_agreement(pst.read_scores(sheet, room={"lots": lots, "sessions": days})).classes

    every, least, less = (classes(who).set_index("descriptor") for who in (range(5), [0, 2, 4], [0, 1, 2, 4]))
    pd.testing.assert_frame_equal(every.loc[["brisk"]], least.loc[["brisk"]])
    pd.testing.assert_frame_equal(every.loc[["body", "colour"]], less.loc[["body", "colour"]])
    assert np.isfinite(every["p"]).all()
