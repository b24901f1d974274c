"""The letter to a garden: what it must say, and what it must hold in a real browser."""

import re

import numpy as np
import pandas as pd
import pytest
from browser import needs_browser
from checks import figures_have_words, fits, stays_silent, violations

import panelstats as pst
from panelstats.report.pages.garden import panels_of
from panelstats.report.pages.page import page_of, write_report

TELLS = {"brisk": "firing", "colour": "fermenting", "even": "sorting", "flavour": ""}
HARD = "<b>5 & 6</b> של"


def reviewed(*, garden="Hill", weeks=6, own=4, dated=True, tells=True, fault=True, changed=True, seed=1):
    """An invented garden whose firing changes half way, one lot smoky."""
    rng = np.random.default_rng(seed)
    lots = pd.DataFrame({"lot": [f"L{n:03d}" for n in range(weeks * 3 * own)]})
    n = np.arange(len(lots))
    lots["garden"] = np.where(n % 3 == 0, garden, "Flats")
    if dated:
        lots["made"] = (pd.Timestamp("2026-01-05") + pd.to_timedelta(7 * (n // (3 * own)) + n % 5, "D")).strftime(
            "%Y-%m-%d"
        )
        lots["firing"] = np.where(changed & (lots["made"] >= "2026-01-24"), "100", "90")
    sheet = pd.DataFrame({"lot": np.repeat(lots["lot"], 2), "taster": ["elm", "yew"] * len(lots)})
    for name in TELLS:
        sheet[name] = np.round(np.repeat(rng.normal(5, 1, len(lots)), 2) * 2) / 2 + rng.integers(0, 2, len(sheet)) / 2
    sheet["remarks"] = [
        "smoky" if fault and at == 0 else "flat & thin" if at % 7 == 0 else "" for at in range(len(sheet))
    ]
    register = pd.DataFrame({"descriptor": list(TELLS), "stage": ["liquor", "liquor", "dry leaf", "liquor"],
                             "tolerance": 0.5, "wanted": "more"})  # fmt: skip
    if tells:
        register["tells"] = list(TELLS.values())
    scores = pst.read_scores(sheet, room={"lots": lots, "descriptors": register})
    return pst.review_garden(scores, garden)


@pytest.fixture(scope="module")
def review():
    return reviewed()


def text_of(review):
    return re.sub(r"<[^>]+>", " ", page_of(review).decode().split("</style>")[1])


def test_faults_stand_first_then_what_to_look_at(review):
    page = page_of(review).decode()
    assert page.index("smoky") < page.index('id="picture"')
    assert page.index("First the faults: L000") < page.index('id="picture"')


def test_panels_stand_by_the_step_of_making_each_tells_of(review):
    panels = panels_of(review.find(pst.GardenLetter), set())
    assert [(panel.step, panel.name) for panel in panels] == [
        ("fermenting", "colour"), ("firing", "brisk"), ("sorting", "even"), ("not one step alone", "flavour")
    ]  # fmt: skip


def test_without_a_mapping_of_their_own_panels_stand_by_stage():
    steps = [panel.step for panel in panels_of(reviewed(tells=False).find(pst.GardenLetter), set())]
    assert steps == ["liquor", "liquor", "liquor", "dry leaf"]


def test_every_lot_is_drawn_faulty_ones_as_faults_and_the_change_is_marked(review):
    letter = review.find(pst.GardenLetter)
    for panel in panels_of(letter, {"L000"}):
        svg = str(panel.drawing.svg)
        lots = int((letter.lots["descriptor"] == panel.name).sum())
        assert svg.count('class="dot"') == lots - 1
        assert svg.count('class="fault"') == 1
        assert svg.count('class="changed"') == 1
        assert "firing 100" in svg
        assert f"{lots} lots made from" in panel.words


def test_where_a_lot_has_no_day_lots_stand_one_after_the_other_and_nobody_is_dated_for_it():
    """Half of the sessions named by their day, half by a word: a place on a calendar would be made up."""
    rng = np.random.default_rng(2)
    names = ["2031-03-04", "2031-03-11", "spring", "late spring", "2031-03-25"]
    rows = [
        (name, f"{at}{lot}", taster, 5 + rng.normal()) for at, name in enumerate(names) for lot in range(8)
        for taster in ("elm", "yew", "larch")
    ]  # fmt: skip
    sheet = pd.DataFrame(rows, columns=["session", "lot", "taster", "brisk"])
    lots = pd.DataFrame({"lot": sheet["lot"].unique(), "garden": ["Hill", "Flats"] * 20})
    review = pst.review_garden(pst.read_scores(sheet, room={"lots": lots}), "Hill")
    assert page_of(review)
    (panel,) = panels_of(review.find(pst.GardenLetter), set())
    assert "2031-03-04" not in str(panel.drawing.svg)


def test_remarks_are_quoted_with_who_said_them(review):
    assert re.search(r"“flat & thin”\s+yew of L\d{3}".replace("&", "&amp;"), text_of(review))


def test_no_sentence_says_that_a_make_caused_anything(review):
    assert not re.search(r"\bcaus(ed|es)\b(?! by it)", text_of(review).split("tables and method")[0])


def test_names_from_sheets_are_text():
    page = page_of(reviewed(garden=HARD)).decode()
    assert "<b>5" not in page
    assert "&lt;b&gt;5 &amp; 6&lt;/b&gt;" in page


CASES = {
    "six weeks": {},
    "two weeks": {"weeks": 2, "fault": False},
    "no days": {"dated": False},
    "hard name": {"garden": HARD, "tells": False},
}


@needs_browser
@pytest.mark.parametrize("case", CASES)
def test_in_a_browser_it_fits_is_silent_and_has_its_words(driver, tmp_path, case):
    page = write_report(reviewed(**CASES[case]), tmp_path / "page.html")
    fits(driver, page, 390)
    fits(driver, page, 1280)
    figures_have_words(driver, page)
    stays_silent(driver, page)


@needs_browser
@pytest.mark.parametrize(("case", "dark"), [("six weeks", False), ("no days", True)])
def test_the_accessibility_checker_finds_no_violation(driver, tmp_path, case, dark):
    page = write_report(reviewed(**CASES[case]), tmp_path / "page.html")
    assert violations(driver, page, dark=dark) == []


@needs_browser
def test_it_prints_on_one_sheet_of_paper(driver, tmp_path):
    """A4 in inches: ISO 216."""
    import base64

    page = write_report(reviewed(), tmp_path / "page.html")
    driver.get(page.as_uri())
    asked = {"paperWidth": 8.27, "paperHeight": 11.69, "preferCSSPageSize": False}
    printed = base64.b64decode(driver.execute_cdp_cmd("Page.printToPDF", asked)["data"])
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
