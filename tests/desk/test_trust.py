"""Who is heard and what may be done: a line of the desk's trust in each test."""

import errno
import io
import os
import subprocess
import sys
import time
import zipfile
from pathlib import Path

import pytest
from driving import desk_of
from opening import HOME, PORT, SHEET, opened

from panelstats.cli import main
from panelstats.desk.folder import Folder, safe_place
from panelstats.desk.lock import Lock
from panelstats.desk.state import Desk
from panelstats.errors import PanelError


def test_the_key_of_the_address_moves_into_a_cookie_that_scripts_and_other_pages_do_not_get(desk):
    with opened(desk, key="secret") as client:
        answer = client.get("/?key=secret", follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    cookie = answer.headers["set-cookie"].casefold()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie


@pytest.mark.parametrize("path", ["/", "/?key=wrong", "/static/desk.css", "/progress", "/starter.xlsx"])
def test_nothing_is_shown_without_the_key(desk, path):
    with opened(desk, key="secret") as client:
        answer = client.get(path)
    assert answer.status_code == 403
    assert "whole address" in answer.text


def test_the_key_is_long_and_new_every_time(desk):
    from panelstats.desk.app import application
    from panelstats.desk.trust import Trust

    keys = {Trust(application(desk), PORT).key for _ in range(5)}
    assert len(keys) == 5
    assert min(map(len, keys)) >= 40


@pytest.mark.parametrize(
    "headers",
    [{"host": "evil.example"}, {"host": f"evil.example:{PORT}"}, {"host": f"127.0.0.1:{PORT + 1}"},
     {"origin": "http://evil.example"}, {"origin": "null"}, {"origin": f"http://127.0.0.1:{PORT + 1}"},
     {"sec-fetch-site": "cross-site"}, {"sec-fetch-site": "same-site"}],
)  # fmt: skip
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_another_host_or_origin_is_refused_even_with_the_key(client, headers, method):
    assert client.request(method, "/", headers=headers).status_code == 403


def test_the_desks_own_origin_is_heard(client, empty):
    assert client.get("/", headers={"origin": HOME, "sec-fetch-site": "same-origin"}).status_code == 200


CHANGING = ["/sheets", "/stop", "/invented", "/ask/session", "/drafts", "/sheets/x/remove", "/sheets/x/say"]


@pytest.mark.parametrize("path", CHANGING)
def test_no_get_changes_anything(client, empty, path):
    before = sorted(str(p) for p in empty.path.rglob("*"))
    assert client.get(path).status_code in {404, 405}
    assert sorted(str(p) for p in empty.path.rglob("*")) == before


def test_every_route_that_changes_takes_post_alone(client):
    routes = [route for route in client.app.app.routes if "POST" in (getattr(route, "methods", None) or ())]
    assert routes
    assert all(route.methods == {"POST"} for route in routes)


@pytest.mark.parametrize("path", ["/", "/nowhere", "/static/desk.js"])
def test_every_answer_forbids_inline_script_and_other_addresses(client, empty, path):
    policy = client.get(path).headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'self'" in policy
    assert "http" not in policy


def test_our_own_pages_hold_no_script_and_no_style_of_their_own(client, empty):
    page = client.get("/drafts/new").text + client.get("/").text
    assert "<style" not in page
    assert "style=" not in page
    assert page.count("<script") == page.count('<script src="/static/desk.js" defer></script>')


def test_more_than_the_limit_is_refused_and_nothing_is_left(client, empty, monkeypatch):
    monkeypatch.setattr("panelstats.desk.trust.LARGEST", 1000)
    sheet = SHEET * 20
    whole = client.post("/sheets", files=[("sheets", ("week.csv", sheet))])
    part = b'--x\r\nContent-Disposition: form-data; name="sheets"; filename="a.csv"\r\n\r\n'
    pieces = client.post(
        "/sheets",
        headers={"content-type": "multipart/form-data; boundary=x"},
        content=iter([part, *[b"1" * 500] * 4, b"\r\n--x--"]),  # no length is told beforehand
    )
    assert (whole.status_code, pieces.status_code) == (413, 413)
    assert "200 MB" in whole.text
    assert not [p for p in empty.sheets.rglob("*") if p.is_file()]


@pytest.mark.parametrize(
    ("name", "head", "safe"),
    [("week.csv", b"lot", "week.csv"), ("../../etc/passwd", b"root", "etc/passwd.csv"),
     ("..\\..\\a.xlsx", b"PK", "a.xlsx"), ("/abs/olute.CSV", b"", "abs/olute.csv"),
     ("C:\\x\\week.csv", b"", "x/week.csv"),
     ("week.html", b"<table>", "week.html.csv"), ("week", b"PK\x03\x04", "week.xlsx"),
     ("week.dat", b"\xd0\xcf\x11\xe0", "week.dat.xls"), ("2 March/elm.csv", b"", "2 March/elm.csv"),
     ("removed/elm.csv", b"", "removed-/elm.csv"), ("a/b/c/d/e.csv", b"", "b/c/d/e.csv"),
     ("..", b"", None), ("", b"", None), ("...", b"", None), (".hidden.csv", b"", None), ("nul.csv", b"", None),
     ("a\x00b\n.csv", b"", None), ("~$week.xlsx", b"PK", None), ("\u202egnp.csv", b"", None), ("x" * 999, b"", None),
     ("<b>x</b>.csv", b"", None), ("\ud800.csv", b"", None), (".panelstats-desk.lock", b"", None)],
)  # fmt: skip
def test_names_are_made_safe_and_folders_are_kept(tmp_path, name, head, safe):
    got = str(safe_place(name, head))
    assert safe is None or got == safe
    parts = got.split("/")
    assert not any(
        part.startswith((".", "~", " ")) or part.casefold() in {"removed", "pages", "nul.csv"} for part in parts
    )
    assert all(len(part.encode()) < 200 and part.isprintable() for part in parts)
    folder = Folder(tmp_path)
    folder.prepare()
    folder.add(name, io.BytesIO(head + b"1"))
    (kept,) = [p for p in tmp_path.rglob("*") if p.is_file()]
    assert kept == folder.sheets / got
    folder.remove(kept.relative_to(tmp_path).as_posix())
    assert (folder.sheets / "removed" / got).is_file()


def test_a_sheet_of_the_same_name_takes_nothing_away(tmp_path):
    folder = Folder(tmp_path)
    folder.prepare()
    assert folder.add("week.csv", io.BytesIO(b"one")) == ("week.csv", "")
    assert "already" in folder.add("week.csv", io.BytesIO(b"one"))[1]
    assert folder.add("week.csv", io.BytesIO(b"two"))[0] == "week (2).csv"
    assert "already" in folder.add("week.csv", io.BytesIO(b"two"))[1]
    assert folder.add("yew.csv", io.BytesIO(b"one"))[0] == "yew.csv"  # whether it is a copy, the room is asked
    assert sorted(p.read_bytes() for p in folder.sheets.iterdir()) == [b"one", b"one", b"two"]


def test_a_path_from_the_browser_leads_nowhere(client, empty):
    (empty.path / "secret.html").write_text("secret")
    for path in (
        "/pages/../secret.html/page",
        "/pages/..%2Fsecret.html/page",
        "/static/../app.py",
        "/static/%2e%2e/app.py",
    ):
        answer = client.get(path)
        assert answer.status_code in {400, 404}
        assert "secret" not in answer.text.replace("secret.html", "")
    (empty.path / "secret.html").unlink()


def test_hostile_files_become_a_sentence(client, empty):
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", "0" * 30_000_000)
    files = {
        "bomb.xlsx": bomb.getvalue(),
        "a.csv": b"%PDF-1.7 ...",
        "b.csv": b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]><a>&b;</a>',
    }
    answer = client.post("/sheets", files=[("sheets", item) for item in files.items()])
    for _ in range(100):
        if "data-progress" not in answer.text:
            break
        time.sleep(0.1)
        answer = client.get("/")
    assert answer.status_code == 200
    for name in files:
        assert f"sheets/{name}" in answer.text
    assert "PDF document" in answer.text


def test_the_second_desk_says_who_holds_the_room_and_only_reads(desk, empty):
    second = Desk(empty.path)
    try:
        with opened(second, key="secret") as client:
            client.get("/?key=secret")
            page = client.get("/drafts/new").text
            answer = client.post("/sheets", files=[("sheets", ("week.csv", SHEET))])
            shown = client.get("/").text
        assert f"process {os.getpid()}" in page
        assert answer.status_code == 400
        assert "close the other one to change anything" in answer.text
        assert "<button" not in shown
        assert not [p for p in empty.sheets.rglob("*") if p.is_file()]
    finally:
        second.close()


def test_a_lock_goes_with_a_process_that_is_killed(tmp_path):
    program = (
        "import sys, time; from pathlib import Path; from panelstats.desk.lock import Lock; "
        "lock = Lock(Path(sys.argv[1])); print(lock.held, flush=True); time.sleep(60)"
    )
    holder = subprocess.Popen([sys.executable, "-c", program, str(tmp_path)], stdout=subprocess.PIPE, text=True)
    try:
        assert holder.stdout.readline().strip() == "True"
        assert Lock(tmp_path).holder == f"process {holder.pid}"
    finally:
        holder.kill()
        holder.wait()
        holder.stdout.close()
    lock = Lock(tmp_path)
    assert lock.held
    lock.release()


def test_only_this_machine_is_listened_on(tmp_path):
    with desk_of(tmp_path / "room") as (address, process):
        assert address.startswith("http://127.0.0.1:")
        table = Path(f"/proc/{process.pid}/net/tcp")
        if not table.exists():
            pytest.skip("no table of sockets")
        port = f"{int(address.split(':')[2].split('/')[0]):04X}"
        mine = [line.split()[1] for line in table.read_text().splitlines()[1:] if line.split()[3] == "0A"]
        assert [place for place in mine if place.endswith(port)] == [f"0100007F:{port}"]  # 127.0.0.1, listening
        wide = Path(f"/proc/{process.pid}/net/tcp6")
        assert not wide.exists() or f":{port} " not in wide.read_text()


def test_a_room_whose_parts_are_links_is_refused_and_nothing_outside_is_written(tmp_path):
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "kept.txt").write_text("kept")
    for part in ("sheets", "pages", "drafts"):
        room = tmp_path / f"room with {part} elsewhere"
        room.mkdir()
        (room / part).symlink_to(outside)
        with pytest.raises(PanelError, match="link to another place"):
            Desk(room)
    room = tmp_path / "room with a lock elsewhere"
    room.mkdir()
    (room / ".panelstats-desk.lock").symlink_to(outside / "kept.txt")
    desk = Desk(room)
    assert not desk.lock.held
    desk.close()
    assert [(p.name, p.read_text()) for p in outside.iterdir()] == [("kept.txt", "kept")]


def test_a_page_that_is_a_link_is_not_shown(tmp_path):
    folder = Folder(tmp_path / "room")
    folder.path.mkdir()
    folder.prepare()
    (tmp_path / "secret.html").write_text("secret")
    (folder.pages / "week.html").symlink_to(tmp_path / "secret.html")
    assert folder.made() == {}


def test_a_folder_that_cannot_be_written_is_opened_to_read(tmp_path, monkeypatch):
    (tmp_path / "sheets").mkdir()
    monkeypatch.setattr("panelstats.desk.lock.os.open", _denied)
    desk = Desk(tmp_path)
    monkeypatch.undo()
    try:
        with opened(desk, key="secret") as client:
            page = client.get("/?key=secret")
            answer = client.post("/sheets", files=[("sheets", ("week.csv", SHEET))])
        assert "Permission denied" in page.text
        assert "open the copy" in page.text
        assert (answer.status_code, list((tmp_path / "sheets").iterdir())) == (400, [])
    finally:
        desk.close()


def _denied(*_):
    raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))


def test_a_room_that_cannot_be_made_is_one_error_on_the_command_line(tmp_path, capsys):
    (tmp_path / "file").write_text("x")
    assert main(["desk", str(tmp_path / "file" / "room"), "--no-browser"]) == 2
    told = capsys.readouterr().err
    assert "Traceback" not in told
    assert "name a folder you may write" in told


@pytest.mark.parametrize("length", ["abc", "-5", "1" * 400, "\u0663"])
def test_a_length_that_is_none_is_refused(client, length):
    answer = client.post("/stop", headers={"content-length": length.encode()})
    assert answer.status_code in {400, 413}


def test_a_form_may_hold_less_than_an_upload(client, empty, monkeypatch):
    monkeypatch.setattr("panelstats.desk.trust.FORM", 1000)
    answer = client.post("/drafts", data={"lots": "x" * 2000})
    assert (answer.status_code, "send less" in answer.text) == (413, True)
    assert client.post("/sheets", files=[("sheets", ("week.csv", SHEET * 3))]).status_code == 200


def test_what_was_not_finished_is_cleared_away(tmp_path):
    folder = Folder(tmp_path)
    folder.prepare()
    (folder.sheets / ".panelstats-x.part").write_text("half")
    Desk(tmp_path).close()
    assert not list(folder.sheets.iterdir())
