"""A desk driven in a real browser: started as a user starts it, and every screen held to accessibility."""

import signal
import subprocess
import sys
import time
from contextlib import contextmanager
from pathlib import Path

import axe_core_python
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.wait import WebDriverWait

AXE = (Path(axe_core_python.__file__).parent / "axe.min.js").read_text()


@contextmanager
def desk_of(room, *more, env=None):
    """A desk started by its command; its address and its process."""
    command = [sys.executable, "-m", "panelstats", "desk", str(room), "--no-browser", *more]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, env=env)
    lines = [process.stdout.readline() for _ in range(3)]
    try:
        yield lines[1].strip(), process
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(30)
        process.stdout.close()


def size(driver, width, *, dark=False):
    told = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", told)
    scheme = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": scheme})


def ready(driver):
    """Wait until nothing is being done."""
    still = "return document.readyState != 'complete' || document.querySelector('[data-progress]') != null"
    for _ in range(300):
        if not driver.execute_script(still):
            return
        time.sleep(0.1)
    raise AssertionError("it never ends")


def holds(driver, *, waiting=False):
    """Every rule of accessibility, in light and dark; nothing runs over the side of a phone."""
    if not waiting:
        ready(driver)
    for width, dark in ((1280, False), (390, True)):
        size(driver, width, dark=dark)
        wide = driver.execute_script(
            "const page = document.documentElement; return page.scrollWidth - page.clientWidth"
        )
        assert wide <= 0, f"{driver.current_url} at {width}"
        driver.execute_script(AXE)
        found = driver.execute_async_script("axe.run({iframes: false}).then(arguments[arguments.length - 1])")
        told = [(v["id"], [n["target"] for n in v["nodes"]]) for v in found["violations"]]
        assert told == [], driver.current_url
    size(driver, 1280)


def follow(driver, element):
    """Enter on a link or button, and the page it leads to."""
    before = driver.find_element(By.TAG_NAME, "html")
    element.send_keys(Keys.ENTER)
    WebDriverWait(driver, 30).until(lambda _: _gone(before))
    ready(driver)


def _gone(element):
    try:
        element.is_enabled()
    except WebDriverException:  # stale, or the page it stood on is being replaced at this moment
        return True
    return False


def press(driver, name):
    """Press the button of this name with the keyboard alone."""
    button = next(b for b in driver.find_elements(By.TAG_NAME, "button") if b.text.startswith(name))
    follow(driver, button)


def told(driver):
    """The words of the page."""
    return driver.find_element(By.TAG_NAME, "main").text


def dropped(driver, path):
    """Drop a sheet on the room's page, and wait until it is read."""
    driver.find_element(By.ID, "sheets").send_keys(str(path))
    press(driver, "Add to the room")


def answered(driver, most=60):
    """Say yes to our guess, or take the first answer, of every question of the sheet that is shown; how many."""
    for done in range(most):
        waiting = driver.find_elements(By.CSS_SELECTOR, "fieldset.question:not(.answered) button[name^=answer]")
        if not waiting:
            return done
        follow(driver, waiting[0])
    raise AssertionError("the questions never end")


def whole_way(driver, workbook, room):
    """Drop a workbook, answer what is asked, ask how the lots were; the text of the page and what stood open."""
    with desk_of(room) as (address, _):
        driver.get(address)
        ready(driver)
        dropped(driver, workbook)
        asked = 0
        for _ in range(8):  # an answer may open another question, on another sheet
            links = driver.find_elements(By.CSS_SELECTOR, ".sheets li.questions a")
            if not links:
                break
            follow(driver, links[0])
            asked += answered(driver)
            follow(driver, driver.find_element(By.LINK_TEXT, "Back to the room"))
        open_ = driver.find_elements(By.CSS_SELECTOR, "form[action='/ask/session'] [name=set_aside]")
        for box in open_:
            box.send_keys(Keys.SPACE)
        ask = driver.find_elements(By.CSS_SELECTOR, "form[action='/ask/session'] button")
        if not ask:
            return "", asked, bool(open_)
        follow(driver, ask[0])
        frames = driver.find_elements(By.ID, "shown")
        if not frames:
            return f"none: {told(driver)}", asked, bool(open_)
        driver.switch_to.frame(frames[0])
        text = driver.find_element(By.TAG_NAME, "body").text
        driver.switch_to.default_content()
        return text, asked, bool(open_)
