"""Scales told by headings: how people write them (common practice), and what is none."""

from __future__ import annotations

from math import isnan, nan

import pandas as pd
import pytest

import panelstats as pst
from panelstats.sheets.content.limits import limits_alone, limits_beside, span_of, with_line_of_limits, without_limits

from .test_messy import found


def plainly(limits):
    return limits and tuple(None if isnan(end) else end for end in limits)


@pytest.mark.parametrize(("text", "limits"), [
    ("1-10", (1, 10)), ("0 – 5", (0, 5)), ("[1..9]", (1, 9)), ("1 to 7", (1, 7)), ("1 bis 10", (1, 10)),
    ("(scale 0-10)", (0, 10)), ("0-20 points", (0, 20)), ("/10", (None, 10)), ("out of 20", (None, 20)),
    ("max. 10", (None, 10)), ("0,5-10", (0.5, 10)), ("0-1000", (0, 1000)), ("0-2", (0, 2)),
    ("7", None), ("1-2", None), ("5-5", None), ("10-1", None), ("0-1001", None), ("2025-2026", None), ("/1", None),
    ("8/10", None), ("", None), ("1-10-20", None), ("good", None),
])  # fmt: skip
def test_a_text_that_tells_a_scale_and_nothing_else(text, limits):
    assert plainly(limits_alone(text)) == limits


@pytest.mark.parametrize(("label", "name", "limits"), [
    ("Brisk (1-10)", "Brisk", (1, 10)), ("Liquor: body [0..5]", "Liquor: body", (0, 5)),
    ("Colour /10", "Colour", (None, 10)), ("Colour/10", "Colour", (None, 10)),
    ("Taste out of 50", "Taste", (None, 50)), ("Point, max 20", "Point", (None, 20)),
    ("Körper (1–10)", "Körper", (1, 10)), ("Brisk (1-10 points)", "Brisk", (1, 10)), ("Brisk - (0-5)", "Brisk", (0, 5)),
])  # fmt: skip
def test_a_heading_that_tells_the_scale_of_its_word(label, name, limits):
    told = limits_beside(label)
    assert (told[0], plainly(told[1])) == (name, limits)
    assert without_limits(label) == name


@pytest.mark.parametrize("label", [
    "Brisk", "Lot 1-10", "Pots (1-2)", "Season (2025-2026)", "12/10", "(1-10)", "Aroma (20)", "Brisk 1", "Elm/Yew",
])  # fmt: skip
def test_a_heading_that_tells_no_scale(label):
    assert limits_beside(label) is None
    assert without_limits(label) == label


@pytest.mark.parametrize(("line", "names"), [
    (["", "1-10", "0-5", "/20"], ["lot", "a (1-10)", "b (0-5)", "c (/20)"]),
    (["Scale", "(1-10)", "", "1-10"], ["lot", "a (1-10)", "b", "c (1-10)"]),
    (["", "1-10", "", ""], None), (["401", "1-10", "1-10", "1-10"], None), (["", "1-10", "7", "1-10"], None),
    (["", "4-7", "5-8", "4-9"], None),
    (["", "4-9", "1-10", "0-5"], None), (["", "2-9", "2-9", "2-9"], None),
    (["", "", "", ""], None), (["Elm", "0-5", "0-5", "0-5"], None),
])  # fmt: skip
def test_a_line_below_the_headings_tells_scales_where_it_holds_them_and_nothing_else(line, names):
    assert with_line_of_limits(["lot", "a", "b", "c"], line, [1, 2, 3]) == names


def test_the_ends_of_a_scale_that_are_known_are_told():
    assert [span_of(1, 10), span_of(nan, 10), span_of(1, nan)] == ["1 to 10", "up to 10", "from 1"]


def sheet(**columns):
    return pd.DataFrame({"lot": ["401", "402"], "taster": "elm", **columns})


def read_limits(table, room=None):
    found = pst.read_scores(table, room=room).descriptors
    return {d: plainly(ends) for d, *ends in found[["descriptor", "low", "high"]].itertuples(index=False)}


def test_what_the_room_says_wins_over_the_heading():
    table = sheet(**{"brisk (1-10)": [4, 6]})
    assert read_limits(table) == {"brisk": (1, 10)}
    for low, high, ends in ((0, 9, (0, 9)), (nan, 9, (None, 9)), (nan, nan, (1, 10))):
        assert read_limits(
            table, {"descriptors": pd.DataFrame({"descriptor": ["brisk"], "low": low, "high": high})}
        ) == {"brisk": ends}
    spelt = {"descriptors": pd.DataFrame({"descriptor": ["brisk (1-10)"], "low": 0, "high": 12})}
    assert read_limits(table, spelt) == {"brisk (1-10)": (0, 12)}
    assert pst.read_scores(table, columns={"brisk (1-10)": "grip"}).descriptors["descriptor"].tolist() == ["grip"]


def test_headings_that_would_become_one_stay_two():
    assert read_limits(sheet(**{"brisk (1-10)": [4, 6], "brisk": [5, 7]})) == {
        "brisk (1-10)": (None, None), "brisk": (None, None),
    }  # fmt: skip
    assert set(read_limits(sheet(**{"brisk (1-10)": [4, 6], "brisk (0-5)": [3, 4]}))) == {"brisk (1-10)", "brisk (0-5)"}


def test_a_mark_beyond_the_heading_is_asked_about():
    with pytest.raises(pst.SheetError, match="outside the scale"):
        pst.read_scores(sheet(**{"brisk (1-10)": [4, 11]}))
    with pytest.raises(pst.SheetError, match="outside the scale"):
        pst.read_scores(sheet(**{"brisk /10": [4, 11]}))
    assert len(pst.read_scores(sheet(**{"brisk /10": [0, 10]})).frame) == 2


@pytest.mark.parametrize("told", ["1-10", "/10"])
def test_a_line_of_scales_reads_the_same_beside_the_room_that_was_started_from_it(told, tmp_path):
    path = tmp_path / "week.csv"
    path.write_text(f"lot,taster,Brisk,Body\n,,{told},{told}\n411,elm,5,6\n412,elm,6,5\n411,yew,5,7\n412,yew,4,5\n")
    before = pst.read_scores(path)
    pst.write_room(path)
    after = pst.read_scores(path)
    assert found(after) == found(before)
    assert after.descriptors["descriptor"].tolist() == ["Brisk", "Body"]
    assert after.descriptors["high"].tolist() == [10, 10]
