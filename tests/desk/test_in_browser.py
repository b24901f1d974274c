"""The way through in a real browser: started as a user starts it, accessible on every screen, quiet on the network."""

import json
import os
import signal
import subprocess
import sys
import time
from urllib.error import HTTPError
from urllib.request import urlopen

import pandas as pd
import pytest
from browser import needs_browser
from driving import desk_of, dropped, follow, holds, press, ready, told, whole_way
from opening import SHEET
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.wait import WebDriverWait

import panelstats as pst
from tests.habits import ROOMS

pytestmark = needs_browser


@pytest.fixture(scope="module")
def running(tmp_path_factory):
    """A desk, and its address."""
    room = tmp_path_factory.mktemp("desk") / "room"
    with desk_of(room) as (address, _):
        yield room, address


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
    driver.execute_script("window.scrollTo(0, document.body.scrollHeight)")
    account = driver.find_element(By.CSS_SELECTOR, ".account")
    assert "cells = " in account.text
    assert driver.execute_script("const box = arguments[0].getBoundingClientRect(); return box.top >= 0", account)
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
    driver.execute_script("document.getElementById('shown').contentWindow.print = () => { window.printed = true; }")
    driver.find_element(By.LINK_TEXT, "Print").send_keys(Keys.ENTER)
    assert driver.execute_script("return window.printed") is True
    driver.find_element(By.TAG_NAME, "summary").send_keys(Keys.ENTER)
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
    driver.find_element(By.NAME, "c0-0").send_keys("x")
    press(driver, "Finish the sheet")
    holds(driver)
    assert "lot 1, brisk: 5x" in told(driver)
    driver.find_element(By.NAME, "c0-0").send_keys(Keys.BACKSPACE)
    press(driver, "Finish the sheet")
    assert "is finished" in driver.find_element(By.TAG_NAME, "main").text
    assert "rowan" in set(pst.read_scores(room, set_aside=True).tasters["taster"])


def dragged(driver, path):
    """A file let fall on the page, as the mouse does it."""
    data = {"items": [], "files": [str(path)], "dragOperationsMask": 1}
    for kind in ("dragEnter", "dragOver", "drop"):
        driver.execute_cdp_cmd("Input.dispatchDragEvent", {"type": kind, "x": 300, "y": 300, "data": data})


def worker_of(process):
    """The process in which a desk reads and answers."""
    told = ["ps", "-ww", "-o", "pid=,args=", "--ppid", str(process.pid)]
    for _ in range(100):
        lines = subprocess.run(told, capture_output=True, text=True, check=False).stdout.splitlines()
        found = [int(line.split()[0]) for line in lines if "multiprocessing.spawn" in line]
        if found:
            return found[0]
        time.sleep(0.1)
    raise AssertionError("no worker")


def test_a_sheet_falls_on_the_page_and_its_reading_is_stopped_and_begun_anew(driver, tmp_path):
    (tmp_path / "week.csv").write_text(SHEET)
    with desk_of(tmp_path / "room") as (address, process):
        driver.get(address)
        ready(driver)
        os.kill(worker_of(process), signal.SIGSTOP)  # it would take for ever
        dragged(driver, tmp_path / "week.csv")
        for _ in range(100):
            if driver.find_elements(By.CSS_SELECTOR, "[data-progress]"):
                break
            time.sleep(0.1)
        holds(driver, waiting=True)
        before = driver.find_element(By.CSS_SELECTOR, "[data-progress]").text
        for _ in range(50):
            if driver.find_element(By.CSS_SELECTOR, "[data-progress]").text != before:
                break  # the page is alive: the seconds go on
            time.sleep(0.1)
        else:
            raise AssertionError(before)
        press(driver, "Stop")
        assert "Stopped, as you asked" in told(driver)
        assert "8 lots, 3 tasters, 2 words: ready" in told(driver)
        assert (tmp_path / "room" / "sheets" / "week.csv").read_text() == SHEET


def test_a_folder_falls_on_the_page_or_is_chosen_and_its_folders_are_kept(driver, tmp_path):
    for day in ("2026-03-02", "2026-03-09"):
        (tmp_path / "season" / day).mkdir(parents=True)
        (tmp_path / "season" / day / "elm.csv").write_text(SHEET.replace("4,3", f"{day[-1]},3"))
    (tmp_path / "season" / ".hidden").write_text("x")
    for room, how in (("let fall", dragged), ("chosen", chosen)):
        with desk_of(tmp_path / room) as (address, _):
            driver.get(address)
            ready(driver)
            how(driver, tmp_path / "season")
            WebDriverWait(driver, 20).until(lambda d: len(d.find_elements(By.CSS_SELECTOR, ".sheets li")) == 2)
            kept = {p.relative_to(tmp_path / room).as_posix() for p in (tmp_path / room / "sheets").rglob("*.*")}
            assert kept == {"sheets/season/2026-03-02/elm.csv", "sheets/season/2026-03-09/elm.csv"}


def chosen(driver, path):
    """A folder chosen in the second form, by keyboard."""
    next(s for s in driver.find_elements(By.TAG_NAME, "summary") if s.text == "A whole folder").send_keys(Keys.ENTER)
    driver.find_element(By.ID, "folder").send_keys(str(path))
    press(driver, "Add the folder")


def test_enter_in_a_field_notes_what_stands_there_and_answers_nothing_else(driver, tmp_path):
    sheet = tmp_path / "week.csv"
    sheet.write_text(
        "lot,taster,brisk\n" + "".join(f"{n},{t},{'CBA'[(n + i) % 3]}\n" for n in range(9) for i, t in enumerate("xyz"))
    )
    with desk_of(tmp_path / "room") as (address, _):
        driver.get(address)
        ready(driver)
        dropped(driver, sheet)
        follow(driver, driver.find_element(By.PARTIAL_LINK_TEXT, "how we read it"))
        holds(driver)
        field = driver.find_element(By.CSS_SELECTOR, "[name^=worth]")
        field.send_keys("9")
        follow(driver, field)
        marks = pd.read_excel(tmp_path / "room" / "room.xlsx", sheet_name="marks", engine="openpyxl")
        assert 9 in set(marks["worth"])
        assert driver.find_elements(By.CSS_SELECTOR, "fieldset.question:not(.answered) button[name^=answer]")


HEARING = """
import os, sys
KINDS = ("socket.connect", "socket.getaddrinfo", "socket.sendto", "socket.gethostbyname", "urllib.Request")
def heard(event, args):
    if event in KINDS:
        file = os.open({place!r}, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        os.write(file, (repr((event, args[1:])) + "\\n").encode())
        os.close(file)
sys.addaudithook(heard)
"""


def test_no_process_of_the_desk_speaks_to_another_machine(driver, tmp_path):
    # Python audits every connection and every look-up of a name (sys.addaudithook: socket.connect, socket.getaddrinfo).
    (tmp_path / "hook").mkdir()
    (tmp_path / "hook" / "sitecustomize.py").write_text(HEARING.format(place=str(tmp_path / "heard")))
    (tmp_path / "week.csv").write_text(SHEET)
    paths = os.pathsep.join([str(tmp_path / "hook"), os.environ.get("PYTHONPATH", "")])
    proof = [sys.executable, "-c", "import socket; s = socket.socket(); s.connect_ex(('127.0.0.1', 9)); s.close()"]
    subprocess.run(proof, env={**os.environ, "PYTHONPATH": paths}, check=True)
    assert "127.0.0.1" in (tmp_path / "heard").read_text()  # it hears
    (tmp_path / "heard").unlink()
    with desk_of(tmp_path / "room", env={**os.environ, "PYTHONPATH": paths}) as (address, _):
        driver.get(address)
        ready(driver)
        dropped(driver, tmp_path / "week.csv")
        press(driver, "Answer")
        assert driver.find_elements(By.ID, "shown")
    heard = (tmp_path / "heard").read_text() if (tmp_path / "heard").exists() else ""
    assert [line for line in heard.splitlines() if "127.0.0.1" not in line and "AF_UNIX" not in line] == []


def test_a_tasting_is_planned_by_keyboard_and_every_screen_of_it_holds(driver, tmp_path):
    with desk_of(tmp_path / "room") as (address, _):
        driver.get(address)
        holds(driver)
        form = driver.find_element(By.CSS_SELECTOR, "form[action='/ask/plan']")
        for name, text in (("lots", "6"), ("tasters", "elm, yew"), ("limit", "9")):
            form.find_element(By.NAME, name).send_keys(text)
        follow(driver, form.find_element(By.TAG_NAME, "button"))
        holds(driver)
        assert "from the tasters" in told(driver)
        follow(driver, driver.find_element(By.LINK_TEXT, "sheet-elm"))
        holds(driver)
        driver.switch_to.frame("shown")
        assert "Sheet of elm" in driver.find_element(By.TAG_NAME, "main").text
        driver.switch_to.default_content()


def test_a_workbook_goes_the_whole_way(driver, tmp_path):
    # `python -m tests.desk` drives a dozen, and holds them to the command line.
    source = ROOMS["#DIV/0! in a column of averages"].made().write(tmp_path / "sent")
    text, _, aside = whole_way(driver, source, tmp_path / "room")
    assert "brisk" in text
    assert not aside


def test_a_second_desk_shows_all_and_changes_nothing(driver, tmp_path):
    room = tmp_path / "room"
    (room / "sheets").mkdir(parents=True)
    (room / "sheets" / "week.csv").write_text(SHEET)
    with desk_of(room), desk_of(room) as (address, _):
        driver.get(address)
        holds(driver)
        assert "close the other one to change anything" in told(driver)
        assert not driver.find_elements(By.CSS_SELECTOR, "main form")
        follow(driver, driver.find_elements(By.PARTIAL_LINK_TEXT, "how we read it")[0])
        holds(driver)
        assert not driver.find_elements(By.CSS_SELECTOR, "main button, main select, main input")


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
