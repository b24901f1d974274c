"""What every page must hold in a real browser."""

import json
from pathlib import Path

import axe_core_python
from browser import FONTS, TEXTS, at_width, in_font

UNNAMED = """
const said = id => document.getElementById(id)?.textContent;
return [...document.querySelectorAll('svg[role=img]')].filter(svg => !(svg.getAttribute('aria-label') ||
    (svg.getAttribute('aria-labelledby') || '').split(' ').every(said))).length"""
# What runs over the right side of so wide a page.
CUT_OFF = """
return [...document.querySelectorAll('main *, footer *')].map(each => [each, each.getBoundingClientRect()])
    .filter(([each, box]) => box.width && box.right > arguments[0] + 1).slice(0, 3)
    .map(([each]) => each.outerHTML.slice(0, 120))"""


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


# What takes the keyboard and is shown, in the order of the page; marked, so that it is known again.
REACHED = """
const all = [...document.querySelectorAll('a[href], button, input, select, summary, [tabindex="0"]')]
    .filter(each => each.checkVisibility());
all.forEach((each, at) => each.dataset.at = at); document.activeElement.blur(); return all.length"""
FOCUSED = """
const each = document.activeElement, style = getComputedStyle(each);
return [Number(each.dataset.at ?? -1), style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) > 0]"""


def keyed(driver):
    """Tab meets everything there is to open or follow once, in order, each with a line around it."""
    count = driver.execute_script(REACHED)
    press = {"key": "Tab", "code": "Tab", "windowsVirtualKeyCode": 9}
    for at in range(count):
        driver.execute_cdp_cmd("Input.dispatchKeyEvent", press | {"type": "rawKeyDown"})
        driver.execute_cdp_cmd("Input.dispatchKeyEvent", press | {"type": "keyUp"})
        found = driver.execute_script(FOCUSED)
        assert found == [at, True], (found, at, count)


def printed_whole(driver, page):
    """On the width that A4 and Letter leave between their margins (ISO 216, ANSI Y14.1) nothing is cut off."""
    for width in (680, 700):  # 210 mm and 8.5 in less 15 mm a side, in pixels of 1/96 in
        at_width(driver, page, width)
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        wide = driver.execute_script(CUT_OFF, width)
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
        assert wide == [], width
