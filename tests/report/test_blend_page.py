"""The page of blends beside their standard: what it must say, and what it must hold in a real browser."""

import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from blends import HARD, match, scores, track
from browser import needs_browser
from checks import figures_have_words, fits, stays_silent, violations

import panelstats as pst
from panelstats.errors import PanelError
from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.report.pages.blend import blend_panels
from panelstats.report.pages.brief import brief
from panelstats.report.pages.page import page_of, write_report
from panelstats.result import Act, Verdict
from panelstats.review import Review


def reviewed(match, *, scores=None, tracking=None, faults=None, tests=()):
    """A review of blends that holds these results."""
    named = [
        ("Blends", match),
        ("Weeks", tracking),
        ("Faults", faults),
        *((f"Test {n}", t) for n, t in enumerate(tests)),
    ]
    results = tuple((title, result) for title, result in named if result is not None)
    title = f"{' and '.join(dict.fromkeys(match.table['lot']))} against {match.standard}"
    return Review(title, "Do they match the standard?", results, scores, "" if scores is None else "week 31")


def blend_page(*given, **more):
    return page_of(reviewed(*given, **more)).decode()


MANY_WEEKS = "a session with a long name of its own, number {}"


def test_every_row_of_the_picture_is_in_its_words():
    found = match(descriptors=16)
    for panel, lot in zip(blend_panels(found), found.summary["lot"], strict=True):
        for row in found.table[found.table["lot"] == lot].to_dict("records"):
            told = re.search(rf"\b{row['descriptor']} ([+−]?[\d.]+) \(", panel.words)[1].replace("−", "-")
            assert float(told) == pytest.approx(row["difference"], abs=0.0501)  # one decimal at least
        assert panel.words in str(panel.drawing.svg)


def test_a_mark_stands_for_each_call():
    found = match(descriptors=16, seed=3)
    counted = found.table["call"].value_counts()
    svg = "".join(str(panel.drawing.svg) for panel in blend_panels(found))
    assert svg.count('class="within"') == counted["match"]
    assert svg.count('class="outside"') == counted["differ"]
    assert counted["cannot tell"] > 0  # and nothing stands at the estimate of what cannot be told


def test_the_band_is_as_wide_as_the_tolerance():
    found = match(lots=("B1",), descriptors=1, tolerance=1.0)
    (panel,) = blend_panels(found)
    svg = str(panel.drawing.svg)
    band = re.search(r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', svg)
    ticks = dict(re.findall(r'<text x="([\d.]+)" y="[\d.]+">([+−\d.]+)</text>', svg))
    at = {float(words.replace("−", "-")): float(x) for x, words in ticks.items()}
    assert float(band[1]) == pytest.approx(at[-1.0], abs=0.11)  # coordinates are rounded to a tenth
    assert float(band[1]) + float(band[2]) == pytest.approx(at[1.0], abs=0.21)


def test_the_thick_part_is_the_interval_that_a_match_must_hold_within():
    found = match(lots=("B1",), descriptors=1)
    row = found.table.iloc[0]
    svg = str(blend_panels(found)[0].drawing.svg)
    drawn = [re.search(rf'd="M([\d.]+) [\d.]+H([\d.]+)[^"]*" class="{kind}', svg) for kind in ("inner", "interval")]
    thick, thin = (float(each[2]) - float(each[1]) for each in drawn)
    wanted = (row["within_high"] - row["within_low"]) / (row["high"] - row["low"])
    assert thick / thin == pytest.approx(wanted, abs=0.02)  # coordinates are rounded to a tenth


def test_what_was_found_stands_before_what_a_triangle_cannot_settle():
    plan = pst.answers_needed("triangle", within_share=0.3, answers=9)
    page = blend_page(match(), tests=[plan])
    assert page.index("descriptors.") < page.index("cannot settle this with 9 answers")
    assert page.count("cannot settle this with 9 answers") == 1


def test_a_fault_stands_before_everything():
    fault = Verdict("Was a fault noticed?", "B1", "noticed", "B1: smoky, 1 of 4.", {}, "Taste again.", Act.NOW)
    faults = review_faults(fault)
    page = blend_page(match(), faults=faults)
    assert page.index("smoky, 1 of 4") < page.index('id="picture"')


def review_faults(*verdicts):
    return FaultsNoticed(verdicts=verdicts, method="As invented.", table=pd.DataFrame())


def test_the_weeks_stand_beside_the_blends_and_what_moved_stands_first():
    page = blend_page(match(), tracking=track())
    picture = page[page.index('id="picture"') : page.index('id="verdicts"')].lower()
    assert "the weeks against the master" in picture
    assert picture.index("left the standard") < picture.index("on the standard")
    assert "since 2026-15" in picture


def test_it_ends_with_what_to_do_next_each_step_once():
    page = blend_page(match(lots=("B1", "B2", "B3"), unknown=True), tracking=track())
    first, after = page[: page.index('id="verdicts"')], page[page.index('id="next"') :]
    for step in ("6 pots of each would settle it.", "Correct the blend against the master itself."):
        assert (first.count(step), page.count(step)) == (1, 1 + after.count(step))
    assert after.count("6 pots of each would settle it.") == 1
    assert page.index('id="verdicts"') < page.index('id="next"')


def test_no_difference_found_is_never_called_the_same():
    text = re.sub(r"<[^>]+>", " ", blend_page(match(unknown=True), scores=scores()))
    assert "cannot tell" in text
    assert not re.search(r"\b(identical|equal|no difference between)\b|are the same", text)
    assert "not the same as no difference" in text


def test_names_from_sheets_are_text():
    page = blend_page(match(lots=tuple(HARD), standard="<i>S</i>"), scores=scores(tuple(HARD)), tracking=track())
    assert "<b>5" not in page
    assert "&lt;b&gt;5 &amp; 6&lt;/b&gt;" in page
    assert "<i>S" not in page


def test_same_match_same_bytes_and_a_strangers_page_is_left_alone(tmp_path):
    made = [
        write_report(reviewed(match(), scores=scores(), tracking=track()), tmp_path / f"{n}.html").read_bytes()
        for n in "ab"
    ]
    assert made[0] == made[1]
    assert b"Input 3f9a0c1d2b" in made[0].splitlines()[-3]
    (tmp_path / "mine.html").write_text("mine")
    with pytest.raises(PanelError):
        write_report(match(), tmp_path / "mine.html")
    assert (tmp_path / "mine.html").read_text() == "mine"


def test_nothing_known_is_drawn_as_nothing():
    found = match(unknown=True)
    found.table["difference"] = np.nan
    (panel, _) = blend_panels(found)
    assert 'class="interval' not in str(panel.drawing.svg)
    assert "no estimate" in panel.words


CASES = {
    "one blend": {"match": match(lots=("B1",), descriptors=1)},
    "two blends and their scores": {"match": match(descriptors=16), "scores": scores(descriptors=16)},
    "a season": {"match": match(lots=("B34",), descriptors=16), "tracking": track(weeks=34, descriptors=16)},
    "a short season": {"match": match(lots=("B6",)), "tracking": track(weeks=6)},
    "two weeks": {"match": match(lots=("B2",)), "tracking": track(weeks=2)},
    "long weeks": {"match": match(lots=("B2",)), "tracking": track(weeks=9, session=MANY_WEEKS)},
    "hard names": {"match": match(lots=tuple(HARD)), "scores": scores(tuple(HARD))},
    "no interval known": {"match": match(unknown=True)},
    "with tests": {
        "match": match(),
        "tests": [
            pst.answers_needed("triangle", within_share=0.3, answers=9),
            pst.match_test("triangle", correct=20, answers=40, within_share=0.3, subject="S with B1"),
        ],
    },
}


@needs_browser
@pytest.mark.parametrize("case", CASES)
def test_in_a_browser_it_fits_is_silent_and_has_its_words(driver, tmp_path, case):
    given = dict(CASES[case])
    page = write_report(reviewed(given.pop("match"), **given), tmp_path / "page.html")
    fits(driver, page, 390)
    fits(driver, page, 1280)
    figures_have_words(driver, page)
    stays_silent(driver, page)


@needs_browser
@pytest.mark.parametrize(("case", "dark"), [("with tests", False), ("a short season", True), ("hard names", False)])
def test_the_accessibility_checker_finds_no_violation(driver, tmp_path, case, dark):
    given = dict(CASES[case])
    page = write_report(reviewed(given.pop("match"), **given), tmp_path / "page.html")
    assert violations(driver, page, dark=dark) == []


def test_a_blend_that_creeps_is_not_said_to_have_left():
    """The first line says no more than the call: out of the tolerance, or on its way."""
    moved = track()
    creeping = replace(moved, summary=moved.summary.replace({"call": {"left the standard": "creeping"}}))
    lines = {name: brief(reviewed(match(), tracking=each))[0].sentence for name, each in
             (("left", moved), ("creeping", creeping))}  # fmt: skip
    assert lines["left"].startswith("left the standard S, now +1.")
    assert lines["creeping"].startswith("is creeping from the standard S, now +1.")


def test_of_words_that_have_not_moved_the_weeks_say_which_are_on_the_standard_and_which_are_open():
    def told(weeks):
        return [line for line in brief(reviewed(match(), tracking=track(weeks=weeks))) if "week" in line.subject]

    (long,), (short,) = told(30), told(2)
    names = [str(name) for name in track().summary["descriptor"]]
    assert (long.subject, long.sentence) == ("30 weeks", f"on S: {names[1]}, {names[2]} and {names[3]}")
    assert (short.subject, short.sentence) == ("2 weeks", f"not settled: {', '.join(names[:3])} and {names[3]}")
