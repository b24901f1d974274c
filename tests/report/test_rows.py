"""Rows as they are drawn and told: places by the rule of three, ways of triangles, order, digits, what is left out."""

import re

import numpy as np
import pandas as pd
import pytest

from panelstats.report.charts.figures import Axis, band, is_urgent, row_figures
from panelstats.report.charts.order import shown_rows
from panelstats.report.charts.scale import Scale, scale_of, ticks
from panelstats.report.charts.shapes import key
from panelstats.report.charts.twin import in_words, told
from panelstats.report.pages.lotrows import Class, LotRow, Origin, _frequent, _marks_of, _split, _told
from panelstats.report.pages.people import _apart
from panelstats.report.tables import columns
from panelstats.result import Chart, Mark, Row

SCALE = Scale(-2.0, 2.0, ((-2.0, "−2"), (0.0, "0"), (2.0, "+2")))


def drawn(row, axis):
    return [str(part) for part in row_figures(row, axis, 10.0)]


def numbers(text):
    return [float(x) for x in re.findall(r"-?\d+\.?\d*", text)]


@pytest.mark.parametrize(("ends", "upright"), [((100, 300), False), ((300, 100), True)])
def test_a_value_stands_in_proportion_and_one_beyond_at_the_end(ends, upright):
    axis = Axis(SCALE, *ends, upright)
    for value, share in ((-2, 0), (0, 0.5), (1, 0.75), (2, 1), (5, 1), (-5, 0)):
        assert axis(value) == pytest.approx(ends[0] + share * (ends[1] - ends[0]))
    assert [axis.beyond(x) for x in (-2.1, -2, 0, 2, 2.1)] == [True, False, False, False, True]
    assert axis.way == (1 if ends[1] > ends[0] else -1)


@pytest.mark.parametrize(("mark", "way"), [(Mark.HIGHER, 1), (Mark.LOWER, -1)])
def test_a_triangle_points_the_way_of_the_deviation(mark, way):
    (shape,) = drawn(Row("a", 1.0, mark=mark), Axis(SCALE, 100, 300))
    back, tip, again = re.search(r'd="M([^"]*)z"', shape)[1].split("L")
    assert back.split(" ")[0] == again.split(" ")[0]
    assert np.sign(float(tip.split(" ")[0]) - float(back.split(" ")[0])) == way
    assert float(tip.split(" ")[1]) == 10  # on its row
    middle = (float(tip.split(" ")[0]) + float(back.split(" ")[0])) / 2
    assert middle == pytest.approx(250, abs=1)
    (shape,) = drawn(Row("a", 1.0, mark=mark), Axis(SCALE, 300, 100, upright=True))  # up is higher: a smaller y
    back, tip, _ = re.search(r'd="M([^"]*)z"', shape)[1].split("L")
    assert np.sign(float(tip.split(" ")[1]) - float(back.split(" ")[1])) == -way


def test_an_interval_runs_from_its_low_to_its_high_and_an_arrow_says_where_it_goes_on():
    axis = Axis(SCALE, 100, 300)
    line, dot = drawn(Row("a", 0.0, -1.0, 1.5), axis)
    assert 'd="M150 10H275"' in line
    assert 'cx="200"' in dot
    line, _ = drawn(Row("a", 0.0, -1.0, 9.0), axis)
    assert re.search(r'd="M150 10H300 ?M296 7L300 10L296 13"', line)
    line, _ = drawn(Row("a", 0.0, -9.0, 1.5), axis)
    assert re.search(r'd="M100 10H275 ?M104 7L100 10L104 13"', line)
    inner = drawn(Row("a", 0.0, -1.0, 1.0, inner_low=-0.5, inner_high=0.5), axis)
    assert 'd="M175 10H225"' in inner[1]
    assert "inner" in inner[1]


def test_what_cannot_be_told_has_no_dot_and_what_is_urgent_says_so():
    assert len(drawn(Row("a", 0.0, -1.0, 1.0, mark=Mark.OPEN), Axis(SCALE, 100, 300))) == 1
    for mark in Mark:
        assert is_urgent(Row("a", mark=mark)) == (mark not in (Mark.WITHIN, Mark.OPEN))
    assert not is_urgent(Row("a"))


def test_a_band_lies_from_floor_to_ceiling_and_is_absent_where_none_was_given():
    (rect,) = band(Axis(SCALE, 100, 300), -1.0, 0.5, 20, 50)
    assert re.search(r'x="150" y="20" width="75" height="30"', str(rect))
    (rect,) = band(Axis(SCALE, 300, 100, upright=True), -1.0, 0.5, 20, 50)
    assert re.search(r'x="20" y="175" width="30" height="75"', str(rect))
    (rect,) = band(Axis(SCALE, 100, 300), -np.inf, 0.5, 20, 50)
    assert re.search(r'x="100" y="20" width="125"', str(rect))
    assert list(band(Axis(SCALE, 100, 300), np.nan, 0.5, 20, 50)) == []


def lots(n, **marked):
    return tuple(Row(f"L{k}", float(n - k), mark=marked.get(f"L{k}"), group="leaf") for k in range(n))


def test_forty_rows_are_shown_and_of_forty_one_the_four_at_each_end():
    assert shown_rows(lots(40)) == lots(40)
    names = [row.label for row in shown_rows(lots(41))]
    assert names == ["L0", "L1", "L2", "L3", "33 between", "L37", "L38", "L39", "L40"]


def test_faulty_rows_stand_on_top_highest_first_and_asked_for_rows_stay():
    rows = shown_rows(lots(50, L20=Mark.FAULT, L10=Mark.FAULT, L30=Mark.AGAIN))
    names = [row.label for row in rows]
    assert names[:6] == ["L10", "L20", "L0", "L1", "L2", "L3"]
    assert names[6:9] == ["24 between", "L30", "15 between"]
    assert rows[0].group == "a fault was noticed"
    judged = (*lots(60), Row("x", 0.0, mark=Mark.HIGHER))
    assert shown_rows(judged) == judged


def chart(*rows, **options):
    return Chart("Lots", "points", rows, **options)


def test_a_scale_holds_what_is_drawn_with_a_little_room_and_zero_in_the_middle():
    scale = scale_of([chart(Row("a", 1.0, 0.5, 1.5), Row("b", 3.0, 2.0, 4.0))])
    assert (scale.low, scale.high) == pytest.approx((0.5 - 0.04 * 3.5, 4.0 + 0.04 * 3.5))
    scale = scale_of([chart(Row("a", -1.0, -1.5, -0.5), Row("b", 3.0, 2.0, 4.0), zero=0.0)])
    assert (scale.low, scale.high) == pytest.approx((-4 * 1.08, 4 * 1.08))
    scale = scale_of([chart(Row("a", 1.0, 0.5, 90.0), Row("b", 3.0, 2.0, 4.0))])  # as far again, not ninety
    assert scale.high == pytest.approx(5.0 + 0.04 * 4.5)
    assert scale_of([chart(Row("a", 0.2), ends=(0.0, 1.0))]).high == 1.0
    scale = scale_of([chart(Row("a", 2.0, 1.0, 3.0), zero=0.0)])
    assert scale.low == 0.0


def test_ticks_are_round_and_say_their_sign_only_about_zero():
    assert ticks(0.0, 10.0) == [0, 2, 4, 6, 8, 10]
    assert ticks(-1.0, 1.0, most=5) == [-1, -0.5, 0, 0.5, 1]
    words = [w for _, w in scale_of([chart(Row("a", -1.0, -2.0, 2.0), zero=0.0)]).ticks]
    assert {"+1", "0", "−1"} <= set(words)
    assert "+1" not in [w for _, w in scale_of([chart(Row("a", 1.0, 0.0, 2.0))]).ticks]


def test_the_words_name_the_three_ends_of_many_and_all_of_six():
    said = in_words(chart(*(Row(f"L{k}", float(k), k - 0.5, k + 0.5) for k in range(7)), zero=0.0), "lot")
    assert said.startswith("7 lots; points.")
    assert re.search(r"Highest: L6 .*; L5 .*; L4 .*\. Lowest: L0 .*; L1 .*; L2 ", said)
    six = in_words(chart(*(Row(f"L{k}", float(k), k - 0.5, k + 0.5) for k in range(6))), "lot")
    assert re.findall(r"L\d", six) == ["L5", "L4", "L3", "L2", "L1", "L0"]
    said = in_words(chart(Row("a", 1.0, 0.0, 2.0, mark=Mark.FAULT), Row("b", 0.0, -1.0, 1.0, mark=Mark.AGAIN)))
    assert "A fault was noticed in a." in said
    assert "To be looked at again: b." in said


def test_the_words_tell_the_interval_the_call_goes_by_with_its_digits():
    signed = chart(zero=0.0)
    assert told(Row("a", 1.234, 0.8, 1.6), signed) == "a +1.2 (+0.8 to +1.6)"
    assert told(Row("a", -1.234, -1.25, -1.21), signed) == "a −1.23 (−1.25 to −1.21)"
    assert told(Row("a", 1.234, 0.8, 1.6), chart()) == "a 1.2 (0.8 to 1.6)"
    within = Row("a", 0.1, -0.9, 1.1, inner_low=-0.4, inner_high=0.6, mark=Mark.WITHIN, floor=-0.8, ceiling=0.8)
    assert told(within, signed) == "a +0.1 (−0.4 to +0.6), tolerance 0.8"
    outside = Row("a", 2.1, 0.9, 3.3, inner_low=1.4, inner_high=2.6, mark=Mark.HIGHER, floor=-0.8, ceiling=0.9)
    assert told(outside, signed) == "a +2.1 (+0.9 to +3.3)"
    assert told(Row("a", 0.314, 0.2, 0.4), chart(percent=True)) == "a 31 % (20 % to 40 %)"
    assert told(Row("a"), signed) == "a, no estimate"
    assert told(Row("a", 1.26), signed) == "a +1.3 (interval not known)"


def test_what_is_to_be_acted_on_is_told_first_then_what_is_open():
    rows = [Row("a", 0.0, -1, 1, note="with the panel", mark=Mark.WITHIN), Row("b", 0.0, -1, 1, note="cannot tell",
            mark=Mark.OPEN), Row("c", 2.0, 1, 3, note="apart", mark=Mark.HIGHER)]  # fmt: skip
    said = in_words(chart(*rows))
    assert said.index("Apart: c") < said.index("Cannot tell: b") < said.index("With the panel: a")


def test_the_key_names_each_shape_that_occurs_and_no_other():
    shapes = [shape for shape, _ in key([chart(Row("a", 1.0, mark=Mark.LOWER), Row("b", 1.0, mark=Mark.HIGHER))])]
    assert shapes == ["higher"]  # one line for both ways
    assert [shape for shape, _ in key([chart(Row("a", 1.0, mark=Mark.LOWER))])] == ["lower"]
    shapes = [shape for shape, _ in key([chart(Row("a", 1.0, floor=-1, ceiling=1, mark=Mark.WITHIN))])]
    assert shapes == ["band", "within"]


# ── the first screen ─────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("n", "ordered", "parts"), [
    (6, True, (6, 0, 0)), (7, True, (3, 2, 2)), (7, False, (5, 0, 2)), (1, True, (1, 0, 0))])  # fmt: skip
def test_three_best_and_two_weakest_stand_open_where_more_than_one_would_be_folded(n, ordered, parts):
    rows = [LotRow(f"L{k}", Origin(), "", "") for k in range(n)]
    found = _split("leaf", rows, ordered=ordered)
    assert (len(found.best), len(found.weakest), len(found.rest)) == parts
    ends = [*found.best, *found.rest, *found.weakest]
    assert [row.lot for row in ends] == [row.lot for row in rows]
    assert found.label == ("" if not parts[2] else "best" if ordered else "farthest")
    assert isinstance(found, Class)


def test_what_marks_a_lot_out_is_told_with_its_standing_then_against_it():
    marks = pd.DataFrame({"descriptor": list("abcde"), "deviation": [2.0, 1.5, 1.2, -1.1, -0.9],
                          "worth": [2.0, 1.5, 1.2, -1.1, -0.9], "lot": "401"})  # fmt: skip
    of_lot = _marks_of(marks)["401"]
    assert _told(of_lot, 1.0) == "a +2.0, b +1.5; d −1.1"
    assert _told(of_lot, -1.0) == "d −1.1, e −0.9; a +2.0"
    assert _told([*of_lot[:3], of_lot[4]], 1.0) == "a +2.0, b +1.5"  # 0.9 is under half of 2.0


def test_the_commonest_remark_is_quoted_with_its_number():
    assert list(_frequent(["thin", "bright", "thin", ""])) == ["thin (2)"]
    assert list(_frequent(["thin"])) == ["thin"]


def apart(*rows):
    names = ["aspect", "descriptor", "estimate", "floor", "ceiling", "call"]
    return _apart(pd.DataFrame([(*row, "apart") for row in rows], columns=names))


def test_a_taster_who_is_apart_is_told_which_way():
    edge = (-0.5, 0.5)
    assert apart(("level", "body", 1.26, *edge)).startswith("marks about 1.3 high on body (0.5 allowed)")
    assert apart(("level", "body", -1.26, *edge)).startswith("marks about 1.3 low on body")
    assert apart(("level", "", 1.0, -np.inf, 0.5), ("level", "body", -1.26, *edge)).startswith(
        "marks about 1.0 low on every word"
    )
    both = apart(("level", "", 1.0, -np.inf, 0.5), ("level", "body", -1.2, *edge), ("level", "tip", 1.2, *edge))
    assert both.startswith("marks about 1.0 off on every word")
    farthest = apart(("level", "a", 1.0, *edge), ("level", "b", 2.0, *edge), ("level", "c", 1.5, *edge))
    assert farthest.startswith("marks about 2.0 high on a, b and 1 more")
    assert "spreads the marks too little on a" in apart(("scale_use", "a", 0.4, 0.67, 1.5))
    assert "spreads the marks too far on a" in apart(("scale_use", "a", 1.9, 0.67, 1.5))
    assert "2.4 times as far apart" in apart(("repeatability", "a", 2.4, -np.inf, 1.5))


# ── tables ───────────────────────────────────────────────────────────────────────────────────────────────────────────


def texts(**table):
    return {column.name: column.texts() for column in columns(pd.DataFrame(table))}


def test_numbers_of_tables_are_written_by_their_kind():
    shown = texts(df=[11.0, 8.37], share=[0.5, 0.004], p_lots=[0.0999, 0.1], n=[1200, 3])
    assert shown == {"df": ["11.0", "8.4"], "share": ["50 %", "< 1 %"], "p_lots": ["0.100", "0.10"],
                     "n": ["1,200", "3"]}  # fmt: skip
    assert texts(df=[11.0, 1200.0])["df"] == ["11", "1,200"]
    assert texts(sd=[1.234, 0.5678, 0.9])["sd"] == ["1.234", "0.568", "0.900"]  # three digits of the usual size
    assert texts(x=[1.234], x_low=[1.2], x_high=[1.3])["x"] == ["1.23"]  # a quarter of the width
    assert texts(mean=[1.236], low=[0.9], high=[1.6], other=[5.6789]) == {
        "mean": ["1.2"], "low": ["0.9"], "high": ["1.6"], "other": ["5.68"]}  # fmt: skip
