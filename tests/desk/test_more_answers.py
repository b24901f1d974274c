"""What comes with a page or beside sheets: plans whose sheets are dropped again, letters, lists, sheets for people."""

import io
import re
import shutil
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from opening import SHEET, opened
from scipy.stats import binomtest
from test_way_through import drop, settled

import panelstats as pst
from panelstats.desk import work
from panelstats.desk.folder import Folder
from panelstats.desk.state import Desk

DATA = Path(__file__).parents[2] / "data"


def filled(path, column, values):
    """A workbook with a column filled in, as bytes."""
    book = openpyxl.load_workbook(path)
    for page in book:
        for row in range(2, page.max_row + 1):
            page.cell(row, column).value = next(values)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def test_a_tasting_is_planned_in_an_empty_room_and_its_filled_sheets_are_read(client, empty):
    page = settled(client, client.get("/"))
    assert "Plan the next tasting" in page.text
    asked = {"lots": "6", "tasters": "elm, yew", "limit": "9", "controls": "S", "session": "monday", "service": "tray"}
    answer = settled(client, client.post("/ask/plan", data=asked))
    assert "<iframe" in answer.text
    assert "from the tasters" in answer.text
    assert answer.text.count(">sheet-") == 2
    (folder,) = {page.parent for page in empty.pages.rglob("sheet-*.xlsx")}
    plan = pst.plan_session([str(n + 1) for n in range(6)], ["elm", "yew"], service="tray", limit=9, controls=["S"],
                            sessions=["monday"])  # fmt: skip
    assert folder.name.endswith(plan.plan_id)
    sheets = [(path.name, filled(path, 6, iter(range(3, 10)))) for path in sorted(folder.glob("sheet-*.xlsx"))]
    room = drop(client, *sheets)
    assert room.text.count("7 lots, 1 taster, 7 words: ready") == 2
    scores = pst.read_scores(empty.path)
    assert set(scores.lots["lot"]) == {*map(str, range(1, 7)), "S"}
    assert set(scores.sessions["session"]) == {"monday"}
    codes = pd.read_excel(empty.path / "room.xlsx", sheet_name="codes", engine="openpyxl")
    assert set(codes["plan"]) == {plan.plan_id}


def test_a_difference_test_is_planned_and_judged(client, empty):
    settled(client, client.get("/"))
    asked = {"kind": "triangle", "tasters": "elm, yew, larch", "products": "S, B1", "trials": "2"}
    answer = settled(client, client.post("/ask/plates", data=asked))
    assert answer.text.count(">sheet-") == 3
    (folder,) = {page.parent for page in empty.pages.rglob("sheet-*.xlsx")}
    key = pd.read_excel(empty.path / "room.xlsx", sheet_name="sets", dtype=str, engine="openpyxl")
    sheets = []
    for path in sorted(folder.glob("sheet-*.xlsx")):
        who = path.stem.removeprefix("sheet-")
        sheets.append((path.name, filled(path, 6, iter(key.loc[key["taster"] == who, "right"]))))
    room = drop(client, *sheets)
    assert room.text.count("answers of difference tests: ready") == 3
    answer = settled(client, client.post("/ask/differ", data={}))
    assert "<iframe" in answer.text
    assert pst.judge_answers(pst.read_answers(empty.path)).table["correct"].tolist() == [6]


def test_an_impossible_plan_is_told_with_what_to_do_and_writes_nothing(client, empty):
    settled(client, client.get("/"))
    asked = {"lots": "30", "tasters": "elm", "limit": "10"}
    answer = settled(client, client.post("/ask/plan", data=asked))
    assert "serve a control in every session" in answer.text
    assert not [path for path in empty.pages.rglob("*") if path.is_file()]
    assert not (empty.path / "room.xlsx").exists()


def test_everybody_gets_a_sheet_and_each_garden_a_letter(client, empty):
    head, *rows = SHEET.splitlines()
    made = [f"{row},{'north' if int(row.split(',')[0]) % 2 else 'south'}" for row in rows]
    drop(client, ("week.csv", "\n".join([f"{head},garden", *made, ""])))
    answer = settled(client, client.post("/ask/tasters", data={}))
    assert all(f">{name}</a>" in answer.text for name in ("elm", "yew", "ash"))
    settled(client, client.post("/ask/garden", data={"garden": "each of them"}))
    letters = {path.name.rpartition("-")[2] for path in empty.pages.glob("*-garden-*.html")}
    assert letters == {"north.html", "south.html"}


def test_stock_and_weighings_dropped_under_any_name_are_used(client, empty):
    lots = "lot,kg,price per kg,min,max\n" + "".join(f"{lot},300,4,0,0.9\n" for lot in (1, 2, 3))
    weighed = "lot,grade,state,mass,volume\n" + "".join(
        f"{lot},dust,loose,{30 + lot + n},100\n" for lot in range(1, 5) for n in (0, 1)
    )
    room = drop(client, ("week.csv", SHEET), ("chests.csv", lots), ("scales.csv", weighed))
    assert "the stock to mix: ready" in room.text
    assert "weighings of the leaf: ready" in room.text
    assert "question" not in re.search(r'class="sheets">.*?</ul>', room.text, re.DOTALL)[0]
    answer = settled(client, client.post("/ask/pack", data={"grams": "250", "millilitres": "900"}))
    assert "<iframe" in answer.text
    answer = settled(client, client.post("/ask/blend", data={"standard": "8", "grams": "250", "millilitres": "900"}))
    assert "<iframe" in answer.text
    page = next(empty.pages.glob("*recipes*.html")).read_text("utf-8")
    (book,) = empty.pages.glob("*recipes*.xlsx")
    tables = pd.read_excel(book, sheet_name=None, engine="openpyxl")
    shares = next(table for table in tables.values() if {"lot", "share"} <= set(table.columns))
    assert set(shares["lot"].astype(str)) <= {"1", "2", "3"}  # of the stock alone, not of all eight lots
    assert "g/ml" in page


def test_a_plan_in_a_room_with_sheets_opens_no_question_and_joins_no_session(client, empty):
    drop(client, ("week.csv", SHEET))
    asked = {"lots": "x3, oddment, <b>9</b>", "tasters": "elm, oak, larch, fir", "limit": "9", "controls": "C",
             "excluded": "oak=x3, fir=oddment", "warm_up": "a plain tea", "descriptors": "brisk, colour"}  # fmt: skip
    answer = settled(client, client.post("/ask/plan", data=asked))
    assert answer.text.count(">sheet-") == 4
    room = settled(client, client.get("/"))
    assert "8 lots, 3 tasters, 2 words: ready" in room.text
    codes = pd.read_excel(empty.path / "room.xlsx", sheet_name="codes", engine="openpyxl", dtype=str)
    assert codes["session"].str.fullmatch(r"\d{4}-\d\d-\d\d").all()  # the day: "1" is what the sheet's own is called
    for path in empty.pages.rglob("sheet-*.xlsx"):
        heads = [cell.value for cell in openpyxl.load_workbook(path).active[1]]
        assert heads[-2:] == ["brisk", "colour"] or {"brisk", "colour"} <= set(heads)


@pytest.mark.parametrize("name", ["row", "blends"])
def test_a_plan_takes_nothing_from_what_a_workbook_says_of_itself(name, tmp_path):
    folder = Folder(tmp_path / "room")
    folder.path.mkdir()
    folder.prepare()
    shutil.copy(DATA / f"{name}.xlsx", folder.sheets)
    before = pst.read_scores(folder.path)
    given = {"lots": "6", "tasters": "alder, oak", "limit": "9", "controls": "C"}
    work.ask(str(folder.path), folder.state(), "plan", given)
    after = pst.read_scores(folder.path)  # its registers of codes, lots and words count as before
    pd.testing.assert_frame_equal(after.frame, before.frame)
    pd.testing.assert_frame_equal(after.faults, before.faults)
    for table in ("lots", "sessions", "descriptors"):
        columns = list(getattr(before, table))
        pd.testing.assert_frame_equal(getattr(after, table)[columns], getattr(before, table), check_dtype=False)


def test_two_teas_are_judged_from_counts(client, empty):
    # Triangle: one-sided binomial at a chance of one third (scipy.stats.binomtest: 0.0125).
    found = binomtest(19, 36, 1 / 3, alternative="greater").pvalue
    answer = settled(client, client.post("/ask/counted", data={"kind": "triangle", "correct": "19", "answers": "36"}))
    assert "Do two teas differ, from counts? triangle-19-36" in answer.text
    (page,) = empty.pages.glob("*.html")
    assert f"p = {found:.3f}" in page.read_text("utf-8")


def test_a_page_tells_that_the_sheets_are_newer(client, empty):
    drop(client, ("week.csv", SHEET))
    answer = settled(client, client.post("/ask/summary", data={"lots": "3, 5"}))
    assert "are newer" not in answer.text
    assert "A page for the buyer" in client.get("/").text.split('id="pages"')[1]
    drop(client, ("other.csv", SHEET.replace("elm", "oak")))
    assert "are newer: ask again" in client.get("/").text
    assert "are newer than this page" in client.get(str(answer.url)).text


def test_every_command_has_its_question_or_its_place_on_the_desk():
    from panelstats.cli.commands import COMMANDS
    from panelstats.desk.asks import ASKS

    # What the desk does without a question.
    places = {"read": "how we read it", "start": "answers are noted", "example": "the invented room", "desk": "itself"}
    assert set(COMMANDS) - set(ASKS) == set(places)
    # Questions that a command answers by the form of its source, or by an option of it.
    assert set(ASKS) - set(COMMANDS) == {"counted", "plates"}


def test_the_desk_and_its_pages_speak_the_language_that_was_asked_for(tmp_path):
    desk = Desk(tmp_path / "raum", "de")
    try:
        with opened(desk, key="secret") as client:
            client.get("/?key=secret")
            room = drop(client, ("week.csv", SHEET))
            assert '<html lang="de">' in room.text
            assert "8 Partien, 3 Personen, 2 Eigenschaften: bereit" in room.text
            assert "Wie waren die Partien?" in room.text
            refused = client.post("/ask/shortlist", data={"take": "-1"})
            assert "ist keine Anzahl" in refused.text
            assert "zurückgehen" in refused.text.casefold()
            answer = settled(client, client.post("/ask/session", data={}))
            key = re.search(r'src="/pages/(\w+)/page"', answer.text)[1]
            assert '<html lang="de">' in client.get(f"/pages/{key}/page").text
    finally:
        desk.close()
