"""The page of difference and match tests: what it must say, and what it must hold in a real browser."""

import re

import pandas as pd
import pytest
from browser import needs_browser
from checks import figures_have_words, fits, stays_silent, violations
from invented import HARD

import panelstats as pst
from panelstats.report.pages.differ import pictures, test_rows
from panelstats.report.pages.page import page_of, write_report
from panelstats.result import Result
from panelstats.review import Review

rows_of = test_rows
del test_rows  # not a test: pytest must not collect it


def reviewed(given, source=""):
    """A review that holds these results."""
    results = [given] if isinstance(given, Result) else given
    return Review("B1 and others", "Do they differ?", tuple((f"Test {n}", one) for n, one in enumerate(results)),
                  source=source)  # fmt: skip


SHEET = pd.DataFrame({
    "session": "week 31", "test": ["B1 with S"] * 8 + ["B2 with S"] * 8, "kind": "triangle",
    "taster": list("abcdefgh") * 2, "order": ["AAB", "ABA", "BAA", "ABB", "BAB", "BBA", "AAB", "ABA"] * 2,
    "answer": [3, 2, 1, 1, 2, 3, 1, None, 1, 2, 3, 1, 1, 3, 1, 2],
})  # fmt: skip


def test_there_is_a_row_for_each_test():
    rows = rows_of([pst.judge_answers(SHEET), pst.difference_test("duo-trio", correct=[8, 12], answers=12)])
    assert [row.name for row in rows] == ["B1 with S", "B2 with S", "test 1", "test 2"]
    assert [row.line.note for row in rows] == ["differ", "cannot tell", "cannot tell", "differ"]


def test_the_picture_shows_the_share_who_can_tell_with_its_limits():
    found = pst.difference_test("triangle", correct=29, answers=66)
    ((_, [(row, drawing)]),) = pictures(rows_of([found]))
    told = found.share_who_can_tell
    assert (row.line.value, row.line.low, row.line.high) == (told.value, told.low, told.high)
    start, end = map(float, re.search(r'd="M([\d.]+) [\d.]+H([\d.]+)" class="interval', str(drawing.svg)).groups())
    ticks = {words: float(x) for x, words in re.findall(r'<text x="([\d.]+)" y="[\d.]+">([^<]+)<', str(drawing.svg))}
    whole = ticks["100 %"] - ticks["0 %"]
    assert (start - ticks["0 %"]) / whole == pytest.approx(told.low, abs=0.001)
    assert (end - ticks["0 %"]) / whole == pytest.approx(told.high, abs=0.001)


def test_the_tolerance_is_a_band_only_where_one_was_declared():
    with_one = pst.match_test("triangle", correct=22, answers=60, within_share=0.3)
    assert 'class="band"' in str(pictures(rows_of([with_one]))[0].rows[0][1].svg)
    without = pst.difference_test("triangle", correct=22, answers=60)
    assert 'class="band"' not in str(pictures(rows_of([without]))[0].rows[0][1].svg)


def test_paired_tests_and_tests_without_chance_have_scales_of_their_own():
    results = [
        pst.difference_test("triangle", correct=20, answers=40),
        pst.difference_test("paired", correct=8, answers=40),
        pst.match_test("a-not-a", hits=20, n_a=30, false=10, n_not_a=30, within_d=1.0),
    ]
    scales = [picture.scale for picture in pictures(rows_of(results))]
    assert len(set(scales)) == 3
    paired = rows_of(results)[1]
    assert "60 % favour the other" in paired.size
    assert paired.line.mark.value == "lower"


def test_d_prime_is_told_and_never_a_finite_stand_in_for_all_right():
    (row,) = rows_of([pst.difference_test("triangle", correct=12, answers=12)])
    assert "no finite d′, at least" in row.size
    (row,) = rows_of([pst.difference_test("triangle", correct=0, answers=0)])
    assert "no d′ can be given" in row.size
    assert row.line.note == "cannot tell"


def test_what_cannot_be_settled_stands_before_what_is_open_and_the_next_step_after_the_verdicts():
    plan = pst.answers_needed("triangle", within_share=0.3, answers=9)
    test = pst.match_test("triangle", correct=4, answers=9, within_share=0.3)
    page = page_of(reviewed([plan, test])).decode()
    assert page.index("cannot settle this with 9 answers") < page.index("Cannot tell yet")
    assert page.index('id="verdicts"') < page.index('id="next"') < page.index("9 fresh sittings of 9 tasters")


def test_names_are_text_and_bytes_repeat(tmp_path):
    tests = [pst.difference_test("triangle", correct=4, answers=9, subject=name) for name in HARD]
    made = [write_report(reviewed(tests, "a <i>file</i>"), tmp_path / f"{name}.html").read_bytes() for name in "ab"]
    assert made[0] == made[1]
    page = made[0].decode()
    assert "<b>5" not in page
    assert "<i>file" not in page
    assert "&lt;b&gt;5 &amp; 6&lt;/b&gt;" in page
    assert "Input a &lt;i&gt;file" in page.splitlines()[-3]


CASES = {
    "one": pst.difference_test("triangle", correct=29, answers=66),
    "a sheet": pst.judge_answers(SHEET, within_share=0.3),
    "several": [
        pst.answers_needed("triangle", within_share=0.3, answers=9),
        pst.match_test("paired", correct=10, answers=40, within_share=0.3, subject="B1"),
        pst.match_test("a-not-a", hits=20, n_a=30, false=10, n_not_a=30, within_d=1.0, subject="B2"),
        pst.difference_test("same-different", hits=20, n_a=20, false=0, n_not_a=20, subject="B3"),
        pst.difference_test("duo-trio", correct=[0, 8, 12], answers=12),
        pst.difference_test("triangle", correct=0, answers=0, subject="nothing"),
    ],
    "hard names": [pst.difference_test("triangle", correct=4, answers=9, subject=name) for name in HARD],
}


@needs_browser
@pytest.mark.parametrize("case", CASES)
def test_in_a_browser_it_fits_is_silent_and_has_its_words(driver, tmp_path, case):
    page = write_report(reviewed(CASES[case]), tmp_path / "page.html")
    fits(driver, page, 390)
    fits(driver, page, 1280)
    figures_have_words(driver, page)
    stays_silent(driver, page)


@needs_browser
@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_accessibility_checker_finds_no_violation(driver, tmp_path, dark):
    page = write_report(reviewed(CASES["several"]), tmp_path / "page.html")
    assert violations(driver, page, dark=dark) == []
