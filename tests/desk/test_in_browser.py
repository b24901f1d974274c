"""The way through in a real browser: started as a user starts it, accessible on every screen, quiet on the network."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path
from urllib.error import HTTPError
from urllib.request import urlopen

import axe_core_python
import pytest
from browser import needs_browser
from opening import SHEET
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.expected_conditions import staleness_of
from selenium.webdriver.support.wait import WebDriverWait

import panelstats as pst

pytestmark = needs_browser
AXE = (Path(axe_core_python.__file__).parent / "axe.min.js").read_text()


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    """A desk started by its command, and its address."""
    room = tmp_path_factory.mktemp("desk") / "room"
    command = [sys.executable, "-m", "panelstats", "desk", str(room), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    lines = [process.stdout.readline() for _ in range(3)]
    yield room, lines[1].strip()
    process.send_signal(signal.SIGINT)
    process.wait(20)
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


def holds(driver):
    """Every rule of accessibility, in light and dark; nothing runs over the side of a phone."""
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
    WebDriverWait(driver, 30).until(staleness_of(before))
    ready(driver)


def press(driver, name):
    """Press the button of this name with the keyboard alone."""
    button = next(b for b in driver.find_elements(By.TAG_NAME, "button") if b.text.startswith(name))
    follow(driver, button)


def test_the_whole_way_from_a_dropped_sheet_to_its_page(driver, running, tmp_path):
    room, address = running
    driver.get_log("performance")
    driver.get_log("browser")
    driver.get(address)
    assert "key=" not in driver.current_url
    holds(driver)
    rows = "".join(f"{lot},{t},{5 + lot % 3},{lot}\n" for t in ("elm", "yew") for lot in range(1, 13))
    sheet = tmp_path / "week <14>.csv"
    sheet.write_text(f"lot,taster,brisk,ranking order\n{rows}")
    driver.find_element(By.ID, "sheets").send_keys(str(sheet))
    press(driver, "Add to the room")
    assert "1 question" in driver.find_element(By.CSS_SELECTOR, ".sheets").text
    holds(driver)
    follow(driver, driver.find_element(By.PARTIAL_LINK_TEXT, "how we read it"))
    holds(driver)
    press(driver, "fact")
    assert "Noted in room.xlsx" in driver.find_element(By.TAG_NAME, "main").text
    assert pst.read_scores(room).descriptors["descriptor"].tolist() == ["brisk"]
    follow(driver, driver.find_element(By.LINK_TEXT, "Back to the room"))
    assert "12 lots, 2 tasters, 1 word: ready" in driver.find_element(By.CSS_SELECTOR, ".sheets").text
    press(driver, "Answer")
    holds(driver)
    driver.switch_to.frame("shown")
    assert "brisk" in driver.find_element(By.TAG_NAME, "main").text
    driver.switch_to.default_content()
    assert str(room) in driver.find_element(By.TAG_NAME, "main").text
    assert driver.get_log("browser") == []
    messages = [json.loads(entry["message"])["message"] for entry in driver.get_log("performance")]
    asked = [m["params"]["request"]["url"] for m in messages if m["method"] == "Network.requestWillBeSent"]
    outside = [url for url in asked if not url.startswith(("http://127.0.0.1", "data:", "chrome:"))]
    assert asked
    assert outside == []


def test_scores_are_typed_with_the_keyboard_alone_and_kept_at_once(driver, running):
    room, address = running
    driver.get(address)
    driver.get(driver.current_url + "drafts/new")
    holds(driver)
    for name, text in (("taster", "rowan"), ("lots", "1-3"), ("words", "brisk")):
        field = driver.find_element(By.NAME, name)
        field.clear()
        field.send_keys(text)
    press(driver, "Begin")
    holds(driver)
    driver.find_element(By.NAME, "c0-0").send_keys("5", Keys.ENTER)
    for text in ("6", "7"):
        driver.switch_to.active_element.send_keys(text, Keys.ENTER)
    for _ in range(50):
        if '"7"' in "".join(p.read_text() for p in (room / "drafts").glob("*.json")):
            break
        time.sleep(0.1)
    (draft,) = (room / "drafts").glob("*.json")
    assert json.loads(draft.read_text())["cells"] == [["5"], ["6"], ["7"]]
    press(driver, "Finish the sheet")
    assert "is finished" in driver.find_element(By.TAG_NAME, "main").text
    assert "rowan" in set(pst.read_scores(room, set_aside=True).tasters["taster"])


def test_a_trouble_is_a_sentence_with_a_way_on(driver, running):
    driver.get(running[1])
    driver.get(driver.current_url + "pages/none")
    assert "ask again" in driver.find_element(By.TAG_NAME, "main").text
    holds(driver)


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_the_address_is_open_as_soon_as_it_is_told_and_the_end_is_quiet(tmp_path, ending):
    command = [sys.executable, "-m", "panelstats", "desk", str(tmp_path / "room"), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        address = [process.stdout.readline() for _ in range(3)][1].strip()
        with pytest.raises(HTTPError, match="403") as refused:  # heard, and refused for want of the key
            urlopen(address.replace("?key=", "?no="))  # noqa: S310 - this machine
        refused.value.close()
    finally:
        process.send_signal(ending)
        rest = process.communicate(timeout=20)[0]
    assert process.returncode == 0
    assert rest.strip() == ""


def test_a_desk_that_is_killed_leaves_no_process_and_no_half_file(tmp_path):
    room = tmp_path / "room"
    (room / "sheets").mkdir(parents=True)
    (room / "sheets" / "week.csv").write_text(SHEET)
    command = [sys.executable, "-m", "panelstats", "desk", str(room), "--no-browser"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, start_new_session=True)
    process.stdout.readline()
    time.sleep(1)
    process.kill()
    process.wait()
    process.stdout.close()
    for _ in range(100):
        left = subprocess.run(["ps", "-eo", "sid,args"], capture_output=True, text=True, check=True).stdout
        if not [line for line in left.splitlines() if line.split()[0] == str(process.pid)]:
            break
        time.sleep(0.1)
    else:
        raise AssertionError(left)
    assert sorted(p.name for p in room.rglob("*") if p.is_file()) == [".panelstats-desk.lock", "week.csv"]
    assert os.listdir(room / "pages") == []  # noqa: PTH208
