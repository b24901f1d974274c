"""What every page must hold in a real browser."""

import json
from pathlib import Path

import axe_core_python
from browser import FONTS, TEXTS, at_width, in_font

UNNAMED = """
return [...document.querySelectorAll('svg[role=img]')].filter(svg => !(svg.getAttribute('aria-labelledby') || '')
    .split(' ').every(id => document.getElementById(id)?.textContent)).length"""


def fits(driver, page, width):
    """Nothing runs over the side, no words of a drawing overlap or leave it, in any font there is."""
    at_width(driver, page, width)
    for family in ["", *FONTS]:  # first the one that the page chooses
        if family:
            in_font(driver, family)
        found = driver.execute_script("return document.documentElement.scrollWidth"), driver.execute_script(TEXTS)
        assert found[0] <= width, (family, *found)  # this file is not rewritten by pytest
        assert not found[1], (family, *found)


def figures_have_words(driver, page):
    at_width(driver, page, 1280)
    assert driver.execute_script("return document.querySelectorAll('svg[role=img]').length") > 0
    assert driver.execute_script(UNNAMED) == 0
    doubled = "const ids = [...document.querySelectorAll('[id]')].map(e => e.id); return ids.length - new Set(ids).size"
    assert driver.execute_script(doubled) == 0


def stays_silent(driver, page):
    """Nothing on the console, nothing asked of the network."""
    driver.get_log("browser")
    driver.get_log("performance")
    at_width(driver, page, 1280)
    assert driver.get_log("browser") == []
    messages = [json.loads(entry["message"])["message"] for entry in driver.get_log("performance")]
    sent = {m["params"]["request"]["url"] for m in messages if m["method"] == "Network.requestWillBeSent"}
    assert sent == {page.as_uri()}


def violations(driver, page, *, width=1280, dark=False):
    """What axe-core objects to, with every table and list open."""
    at_width(driver, page, width, dark=dark)
    driver.execute_script("document.querySelectorAll('details').forEach(each => each.open = true)")
    driver.execute_script((Path(axe_core_python.__file__).parent / "axe.min.js").read_text())
    found = driver.execute_async_script(
        "axe.run(document, {resultTypes: ['violations']}).then(found => arguments[0](found.violations))"
    )
    return [(each["id"], each["nodes"][0]["html"][:200]) for each in found]
