"""The last value that is read one way and the first that is read another: cells, scales, dates, zeros, joined keys.

What a cell means is common practice of score sheets; limits are those of the documentation.
"""

import datetime as dt

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.errors import SheetError
from panelstats.scores.dates import date_in, month_first, same_dates, session_order
from panelstats.scores.usual import step_of, tolerance_of
from panelstats.sheets.content import text
from panelstats.sheets.content.faultwords import mentions, noticed
from panelstats.sheets.content.text import Kind, decimal_style, parse

NAN = float("nan")


@pytest.mark.parametrize(("cell", "number"), [
    ("7", 7), (" 7.5 ", 7.5), ("7½", 7.5), ("7 ½", 7.5), ("½", 0.5), ("-7½", -7.5), ("7 1/2", 7.5), ("7 3/4", 7.75),
    ("7 5/8", 7.625), ("2¼", 2.25), ("3⅛", 3.125), ("+7", 7), ("7.", 7), (".5", 0.5), ("−3", -3), ("７", 7), (7, 7),
    (7.0, 7), (0, 0), (0.0, 0), ("0", 0), ("5e-05", 0.00005), (np.int64(4), 4),
])  # fmt: skip
def test_a_score_is_read_as_written(cell, number):
    found = parse([cell])
    assert (found.number[0], found.kind[0], found.reason[0]) == (pytest.approx(number, rel=1e-12), Kind.NUMBER, "")


@pytest.mark.parametrize("cell", ["", " ", "\u00a0", "-", "–", "—", "n/a", "N.A.", "abs", "Absent", None, NAN, "--"])
def test_a_blank_is_never_nought(cell):
    found = parse([cell])
    assert (np.isnan(found.number[0]), found.kind[0], found.reason[0]) == (True, Kind.BLANK, "")


@pytest.mark.parametrize(("cell", "reason"), [
    ("5-6", text.A_RANGE), ("5 to 6", text.A_RANGE), ("7/8", text.A_RANGE), ("7 4/4", text.NOT_A_NUMBER),
    ("7 3/2", text.NOT_A_NUMBER), ("1/2/2024", text.A_DATE), ("2024-03-01", text.A_DATE), ("3 May", text.A_DATE),
    (dt.date(2024, 5, 3), text.A_DATE), (dt.time(5, 3), text.A_DATE), (True, text.A_TRUTH), ("FALSE", text.A_TRUTH),
    ("#DIV/0!", text.AN_ERROR), ("70 %", text.A_PERCENTAGE), ("7e5", text.SCIENTIFIC), ("7,5", text.OTHER_DECIMAL),
    ("good", text.NOT_A_NUMBER), (float("inf"), text.NOT_A_NUMBER), ("x" * 201, text.TOO_LONG),
    ("x" * 200, text.NOT_A_NUMBER),
])  # fmt: skip
def test_what_is_no_score_is_named(cell, reason):
    found = parse([cell])
    assert (np.isnan(found.number[0]), found.kind[0], found.reason[0]) == (True, Kind.PROBLEM, reason)


def test_a_comma_is_a_point_where_the_file_writes_commas():
    assert decimal_style(["7,5", "6,5", "7.5"]) == ","
    assert decimal_style(["7,5", "7.5"]) == "."  # a tie is no habit
    assert decimal_style(["7", 7.5]) == "."
    found = parse(["7,5", "7.5", "7", "1,25"], decimal=",")
    np.testing.assert_array_equal(found.number, [7.5, NAN, 7, 1.25])
    assert found.reason[1] == text.OTHER_DECIMAL


def test_marks_of_a_room_come_before_every_other_reading():
    found = parse(["+", "-", "7", "ok", " OK "], marks={"+": 6.5, "-": 4.0, "ok": NAN})
    np.testing.assert_array_equal(found.number, [6.5, 4, 7, NAN, NAN])
    assert found.kind.tolist() == [Kind.NUMBER, Kind.NUMBER, Kind.NUMBER, Kind.BLANK, Kind.BLANK]


def scored(values, **register):
    sheet = pd.DataFrame({"lot": [f"L{k}" for k in range(len(values))], "taster": "elm", "brisk": values})
    rooms = {"descriptors": pd.DataFrame({"descriptor": ["brisk"], **{k: [v] for k, v in register.items()}})}
    return pst.read_scores(sheet, room=rooms)


@pytest.mark.parametrize(("value", "register", "reason"), [
    (10, {"low": 1, "high": 10}, ""), (1, {"low": 1, "high": 10}, ""), (0.5, {"low": 1, "high": 10}, "outside"),
    (0, {"low": 1, "high": 10}, "outside"), (10.5, {"low": 1, "high": 10}, "outside"), (-1, {"low": 0}, "outside"),
    (99, {"low": 0}, ""), (-99, {"high": 10}, ""), (11, {"high": 10}, "outside"),
    (7, {"low": 1, "high": 9, "step": 2}, ""),
    (6, {"low": 1, "high": 9, "step": 2}, "off the step"), (6.5, {"step": 0.5}, ""),
    (6.25, {"step": 0.5}, "off the step"),
])  # fmt: skip
def test_a_scale_holds_its_ends_and_nothing_beyond(value, register, reason):
    if not reason:
        assert scored([5, value], **register).frame["score"].tolist() == [5, value]
        return
    with pytest.raises(SheetError, match=reason) as caught:
        scored([5, value], **register)
    (problem,) = caught.value.problems.to_dict("records")
    assert str(problem["value"]) in (str(value), str(float(value)))
    assert problem["column"] == "brisk"


def test_a_scale_of_a_class_holds_in_it_and_the_common_one_elsewhere():
    sheet = pd.DataFrame({"lot": ["a", "b"], "taster": "elm", "brisk": [12, 12]})
    lots = pd.DataFrame({"lot": ["a", "b"], "class": ["dust", "leaf"]})
    words = pd.DataFrame({"descriptor": ["brisk"] * 2, "class": ["", "dust"], "low": [0, 0], "high": [10, 20]})
    with pytest.raises(SheetError) as caught:
        pst.read_scores(sheet, room={"lots": lots, "descriptors": words})
    assert len(caught.value.problems) == 1
    sheet["brisk"] = [12, 9]
    assert len(pst.read_scores(sheet, room={"lots": lots, "descriptors": words})) == 2


# ── dates ────────────────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("label", "date"), [
    ("2024-03-01", (2024, 3, 1)), ("20240301", (2024, 3, 1)), ("1.3.24", (2024, 3, 1)), ("01/03/2024", (2024, 3, 1)),
    ("1 Mar 2024", (2024, 3, 1)), ("March 1, 2024", (2024, 3, 1)), ("1 mar", (1, 3, 1)), ("1-Mar-99", (2099, 3, 1)),
    ("31/12/2024", (2024, 12, 31)), ("32/12/2024", None), ("week 14", None), ("12 Dec 24", (2024, 12, 12)),
])  # fmt: skip
def test_a_date_is_read_day_first(label, date):
    assert date_in(label) == (dt.date(*date) if date else None)


def test_a_month_stands_first_only_where_a_day_beyond_12_shows_it():
    assert month_first(["3/13/2024", "3/1/2024"])
    assert not month_first(["3/12/2024", "3/1/2024"])
    assert not month_first(["3/13/2024", "13/3/2024"])
    assert not month_first(["13/3/2024"])
    assert date_in("3/1/2024", month_first=True) == dt.date(2024, 3, 1)
    assert session_order(["3/14/2024", "12/1/2023", "1/30/2024"]) == ["12/1/2023", "1/30/2024", "3/14/2024"]
    assert session_order(["14/3/2024", "1/12/2023", "2/4/2024"]) == ["1/12/2023", "14/3/2024", "2/4/2024"]
    assert session_order(["week 10", "week 9"]) == ["week 9", "week 10"]
    assert session_order(["10 Jan", "2 Feb", "9 Jan"]) == ["9 Jan", "10 Jan", "2 Feb"]


def test_one_date_written_two_ways_is_one_session():
    assert same_dates(["3/14/2024", "2024-03-02"]) == {"3/14/2024": "2024-03-14", "2024-03-02": "2024-03-02"}
    assert same_dates(["14/3/2024", "2/3/2024"]) == {}
    assert same_dates(["14/3/2024", "week 2"]) == {}
    sheet = pd.DataFrame({"session": ["14/03/2024", "2024-03-14", "2024-03-14"], "lot": ["a", "b", "c"],
                          "taster": ["elm", "elm", "elm"], "brisk": [5, 6, 7]})  # fmt: skip
    assert list(pst.read_scores(sheet).frame["session"].astype(str).unique()) == ["2024-03-14"]


def test_months_first_reach_the_order_of_sessions():
    sheet = pd.DataFrame({"session": ["3/14/2024", "12/1/2023", "1/30/2024"], "lot": list("abc"), "taster": "elm",
                          "brisk": [5, 6, 7]})  # fmt: skip
    found = pst.read_scores(sheet).sessions["session"].astype(str).tolist()
    assert found == ["12/1/2023", "1/30/2024", "3/14/2024"]


# ── keys, zeros, faults ──────────────────────────────────────────────────────────────────────────────────────────────


def test_lots_of_two_columns_are_told_apart_by_both():
    sheet = pd.DataFrame({"garden": ["a", "a", "ab"], "invoice": ["1", "2", "1"], "taster": "elm", "brisk": [5, 6, 7]})
    found = pst.read_scores(sheet, columns={"garden": "lot", "invoice": "lot"}).frame
    assert found["lot"].astype(str).tolist() == ["a / 1", "a / 2", "ab / 1"]


def zeros(who, marks):
    """Elm's marks `marks` on lots a to f; oak and fir scored all but those `who` left."""
    rows = [(lot, "elm", mark) for lot, mark in zip("abcdef", marks, strict=True)]
    rows += [(lot, name, 5 + k % 3) for name in ("larch", "beech") for k, lot in enumerate("abcdef") if lot in who]
    return pd.DataFrame(rows, columns=["lot", "taster", "brisk"])


def test_zeros_where_nobody_else_scored_are_asked_about_from_three_on():
    with pytest.raises(SheetError, match="zeros"):
        pst.read_scores(zeros("def", [0, 0, 0, 5, 6, 7]))
    assert (pst.read_scores(zeros("cdef", [0, 0, 4, 5, 6, 7])).frame["score"] == 0).sum() == 2
    assert (pst.read_scores(zeros("cdef", [0, 0, 0, 5, 6, 7])).frame["score"] == 0).sum() == 3  # others scored c
    assert (pst.read_scores(zeros("def", [0, 0, 0, 0.5, 6, 7])).frame["score"] == 0).sum() == 3  # the scale goes low


@pytest.mark.parametrize(("cell", "number"), [
    ("x", 1), ("no", 0), ("", NAN), ("0", 0), ("2", 1), ("0.5", 1), ("slight smoke", 1), ("clean", 0), (0, 0), (1, 1),
    ("?", 1), (None, NAN), (True, 1), (False, 0),
])  # fmt: skip
def test_a_fault_is_noticed_not_noticed_or_blank(cell, number):
    found = noticed([cell])
    np.testing.assert_array_equal(found.number, [number])
    assert found.kind[0] == (Kind.BLANK if np.isnan(number) else Kind.NUMBER)


def test_remarks_name_faults_but_not_those_they_deny():
    assert mentions("a trace of smoke; no must") == [("smoky", "trace of smoke")]
    assert mentions("free from taint, mouldy ?") == [("mouldy", "mouldy ?")]
    assert mentions("never smoky") == []
    assert mentions("not clean and a bit of a smoky") == [("smoky", "smoky")]


# ── what is inferred ─────────────────────────────────────────────────────────────────────────────────────────────────


@pytest.mark.parametrize(("scores", "step"), [
    ([6, 7], 1), ([6, 7.5], 0.5), ([6.25, 7], 0.25), ([6.1, 7], 0.1), ([6.05, 7], 0.05), ([6.01], 0.01),
    ([6.123], NAN), ([], NAN),
])  # fmt: skip
def test_a_step_is_the_largest_usual_one_that_divides_all(scores, step):
    np.testing.assert_equal(step_of(np.array(scores, float)), float(step))


def test_a_tolerance_is_a_twentieth_of_the_range_but_never_below_a_step():
    many = np.linspace(0, 10, 101)
    size, why = tolerance_of(many, 0.1, NAN, NAN)
    assert size == pytest.approx(0.05 * (np.percentile(many, 99) - np.percentile(many, 1)))
    assert "the range used, 0.1 to 9.9" in why
    assert tolerance_of(many[:99], 0.1, 0.0, 20.0) == (pytest.approx(1.0), "5 % of the scale, 0 to 20")
    assert tolerance_of(many[:100], 0.1, 0.0, 20.0)[1].startswith("5 % of the range used")
    assert tolerance_of(np.array([2.0, 8.0]), NAN, NAN, 10.0) == (pytest.approx(0.3), "5 % of the range seen, 2 to 8")
    assert tolerance_of(np.array([2.0, 8.0]), 0.5, NAN, NAN) == (0.5, "one step of the scale")
    assert tolerance_of(np.array([2.0, 12.0]), 0.5, NAN, NAN)[0] == pytest.approx(0.5)
