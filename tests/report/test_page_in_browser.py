"""The room's page in a real browser: quiet, reachable for everyone, nothing cut, nothing overlapping."""

import base64
import json
from pathlib import Path

import axe_core_python
import pytest
from browser import FONTS, at_width, in_font, needs_browser
from checks import fits
from invented import DESCRIPTORS, HARD, assessment, learning, review

from panelstats.report.pages.page import write_report
from panelstats.report.pages.taster import write_taster_page
from tests import known

pytestmark = needs_browser
MANY = [f"{name} {at}" for at in range(30) for name in HARD]
CASES = {
    "one lot, one taster": {"lots": 1, "tasters": 1, "descriptors": 1, "faults": 0},
    "two lots": {"lots": 2, "tasters": 1, "descriptors": 1, "faults": 1},
    "a bench": {"lots": 12, "tasters": 4, "descriptors": 16, "classes": 2},
    "a full bench": {"lots": 40, "tasters": 12, "descriptors": 16, "classes": 2, "faults": 3},
    "a day": {"lots": 300, "tasters": 1, "descriptors": 5, "classes": 3, "faults": 15},
    "no interval known": {"lots": 60, "tasters": 1, "descriptors": 3, "unknown": True},
    "hard names": {
        "lots": 11,
        "tasters": 3,
        "names": HARD,
        "taster_names": ["<script>alert(1)</script>", "שקד", "高橋"],
    },
    "the row": None,
    "many hard names": {"lots": 300, "tasters": 2, "descriptors": 2, "names": MANY},
}


@pytest.fixture(scope="module", params=CASES, ids=list(CASES))
def page(request, tmp_path_factory):
    found = known.session("row.xlsx") if CASES[request.param] is None else review(**CASES[request.param])
    return write_report(found, tmp_path_factory.mktemp("page") / "room.html")


@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_runs_over_the_side_and_no_words_overlap(driver, page, width):
    fits(driver, page, width)


def test_every_font_is_really_drawn(driver, tmp_path):
    at_width(driver, write_report(review(lots=2, descriptors=1), tmp_path / "room.html"), 1280)
    widths = []
    for family in FONTS:
        in_font(driver, family)
        widths.append(driver.execute_script("return document.querySelector('.ticks text').getBBox().width"))
    assert len(set(widths)) == len(FONTS)


def test_every_figure_has_its_words(driver, page):
    at_width(driver, page, 1280)
    unnamed = """return [...document.querySelectorAll('figure svg[role=img]')].filter(svg =>
        !svg.getAttribute('aria-labelledby').split(' ').every(id => document.getElementById(id)?.textContent)).length"""
    assert driver.execute_script(unnamed) == 0


def test_the_console_and_the_network_stay_silent(driver, page):
    driver.get_log("browser")
    driver.get_log("performance")
    at_width(driver, page, 1280)
    assert driver.get_log("browser") == []
    messages = [json.loads(entry["message"])["message"] for entry in driver.get_log("performance")]
    sent = {m["params"]["request"]["url"] for m in messages if m["method"] == "Network.requestWillBeSent"}
    assert sent == {page.as_uri()}


def violations(driver, *, leave_out=()):
    """What axe-core objects to; it looks at every cell alone, so tables are left out where they are long."""
    driver.execute_script((Path(axe_core_python.__file__).parent / "axe.min.js").read_text())
    found = driver.execute_async_script(
        "axe.run({exclude: arguments[0]}, {resultTypes: ['violations']}).then(found => arguments[1](found.violations))",
        [[each] for each in leave_out],
    )
    return [(each["id"], each["nodes"][0]["html"][:200]) for each in found]


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_the_accessibility_checker_finds_no_violation(driver, tmp_path, dark):
    made = review(lots=8, tasters=3, descriptors=3, classes=2, names=HARD)
    at_width(driver, write_report(made, tmp_path / "room.html"), 1280, dark=dark)
    assert violations(driver, leave_out=["tbody"]) == []


def test_the_accessibility_checker_finds_none_in_open_tables(driver, tmp_path):
    at_width(driver, write_report(review(lots=2, tasters=2, descriptors=1, faults=1), tmp_path / "room.html"), 390)
    driver.execute_script("document.querySelectorAll('details').forEach(each => each.open = true)")
    assert violations(driver) == []


SHEETS = {
    "a taster": (assessment(descriptors=tuple(HARD)), "larch"),
    "sixteen descriptors": (assessment(descriptors=tuple(name for _, name in DESCRIPTORS)), "alder"),
    "a trainee": (learning(descriptors=tuple(HARD)), "spindle"),
}


@pytest.mark.parametrize("case", SHEETS)
def test_the_sheet_of_a_taster_is_quiet_and_reachable(driver, tmp_path, case):
    path = write_taster_page(*SHEETS[case], tmp_path / "sheet.html")
    driver.get_log("browser")
    for width in (390, 1280):
        fits(driver, path, width)
    assert driver.get_log("browser") == []
    assert violations(driver) == []


def test_the_sheet_of_a_taster_prints_on_one_leaf_and_its_method_on_a_second(driver, tmp_path):
    at_width(driver, write_taster_page(*SHEETS["sixteen descriptors"], tmp_path / "sheet.html"), 1280)
    for paper in ((8.27, 11.69), (8.5, 11.0)):  # A4 and Letter, inches
        printed = driver.execute_cdp_cmd("Page.printToPDF", {"paperWidth": paper[0], "paperHeight": paper[1]})
        assert base64.b64decode(printed["data"]).count(b"/Type /Page\n") == 2
