"""Every result says what a picture of it shows, and `draw` shows that."""

import io
import re
import subprocess
import sys
from functools import cache
from html import unescape

import numpy as np
import pandas as pd
import pytest
from blends import match, track
from invented import assessment, learning, review
from matplotlib.figure import Figure

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.lots.compare.fit import LotComparison
from panelstats.report.charts.panels import panel_drawing
from panelstats.report.charts.scale import scale_of, ticks
from panelstats.report.charts.strips import strip, strip_axis
from panelstats.report.charts.weeks import weeks_drawing
from panelstats.report.pages.page import page_of
from panelstats.result import Mark, Result
from panelstats.review import as_review
from tests import known
from tests.calibration.rooms.months import Months
from tests.lots.test_fineness import room as graded
from tests.lots.test_packs import weighed
from tests.lots.test_recipes import tasted
from tests.lots.test_value import room as priced
from tests.report.test_summary import described
from tests.report.test_summary import room as told

ANSWERS = pd.DataFrame({
    "test": ["B1"] * 6 + ["B2"] * 6, "kind": "triangle", "taster": list("abcdef") * 2,
    "answer": ["right"] * 6 + ["right", "wrong"] * 3,
})  # fmt: skip
MIXED = ANSWERS.assign(kind=["triangle"] * 6 + ["paired"] * 6, order=[""] * 6 + ["AB", "BA"] * 3,
                       answer=["right"] * 6 + ["1", "2"] * 3)  # fmt: skip
RATINGS = pd.DataFrame({"taster": list("abcdef") * 2, "sample": ["blind"] * 6 + ["B1"] * 6,
                        "rating": [1, 0, 2, 1, 0, 1, 3, 2, 3, 4, 2, 2]})  # fmt: skip
MADE = review(lots=6, descriptors=2, faults=1)
TRIANGLE = pst.difference_test("triangle", correct=20, answers=36)
SHARE = "share of tasters who can tell (%)"
SIZE = "d′ (standard deviations of what is perceived)"


def of(table, descriptor):
    return table[table["descriptor"] == descriptor]


def shares(found):
    return [test.share_who_can_tell.value for test in found.tests]


def worst(found):
    """Of each lot of each stage the difference whose z is largest."""
    ranked = found.differences.assign(size=found.differences["z"].abs())
    firsts = ranked.sort_values("size", ascending=False).drop_duplicates(["session", "stage", "lot"])
    return firsts.sort_index()["difference"]


def left(found):
    """The means without, of lots and of pots alone, class by class and highest first."""
    lots = of(found.table, "strength").dropna(subset=["mean_without"])
    classes = [sorted(some["mean_without"], reverse=True) for _, some in lots.groupby("class")]
    return [*sorted(of(found.alone, "strength")["mean"], reverse=True), *(mean for some in classes for mean in some)]


def asked(table):
    """The lots on the list and those to taste again."""
    return table[table["listed"] | (table["call"] == "taste again")]


def made(found):
    """The pairs of settings and the slopes over their usual range, word by word."""
    pairs = found.pairs[["descriptor", "difference"]].set_axis(["descriptor", "value"], axis=1)
    slopes = found.slopes[["descriptor", "per_range"]].set_axis(["descriptor", "value"], axis=1)
    return pd.concat([pairs, slopes]).sort_values("descriptor", kind="stable")["value"]


def level_change(found, taster):
    """The change of level that is drawn of a taster: one of his, on some word."""
    drawn = {row.label.split(":")[0]: row.value for row in found.chart().rows}
    mine = found.table[(found.table["taster"] == taster) & (found.table["chart"] == "level")]
    return next(change for change in mine["change"] if change == pytest.approx(drawn[taster]))


# How each result is made, its axis and the values its rows must carry, read from the documented tables.
CHARTS = {
    "lots": (lambda: MADE.find(pst.LotComparison), "length: lot less the mean of its class (points)",
             lambda r: sorted(of(r.means, "length")["deviation"], reverse=True), "length"),
    "faults": (lambda: MADE.find(pst.FaultsNoticed), "share of the tasters asked who noticed it (%)",
               lambda r: r.table["noticed"] / r.table["asked"], None),
    "agreement": (lambda: MADE.find(pst.PanelAgreement),
                  "share of the spread of the panel's marks that is the lots' own (%)",
                  lambda r: r.table["icc_mean"], None),
    "match": (match, "lot less S (points)", lambda r: r.table["difference"], None),
    "track": (track, "blend less S, smoothed (points)", lambda r: r.summary["smoothed"], None),
    "weeks": (track, "length: blend less S (points)", lambda r: of(r.table, "length")["difference"], "length"),
    "one test": (lambda: TRIANGLE, SHARE, lambda r: [r.share_who_can_tell.value], None),
    "three tests": (lambda: pst.difference_test("triangle", correct=[20, 12, 5], answers=[36, 36, 12]), SHARE,
                    lambda r: r.share_who_can_tell.value, None),
    "paired": (lambda: pst.difference_test("paired", correct=8, answers=40),
               "share in favour (%): of A to the right, of the other to the left",
               lambda r: [r.share_who_can_tell.value], None),
    "no chance level": (lambda: pst.match_test("a-not-a", hits=20, n_a=30, false=10, n_not_a=30, within_d=1.0), SIZE,
                        lambda r: [r.d_prime.value], None),
    "answers": (lambda: pst.judge_answers(ANSWERS), SHARE, shares, None),
    "answers of two kinds": (lambda: pst.judge_answers(MIXED), SIZE, lambda r: r.table["d"], None),
    "repeated": (lambda: pst.repeated_test("triangle", correct=[1, 2, 4, 1, 0, 2], answers=[4] * 6), SHARE,
                 lambda r: [r.share_who_can_tell.value], None),
    "pots": (lambda: pst.check_pots(known.scores("bench")),
             "pot farthest out less its sister pots, on the descriptor that shows it most (points)", worst, None),
    "without pots": (lambda: known.session().find(pst.WithoutPots),
                     "strength: mean without the pots in doubt (points)", left, "strength"),
    "short list": (lambda: pst.shortlist_lots(known.scores("row.xlsx")),
                   "overall: merit, points from the mean of the class",
                   lambda r: asked(r.table[r.table["descriptor"] == "overall"])["merit"], None),
    "one look": (lambda: pst.room_error(known.scores("row.xlsx")),
                 "half-width of the interval of a lot tasted once (points)",
                 lambda r: r.table["half_width"].dropna(), None),
    "makes": (lambda: pst.compare_makes(known.scores("row.xlsx"), "fermenting"), "difference (points)", made, None),
    "garden": (lambda: pst.garden_letter(known.scores("row.xlsx"), "Mid Brallow 2"), "garden less its class (points)",
               lambda r: r.summary["difference"], None),
    "map": (lambda: pst.map_lots(known.scores("blends"), besides=False, resamples=99),
            "less colour, body and strength (left) to more colour, body and strength (right)",
            lambda r: sorted(r.lots["axis_1"], reverse=True), None),
    "season": (lambda: pst.audit_season(Months(tasters=3).draw(np.random.default_rng(1))),
               "points above or below the own baseline, against the others",
               lambda r: [level_change(r, taster) for taster in r.summary["taster"]], None),
    "value": (lambda: pst.explain_value(priced(40), shuffles=19), "difference in price for a point (%)",
              lambda r: sorted(r.table["slope"], reverse=True), None),
    "packs": (lambda: pst.fit_pack(weighed(6, 2), grams=250, millilitres=750),
              "density (g/ml)", lambda r: r.table["density"],
              None),
    "densities": (lambda: pst.weigh_lots(weighed(6, 2)), "density (g/ml)", lambda r: sorted(r.table["density"]), None),
    "recipes": (lambda: pst.suggest_blends(tasted({"S": (5.0,), "1": (4.0,), "2": (6.2,)}), "S"),
                "difference, 1 is what is allowed",
                lambda r: (r.table["difference"] / r.table["allowed"])[r.table["recipe"] == "nearest"], None),
    "buyer": (lambda: described(told(lots=4, tasters=3)), "lot less the mean of its class (points)",
              lambda r: r.of_lot("000")["difference"], None),
    "grades": (lambda: pst.grade_trend(graded(0.5, each=3), ["leaf", "broken", "dust"]),
               "change for one grade finer (points)",
               lambda r: r.table["slope"], None),
    "plan": (lambda: pst.plan_session(["1", "2", "3"], ["elm", "yew"], service="tray", limit=9),
             "mean position in the order (number)", lambda r: r.positions["mean_position"], None),
    "plates": (lambda: pst.plan_difference("triangle", ["elm", "yew"]),
               "sets (number)", lambda r: r.orders["times"], None),
    "planning": (lambda: pst.answers_needed("triangle", within_share=0.3),
                 "answers (number)", lambda r: r.table["served"],
                 None),
    "tests compared": (lambda: pst.compare_tests([("triangle", 20, 36), ("duo-trio", 20, 36)]),
                       "d' (standard deviations of what is perceived)", lambda r: r.table["d'"], None),
    "ratings": (lambda: pst.difference_from_control(RATINGS, control="blind"), "rating points above the blind control",
                lambda r: r.table["difference"], None),
    "screening": (lambda: pst.screen_trainee("triangle", [1, 1, 0], pass_share=0.6), "right answers so far (number)",
                  lambda r: r.table["right_so_far"], None),
}  # fmt: skip
COLUMNS = {
    "tasters": (assessment, ["level", "repeatability", "agreement"], [
        "points above or below the others", "spread between servings of one lot; the others' is 1",
        "correlation; 1 is the others' order"]),
    "trainees": (learning, ["difference", "slope", "spread"], [
        "points above or below the seniors", "slope; 1 is the seniors' use", "spread; the seniors' is 1",
        "own less the seniors' (points); the strip is the seniors' own reach"]),
}  # fmt: skip
RESULTS = CHARTS | COLUMNS
# One for every kind of page, and one of the plain kind.
PAGED = ["lots", "short list", "buyer", "garden", "match", "season", "map", "tasters", "trainees", "answers",
         "one test", "packs"]  # fmt: skip


@cache
def result_of(name):
    """Made once a process, and only where a test asks for it."""
    return RESULTS[name][0]()


def heirs(kind):
    return {kind}.union(*map(heirs, kind.__subclasses__()))


def test_every_kind_of_result_is_among_those_tried():
    assert [getattr(pst, name) for name in pst.__all__]  # attached lazily: now all are loaded
    tried = {type(result) for result in map(result_of, RESULTS)}
    assert {kind for kind in heirs(Result) - {Result} if kind.__module__.startswith("panelstats")} == tried


@pytest.mark.parametrize("name", CHARTS)
def test_a_chart_names_its_axis_and_carries_the_values_of_the_table(name):
    (_, axis, values, descriptor), result = CHARTS[name], result_of(name)
    chart = result.chart(descriptor)
    assert chart.axis == axis
    assert [row.value for row in chart.rows] == pytest.approx(list(values(result)), nan_ok=True)
    assert chart.words


def test_tasters_and_trainees_have_a_column_for_each_aspect_with_an_axis_of_its_own():
    (_, aspects, axes), result = COLUMNS["tasters"], result_of("tasters")
    chart = result.chart()
    assert [column.axis for column in chart.columns] == axes
    whole = result.table[result.table["descriptor"] == ""]
    for column, aspect in zip(chart.columns, aspects, strict=True):
        wanted = whole[whole["aspect"] == aspect].set_index("taster")["estimate"]
        assert [row.value for row in column.rows] == pytest.approx([wanted[row.label] for row in column.rows])
    (_, names, axes), result = COLUMNS["trainees"], result_of("trainees")
    chart = result.chart()
    assert [column.axis for column in chart.columns] == axes
    for column, name in zip(chart.columns, names, strict=False):
        assert [row.value for row in column.rows] == pytest.approx(list(result.table[name]), nan_ok=True)


@pytest.mark.parametrize("name", RESULTS)
def test_every_result_is_drawn_into_the_axes_given(name):
    ax = Figure().subplots()
    assert pst.draw(result_of(name), ax=ax) is ax


@pytest.mark.parametrize("name", PAGED)
def test_a_result_alone_has_a_page_that_says_its_answers(name):
    result = result_of(name)
    page = unescape(re.sub(r"<[^>]*>", "", page_of(as_review(result)).decode()))
    for verdict in result.verdicts[:3]:
        assert verdict.sentence[-30:] in page


@pytest.mark.parametrize("name", RESULTS)
def test_tables_count_their_rows_from_nought(name):
    for title, table in result_of(name).tables().items():
        assert list(table.index) == list(range(len(table))), title


@pytest.mark.parametrize("name", RESULTS)
def test_every_axis_is_named_and_has_ticks(name, tmp_path):
    ax = pst.draw(result_of(name))
    ax.figure.savefig(tmp_path / "figure.svg")
    along, chart = name in ("screening",), result_of(name).chart()
    for each, part in zip(ax.child_axes or [ax], chart.columns or (chart,), strict=True):
        axis = each.yaxis if along else each.xaxis
        assert axis.get_label_text().replace("\n", " ") == part.axis
        assert len(axis.get_ticklocs()) >= 2
    assert ax.figure.legends[0].get_texts()[0].get_text() == chart.words


def test_same_result_same_bytes():
    drawn = []
    for _ in range(2):
        pst.draw(MADE.find(pst.LotComparison)).figure.savefig(into := io.BytesIO(), format="png")
        drawn.append(into.getvalue())
    assert drawn[0] == drawn[1]


def test_lots_stand_in_order_and_where_the_table_says():
    means = of(MADE.find(pst.LotComparison).means, "length").sort_values("deviation", ascending=False)
    ax = pst.draw(MADE.find(pst.LotComparison), "length")
    assert [label.get_text() for label in ax.get_yticklabels()] == means["lot"].tolist()
    assert drawn_at(ax)[:, 0] == pytest.approx(means["deviation"].to_numpy())


def test_of_many_lots_only_the_ends_are_drawn_and_every_row_is_named():
    many = review(lots=300, descriptors=1, faults=0).find(LotComparison)
    order = many.means.sort_values("deviation", ascending=False)["lot"].tolist()
    ax = pst.draw(many)
    assert [label.get_text() for label in ax.get_yticklabels()] == [*order[:4], "292 between", *order[-4:]]
    assert len(drawn_at(ax)) == 8


def test_rows_that_were_judged_are_all_drawn():
    many = match(lots=[f"B{at}" for at in range(5)], descriptors=16)
    assert len(pst.draw(many).get_yticklabels()) == 80


def drawn_at(ax):
    """Where shapes stand: of every collection that has markers."""
    return np.concatenate([np.asarray(c.get_offsets()) for c in ax.collections if type(c).__name__ == "PathCollection"])


@pytest.mark.parametrize("name", ["lots", "match", "agreement", "tasters", "trainees"])
def test_an_unknown_descriptor_is_told_by_the_known_ones(name):
    with pytest.raises(DesignError, match="no such descriptor"):
        pst.draw(result_of(name), "nothing")


@pytest.mark.parametrize("name", ["faults", "one test", "answers", "planning", "tests compared", "ratings"])
def test_a_result_without_descriptors_refuses_one(name):
    with pytest.raises(DesignError, match="no descriptors"):
        pst.draw(result_of(name), "brisk")


@pytest.mark.parametrize(("given", "named"), [
    (("bench.xlsx",), "result: str"), ((MADE,), "result: "), ((TRIANGLE, 7), "descriptor: int"),
    ((TRIANGLE, Figure().subplots()), "descriptor: Axes"), ((TRIANGLE, None, "ax"), "ax: str"),
])  # fmt: skip
def test_a_wrong_argument_is_refused_by_its_name(given, named):
    with pytest.raises(DesignError, match=named):
        pst.draw(*given)


def test_who_is_apart_has_another_shape_and_a_word():
    chart = result_of("tasters").chart()
    assert [row.note for row in chart.rows] == ["apart", "with the panel"]
    assert chart.columns[0].rows[0].mark is Mark.APART  # a size over all descriptors has no direction
    one = result_of("tasters").chart("brisk").columns[0]
    assert one.rows[0].mark is Mark.HIGHER
    assert [text.get_text() for text in pst.draw(result_of("tasters")).texts] == ["apart", "with the panel"]


def test_what_cannot_be_told_has_no_dot():
    ax = pst.draw(pst.difference_test("triangle", correct=[12, 5], answers=[36, 12]))
    assert [text.get_text() for text in ax.texts] == ["cannot tell", "cannot tell"]
    assert not any(type(c).__name__ == "PathCollection" for c in ax.collections)


@pytest.mark.parametrize("analysis", [pst.check_pots, pst.audit_season, pst.shortlist_lots])
def test_what_holds_nothing_to_draw_says_so(analysis):
    one = pst.read_scores(pd.DataFrame({"lot": "1", "taster": ["elm", "yew"], "brisk": [5, 6]}))
    with pytest.raises(DesignError, match="nothing to draw"):
        pst.draw(analysis(one))


def test_a_dollar_in_a_name_starts_no_formula(tmp_path):
    made = review(lots=2, descriptors=1, names=["$x^2$", r"$\bad{"], faults=0)
    pst.draw(made.find(pst.LotComparison)).figure.savefig(tmp_path / "figure.svg")


def test_drawing_leaves_no_figure_open():
    code = """if True:
        import panelstats as pst, matplotlib.pyplot as plt
        pst.draw(pst.difference_test("triangle", correct=20, answers=36))
        raise SystemExit(len(plt.get_fignums()))"""
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


@pytest.mark.parametrize("ends", [(-1.3, 1.3), (0, 1), (-2.2, 2.2), (-0.004, 0.03), (37, 1204)])
@pytest.mark.parametrize("most", [3, 5, 7])
def test_ticks_are_round_few_and_at_least_two(ends, most):
    found = ticks(*ends, most=most)
    assert 2 <= len(found) <= most
    assert ends[0] - 1e-9 <= found[0] < found[-1] <= ends[1] + 1e-9


def test_an_interval_without_an_end_runs_to_the_end_of_the_scale_and_its_other_limit_is_on_it():
    chart = pst.match_test("same-different", hits=20, n_a=20, false=0, n_not_a=20, within_d=1.0).chart()
    (row,), scale = chart.rows, scale_of([chart])
    assert np.isinf(row.value)
    assert np.isinf(row.high)
    assert scale.low <= row.low <= scale.high
    drawn = str(panel_drawing(chart, scale, words="", key="k").svg)
    (moves,) = re.findall(r'd="([^"]*)" class="interval', drawn)
    assert moves.count("M") == 2  # the interval, and one open arrow: at its high end
    arrow = float(moves.split("M")[2].split(" ")[0])
    assert arrow > float(moves.split("H")[1].split("M")[0]) - 5


@pytest.mark.parametrize("name", sorted(set(CHARTS) - {"screening"}))
def test_a_picture_on_a_page_names_its_axis_and_marks_it(name):
    chart = result_of(name).chart(CHARTS[name][3])
    drawn = str(panel_drawing(chart, scale_of([chart]), words="", key="k").svg)
    (ticks,) = re.findall(r'<g class="ticks".*?</g>', drawn)
    assert len(re.findall("<text", ticks)) >= 2
    said = " ".join(re.findall(r'<text[^>]*class="quiet"[^>]*>([^<]*)</text>', drawn))
    assert unescape(said) == chart.axis


@pytest.mark.parametrize("result", [track(), track(weeks=2)])
def test_weeks_have_ticks_and_the_axis_its_name(result):
    now = result.chart()
    drawn = str(weeks_drawing([result.chart(row.label) for row in now.rows], now, key="w").svg)
    assert drawn.count('class="level') == len(now.rows)
    assert now.axis in drawn
    assert all(re.findall("<text", group) for group in re.findall(r'<g class="ticks".*?</g>', drawn))


def test_a_column_of_a_sheet_has_an_axis_with_the_ticks_of_its_cells():
    column = assessment().chart(taster="larch").columns[0]
    scale = scale_of([column], most=3)
    told = re.findall(r'<text x="([^"]*)"[^>]*>([^<]*)</text>', str(strip_axis(scale, column.zero)))
    places = {float(words.replace("−", "-")): float(x) for x, words in told}
    cell = str(strip(column.rows[1], scale, "words"))
    (band,) = re.findall(r'<rect x="([^"]*)" y="0" width="([^"]*)"', cell)
    one = (places[1.0] - places[-1.0]) / 2  # a point
    assert float(band[1]) == pytest.approx((column.rows[1].ceiling - column.rows[1].floor) * one, abs=0.3)


@pytest.mark.parametrize("name", CHARTS)
def test_every_estimate_and_tolerance_lies_on_the_scale(name):
    chart = result_of(name).chart(CHARTS[name][3])
    scale = scale_of([chart])
    for row in chart.rows:
        for value in (row.value, row.floor, row.ceiling):
            assert not np.isfinite(value) or scale.low <= value <= scale.high
