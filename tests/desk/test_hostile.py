"""Hostile data on every route: one clear sentence with the next step, never a fault of ours, nothing half written."""

import io
import json
import re
import threading
import time
import zipfile
from pathlib import Path

import pytest
from opening import SHEET, opened
from test_way_through import drop, settled

import panelstats as pst
from panelstats.desk import looking, work
from panelstats.desk.folder import key_of
from panelstats.desk.state import Desk

# Entries that no question takes; each is answered at once, and no worker is asked.
UNFIT = [
    ("session", {"session": "nowhere"}), ("session", {"session": "\x00"}), ("session", {"session": "x" * 200_000}),
    *[("shortlist", {"take": take}) for take in ("x", "inf", "nan", "-3", "0", "2.5", "1e30", "\u0663", "9" * 50)],
    ("match", {}), ("match", {"standard": "<b>none</b>"}), ("map", {"joined": "x"}), ("summary", {"grams": "1e400"}),
    *[("blend", {"standard": "8", "batch": batch}) for batch in ("-1", "nan", "inf", "x", "0", "0,0")],
    ("garden", {"garden": "x"}), ("garden", {"garden": "each of them"}), ("garden", {}), ("value", {"by": "x"}),
    ("pack", {"grams": "1", "millilitres": "2"}), ("differ", {}), ("trainees", {}), ("season", {}),
    ("counted", {"kind": "triangle", "correct": "-1", "answers": "9"}), ("counted", {"kind": "pentagon"}),
    *[("plan", {"lots": "3", "tasters": "elm", "limit": "5", **odd}) for odd in (
        {"lots": ""}, {"limit": "nan"}, {"limit": "1e9"}, {"service": "boat"}, {"pots_per_lot": "0"},
        {"pots_per_lot": "1e15"}, {"tasters": "e\x1b[31mlm"}, {"session": "a\u202eb"}, {"repeats": "-1"})],
    ("plates", {"kind": "pentagon", "tasters": "elm"}), ("plates", {"kind": "triangle", "tasters": ""}),
    ("plates", {"kind": "triangle", "tasters": "elm", "products": "A, B", "trials": "1e12"}),
    ("nonsense", {}), ("..%2f..%2fx", {}),
]  # fmt: skip


@pytest.fixture(scope="module")
def held(tmp_path_factory):
    """A desk with a sheet, read once for all that is refused."""
    desk = Desk(tmp_path_factory.mktemp("held") / "room")
    with opened(desk, key="secret") as client:
        client.get("/?key=secret")
        drop(client, ("week.csv", SHEET))
        yield desk, client
    desk.close()


def a_sentence(answer):
    """Whether an answer is a page that says what is wrong and what to do, without a fault of ours."""
    told = re.search(r'role="alert">(.+?)</p>\s*<p>(.+?)</p>', answer.text, re.DOTALL)
    assert told, answer.text
    assert "made a mistake" not in answer.text
    assert "Traceback" not in answer.text
    assert all(each.rstrip().endswith(".") and each[0] == each[0].upper() for each in told.groups()), told.groups()
    return told


@pytest.mark.parametrize(("which", "entries"), UNFIT)
def test_an_entry_that_cannot_be_is_told_at_once(held, which, entries):
    desk, client = held
    before = desk.job
    answer = client.post(f"/ask/{which}", data=entries)
    assert answer.status_code in {400, 404}
    a_sentence(answer)
    assert desk.job is before  # nothing was begun
    assert not list(desk.folder.pages.iterdir())


@pytest.mark.parametrize(
    ("which", "entries", "what"),
    [("plan", {"lots": "99999999999", "tasters": "elm", "limit": "5"}, "More than 5,000 lots"),
     ("plan", {"lots": "3000", "tasters": "elm", "limit": "5", "pots_per_lot": "2"}, "More than 5,000 pots"),
     ("plan", {"lots": ",", "tasters": "elm", "limit": "5"}, "No lots to taste"),
     ("plan", {"lots": "3", "tasters": "elm, elm", "limit": "5"}, "A taster twice"),
     ("plan", {"lots": "3", "tasters": "elm", "limit": "5", "excluded": "elm"}, "does not say who"),
     ("plates", {"kind": "triangle", "tasters": "elm", "products": "A"}, "two products"),
     ("counted", {"kind": "triangle", "correct": "9", "answers": "5"}, "What to do")],
)  # fmt: skip
def test_what_a_plan_or_a_test_cannot_be_is_told_by_the_worker(held, which, entries, what):
    desk, client = held
    assert what in a_sentence(settled(client, client.post(f"/ask/{which}", data=entries)))[1]
    assert not list(desk.folder.pages.iterdir())


@pytest.mark.parametrize("path", ["/ask/session", "/sheets", "/drafts"])
@pytest.mark.parametrize(
    ("kind", "body"),
    [("multipart/form-data", b"x"), ("multipart/form-data; boundary=q", b"x"), ("multipart/form-data; boundary=q", b""),
     ("multipart/form-data; boundary=q", b'--q\r\nContent-Disposition: form-data; name="lots"\r\n\r\n' + b"x" * 2**21),
     ("multipart/form-data; boundary=q", b"--q\r\nContent-Disposition: form-data\r\n\r\nx\r\n--q--"),
     ("application/x-www-form-urlencoded", b"&".join(b"a%d=1" % n for n in range(30_000)))],
)  # fmt: skip
def test_a_body_that_is_no_form_is_told(held, path, kind, body):
    if (path, kind) == ("/sheets", "application/x-www-form-urlencoded") or not body:
        kind, body = "text/plain", b"x"  # no form at all: nothing was chosen
        path = "/sheets"
    answer = held[1].post(path, content=body, headers={"content-type": kind})
    assert answer.status_code == 400
    a_sentence(answer)


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [("POST", "/", 405), ("GET", "/stop", 405), ("GET", "/ask/session", 405), ("POST", "/progress", 405),
     ("GET", "/static/", 404), ("GET", "/static/none.js", 404), ("GET", "/sheets/none", 400),
     ("GET", "/pages/none", 400), ("GET", "/pages/none/page", 400),
     ("GET", "/pages/latest/page", 400), ("GET", "/pages/none/workbook", 400),
     ("GET", "/drafts/none", 400), ("POST", "/drafts/none", 400), ("POST", "/sheets/none/say", 400),
     ("POST", "/sheets/none/remove", 400), ("GET", "/pages/%00", 400), ("GET", "/sheets/..%2f..%2froom.xlsx", 404)],
)  # fmt: skip
def test_what_is_not_there_is_told_with_the_way_back(held, method, path, status):
    answer = held[1].request(method, path)
    assert answer.status_code == status
    a_sentence(answer)
    assert 'href="/"' in answer.text


SAID = {"session": "s", "taster": "t", "lots": "1", "words": "brisk", "low": "0", "high": "10"}


@pytest.mark.parametrize(
    ("odd", "what"),
    [({"session": ""}, "No session"), ({"lots": " \n , "}, "No lots"), ({"lots": "1-99999999"}, "counts none, or more"),
     ({"lots": "9-1"}, "counts none"), ({"lots": "1-20000", "words": "a\nb"}, "More than 20,000 cells"),
     ({"words": "lot"}, "reads as lot"), ({"words": "brisk\nkg"}, "reads as fact"),
     ({"words": "Brisk\nbrisk"}, "twice"),
     ({"low": "nan"}, "is no number"), ({"high": "inf"}, "is no number"), ({"low": "10", "high": "0"}, "is not below"),
     ({"taster": "\x1b[31m"}, "cannot be seen"), ({"lots": "a\u202eb"}, "cannot be seen"),
     ({"words": "b" * 5000}, "too long")],
)  # fmt: skip
def test_a_sheet_that_cannot_be_typed_is_not_begun(held, odd, what):
    desk, client = held
    answer = client.post("/drafts", data={**SAID, **odd})
    assert answer.status_code == 400
    assert what in a_sentence(answer)[1]
    assert not list(desk.folder.drafts.iterdir())


WHOLE = {"session": "a", "taster": "b", "lots": ["1"], "words": ["x"], "low": "", "high": "", "cells": [["5"]]}


@pytest.mark.parametrize(
    "text",
    ["[]", "{}", "5", "no json", "\x00", "[" * 100_000, json.dumps({**WHOLE, "more": 1}),
     *[json.dumps({**WHOLE, **odd}) for odd in (
         {"session": 1}, {"lots": 3}, {"lots": None}, {"words": [1]}, {"cells": 7}, {"cells": []}, {"cells": [[]]},
         {"cells": [[5]]}, {"cells": [["5", "6"]]}, {"low": None})]],
)  # fmt: skip
def test_a_draft_that_somebody_changed_is_told_and_the_room_stays_open(held, text):
    desk, client = held
    path = desk.folder.drafts / "junk.json"
    path.write_text(text)
    try:
        for answer in (
            client.get(f"/drafts/{key_of(path.name)}"),
            client.post(f"/drafts/{key_of(path.name)}", data={}),
        ):
            assert answer.status_code == 400
            assert "The draft cannot be read" in a_sentence(answer)[1]
        assert "continue junk" in client.get("/").text
        assert path.read_text() == text
    finally:
        path.unlink()


def test_marks_typed_are_numbers_of_the_scale_marks_of_the_room_or_told(client, empty):
    assert client.post("/drafts", data={**SAID, "lots": "1-3", "words": "brisk\ncolour"}).status_code == 200
    (path,) = empty.drafts.iterdir()
    url = f"/drafts/{key_of(path.name)}"
    for odd in ("11", "-1", "nan", "inf", "1e1", "1_0", "٣", "six", "=1+1", "<b>"):
        answer = client.post(url, data={"c0-0": odd, "step": "finish"})
        assert answer.status_code == 422, odd
        assert "lot 1, brisk: " in answer.text
    work.note(str(empty.path), {"marks": [{"mark": "7-", "worth": 6.75, "descriptor": ""}]})
    assert "marks count too: 7-" in client.get(url).text
    typed = {"c0-0": "7-", "c0-1": "6,5", "c1-0": "5", "c1-1": "4.5", "c2-0": "3", "c2-1": "2", "step": "finish"}
    assert settled(client, client.post(url, data=typed)).status_code == 200
    assert sorted(pst.read_scores(empty.path).frame["score"]) == [2, 3, 4.5, 5, 6.5, 6.75]


HOSTILE = {
    "lot": ['<b>5 & 6</b>"', "=1+1", "a\x1b[31mb", "\u202e7"], "taster": ["<script>x</script>", "elm"],
}  # fmt: skip


def test_hostile_names_pass_through_every_question_as_text(client, empty):
    rows = [
        f'"{lot.replace(chr(34), chr(34) * 2)}","{taster}",{4 + (3 * n + m) % 5},{2 + (n + 2 * m) % 6},<i>g</i>,{n + 1}'
        for n, lot in enumerate(HOSTILE["lot"]) for m, taster in enumerate(HOSTILE["taster"])
    ]  # fmt: skip
    room = drop(client, ("week.csv", "\n".join(["lot,taster,brisk,<u>colour</u>,garden,price per kg", *rows, ""])))
    assert "<b>5" not in room.text
    assert "<script>x" not in room.text
    facts = looking.look(str(empty.path), empty.state())["facts"]
    for which, entries in (("session", {}), ("garden", {"garden": facts["gardens"][0]}), ("summary", {})):
        answer = settled(client, client.post(f"/ask/{which}", data={**entries, "set_aside": "yes"}))
        assert "made a mistake" not in answer.text
        assert not re.search(r"<b>5|<script>x|<i>g|<u>colour|\x1b|\u202e", answer.text)
    for page in empty.pages.rglob("*.html"):
        assert not re.search(r"<script|<b>5|<i>g</i>|<u>colour|\x1b|\u202e", page.read_text("utf-8"))


def test_a_sheet_of_two_thousand_lots_is_shown_by_its_first_rows(client, empty):
    room = drop(client, ("sale.csv", "lot,taster,brisk\n" + "".join(f"{n},elm,{n % 9}\n" for n in range(2000))))
    assert "2,000 lots, 1 taster, 1 word: ready" in room.text
    assert len(room.text) < 250_000
    page = client.get(re.search(r'href="(/sheets/\w+)"', room.text)[1])
    assert "2,001 rows in all" in page.text
    assert page.text.count("<tr") == 41


def damaged():
    """A workbook that is cut, one whose parts are garbage, one that unpacks to far more than it holds."""
    whole = io.BytesIO()
    with zipfile.ZipFile(whole, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", "<Types/>")
        archive.writestr("xl/workbook.xml", "<<<not xml")
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/worksheets/sheet1.xml", "0" * 105_000_000)
    return {"cut.xlsx": whole.getvalue()[:60], "garbage.xlsx": whole.getvalue(), "bomb.xlsx": bomb.getvalue()}


def test_damaged_workbooks_are_told_and_the_good_sheet_beside_them_still_counts(client, empty):
    room = drop(client, ("week.csv", SHEET), *damaged().items())
    assert "8 lots, 3 tasters, 2 words: ready" in room.text
    for name in damaged():
        line = re.search(rf'sheets/{name}</bdi></span> <span class="line">(.*?)</span>', room.text)[1]
        assert re.search(r"\w: \w", line), line  # what is wrong, and what to do
    assert "<iframe" in settled(client, client.post("/ask/session", data={"set_aside": "yes"})).text
    sheet = re.search(r'sheets/bomb.xlsx</bdi>.*?href="(/sheets/\w+)"', room.text)[1]
    gone = settled(client, client.post(f"{sheet}/remove"))
    assert "sheets/bomb.xlsx now lies in sheets/removed" in gone.text


def test_posts_at_once_lose_nothing(client, empty, monkeypatch):
    at_once = Path.chmod

    def slowly(path, mode):  # it stands between the look for a free name and the taking of it
        time.sleep(0.05)
        at_once(path, mode)

    monkeypatch.setattr(Path, "chmod", slowly)
    texts = [SHEET.replace("elm", f"elm{n}").replace("yew", f"yew{n}").replace("ash", f"ash{n}") for n in range(6)]
    statuses = []

    def send(n):
        answer = client.post("/sheets", files=[("sheets", ("week.csv", texts[n]))], follow_redirects=False)
        statuses.append((answer.status_code, client.get("/").status_code))

    threads = [threading.Thread(target=send, args=(n,)) for n in range(6)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    assert statuses == [(303, 200)] * 6
    assert sorted(path.read_text() for path in empty.sheets.glob("*.csv")) == sorted(texts)
    assert settled(client, client.get("/")).text.count(": ready") == 6


def test_stop_ends_all_that_waits_and_says_so(client, empty):
    drop(client, ("week.csv", SHEET))
    desk = client.app.app.state.desk
    jobs = [desk.worker.begin("long", time.sleep, 60) for _ in range(3)]
    desk.job = jobs[-1]
    assert "Stopped, as you asked" in settled(client, client.post("/stop")).text
    assert {job.outcome() for job in jobs} == {(None, "Stopped, as you asked. Nothing was written.")}
    assert "<iframe" in settled(client, client.post("/ask/session", data={})).text  # the next one gets a new process


def test_a_disk_that_refuses_is_told(client, empty, monkeypatch):
    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("panelstats.desk.folder.tempfile.mkstemp", full)
    answer = client.post("/sheets", files=[("sheets", ("week.csv", SHEET))])
    assert answer.status_code == 507
    assert "No space left on device" in a_sentence(answer)[1]


def test_a_fault_of_ours_leaves_the_room_open_and_the_sheet_can_be_taken_out(client, empty, monkeypatch):
    drop(client, ("week.csv", SHEET))
    desk = client.app.app.state.desk
    desk._looked = None
    monkeypatch.setattr("panelstats.desk.state.looking.look", int)  # int(folder, state) fails in the worker
    room = settled(client, client.get("/"))
    assert room.status_code == 200
    assert "The desk made a mistake" in room.text
    sheet = re.search(r'href="(/sheets/\w+)"', room.text)[1]
    assert client.get(sheet).status_code == 200
    settled(client, client.post(f"{sheet}/remove"))
    assert (empty.sheets / "removed" / "week.csv").exists()
