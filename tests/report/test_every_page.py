"""Every kind of page: plain short sentences first; on a phone nothing over the side; the checker silent."""

from functools import cache
from pathlib import Path

import axe_core_python
import pytest
from browser import at_width, needs_browser
from checks import UNNAMED, fits, keyed, printed_whole, stays_silent
from screens import faults

from tests.report import everypage

SMALLEST = 9.0  # pixels of the smallest words on a phone (ours)
# Words of drawings smaller than that as they are shown, and words of the page.
SMALL = """
const least = arguments[0], found = [];
document.querySelectorAll('svg text').forEach(text => {
  const svg = text.ownerSVGElement, box = svg.getBoundingClientRect();
  if (!box.width || !svg.viewBox.baseVal.width) return;
  const size = parseFloat(getComputedStyle(text).fontSize) * box.width / svg.viewBox.baseVal.width;
  if (size < least) found.push([text.textContent, size]); });
document.querySelectorAll('main *, footer *').forEach(each => {
  if (each.closest('svg') || !each.getBoundingClientRect().width || !each.innerText) return;
  if (parseFloat(getComputedStyle(each).fontSize) < least) found.push([each.innerText.slice(0, 60)]); });
return found.slice(0, 5);
"""
# What is folded away is left out: its tables are looked at cell by cell, open, on small pages elsewhere.
CHECK = """
document.querySelectorAll('details').forEach(each => each.remove());
axe.run(document, {resultTypes: ['violations']}).then(found => arguments[0](found.violations));
"""


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """A page of every kind, by its name."""
    folder = tmp_path_factory.mktemp("pages")

    @cache
    def page(name):
        path = folder / f"{name}.html"
        path.write_bytes(everypage.page(name))
        return path

    return page


KINDS = list(everypage.REVIEWS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_first_screen_speaks_in_short_plain_sentences_of_one_interval_each(pages, kind):
    assert faults(pages(kind).read_text(encoding="utf-8")) == []


@needs_browser
@pytest.mark.parametrize("kind", KINDS)
def test_on_a_phone_nothing_runs_over_the_side_and_no_word_is_too_small(driver, pages, kind):
    fits(driver, pages(kind), 390)
    assert driver.execute_script(SMALL, SMALLEST) == []


@needs_browser
@pytest.mark.parametrize("kind", KINDS)
def test_the_accessibility_checker_finds_no_violation_by_day_or_night(driver, pages, kind):
    for width, dark in ((1280, False), (390, True)):
        at_width(driver, pages(kind), width, dark=dark)
        driver.execute_script((Path(axe_core_python.__file__).parent / "axe.min.js").read_text())
        found = driver.execute_async_script(CHECK)
        assert [(each["id"], each["nodes"][0]["html"][:200]) for each in found] == []


@needs_browser
@pytest.mark.parametrize("kind", KINDS)
def test_it_is_silent_has_words_for_its_pictures_and_takes_the_keyboard(driver, pages, kind):
    stays_silent(driver, pages(kind))
    assert driver.execute_script(UNNAMED) == 0
    keyed(driver)


@needs_browser
@pytest.mark.parametrize("kind", KINDS)
def test_printed_nothing_is_cut_off(driver, pages, kind):
    printed_whole(driver, pages(kind))
