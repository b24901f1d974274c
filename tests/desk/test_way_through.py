"""The way through without a script: dropped, questioned, answered, remembered, read."""

import re
import shutil
import time

import pandas as pd
from opening import SHEET

import panelstats as pst


def settled(client, answer):
    """The page once what it waits for is done."""
    for _ in range(800):
        to = re.search(r'data-progress="([^"]+)"', answer.text)
        if not to:
            return answer
        time.sleep(0.025)
        answer = client.get(to[1])
    raise AssertionError("it never ends")


def drop(client, *files):
    answer = client.post("/sheets", files=[("sheets", (name, content)) for name, content in files])
    return settled(client, answer)


def key_in(answer, name):
    return re.search(rf'{re.escape(name)}</bdi>.*?/sheets/(\w+)"', answer.text, re.DOTALL)[1]


def test_an_empty_room_offers_the_invented_one_and_a_blank_sheet(client, empty):
    answer = settled(client, client.get("/"))
    assert 'action="/invented"' in answer.text
    assert client.get("/starter.xlsx").content.startswith(b"PK")
    answer = settled(client, client.post("/invented"))
    assert "24 lots, 9 tasters" in answer.text
    assert ": ready" in answer.text
    assert [path.name for path in empty.sheets.glob("*.*")] == ["invented-room.xlsx"]


def test_a_sheet_is_read_at_once_and_its_account_adds_up(client, empty):
    answer = drop(client, ("week.csv", SHEET))
    assert "8 lots, 3 tasters, 2 words: ready" in answer.text
    assert "48 cells = 48 scores" in answer.text


def test_a_page_is_the_one_that_the_command_line_writes(client, empty, tmp_path):
    drop(client, ("week.csv", SHEET))
    answer = settled(client, client.post("/ask/session", data={}))
    assert "<iframe" in answer.text
    (page,) = empty.pages.glob("*.html")
    from panelstats.cli import main

    assert main([str(empty.path), "--out", str(tmp_path)]) == 0
    (same,) = tmp_path.glob("*.html")
    assert (page.name, page.read_bytes()) == (same.name, same.read_bytes())
    (book,) = empty.pages.glob("*.xlsx")
    assert book.read_bytes() == same.with_suffix(".xlsx").read_bytes()
    key = re.search(r'src="/pages/(\w+)/page"', answer.text)[1]
    shown = client.get(f"/pages/{key}/page")
    assert shown.content == page.read_bytes()
    assert "sandbox" in shown.headers["content-security-policy"]
    assert client.get(f"/pages/{key}/workbook").content == book.read_bytes()
    assert "attachment" in client.get(f"/pages/{key}/save").headers["content-disposition"]


def test_a_question_is_answered_noted_obeyed_and_not_asked_next_week(client, empty):
    rows = "".join(f"{lot},{taster},{5 + lot % 3},{lot}\n" for taster in ("elm", "yew") for lot in range(1, 13))
    answer = drop(client, ("week.csv", f"lot,taster,brisk,ranking order\n{rows}"))
    assert "1 question" in answer.text
    key = key_in(answer, "sheets/week.csv")
    asked = settled(client, client.get(f"/sheets/{key}"))
    assert "What stands under the heading &#39;ranking order&#39;?" in asked.text
    button = re.search(r'name="(answer-\w+)" value="fact"', asked.text)[1]
    said = settled(client, client.post(f"/sheets/{key}/say", data={button: "fact"}))
    assert "Noted in room.xlsx" in said.text
    assert pst.read_scores(empty.path).descriptors["descriptor"].tolist() == ["brisk"]
    again = drop(client, ("week2.csv", f"lot,taster,brisk,ranking order\n{rows.replace('1,elm', '21,elm')}"))
    assert "question" not in re.search(r"week2.csv</bdi>.*?</li>", again.text, re.DOTALL)[0]
    assert re.search(r"Read as on [^;<]+; changed since: nothing", again.text)


def test_a_column_is_said_to_be_something_else(client, empty):
    answer = drop(client, ("week.csv", SHEET))
    key = key_in(answer, "sheets/week.csv")
    page = settled(client, client.get(f"/sheets/{key}"))
    name = re.search(r'name="(column-\w+)" aria-label="Column D, colour', page.text)[1]
    client.post(f"/sheets/{key}/say", data={name: "left out"})
    assert pst.read_scores(empty.path).descriptors["descriptor"].tolist() == ["brisk"]
    page = settled(client, client.get(f"/sheets/{key}"))
    assert re.search(r'aria-label="Column D, colour.*?<option value="left out" selected>', page.text, re.DOTALL)


def test_marks_get_their_worth(client, empty):
    sheet = SHEET.replace("1,elm,4,", "1,elm,7-,") if "1,elm,4," in SHEET else SHEET.replace("1,elm,", "1,elm,7-;", 1)
    sheet = re.sub(r"^(1|3),elm,\d,", r"\1,elm,7-,", SHEET, flags=re.MULTILINE)
    answer = drop(client, ("week.csv", sheet))
    key = key_in(answer, "sheets/week.csv")
    page = settled(client, client.get(f"/sheets/{key}"))
    worth = re.search(r'name="(worth-\w+)"', page.text)[1]
    refused = client.post(f"/sheets/{key}/say", data={worth: "much"})
    assert refused.status_code == 400
    assert "write points such as 6.75" in refused.text.casefold()
    client.post(f"/sheets/{key}/say", data={worth: "6,75"})
    assert pst.read_scores(empty.path).frame["score"].tolist().count(6.75) == 2


def test_one_answer_settles_all_questions_of_its_kind(client, empty):
    letters = SHEET.replace(",4,", ",A,").replace(",5,", ",B,")
    rows = [line.split(",") for line in letters.splitlines()]
    sheet = "\n".join(",".join([lot, taster, *("ABCDE"[int(m) % 5] if m.isdigit() else m for m in marks)])
                      for lot, taster, *marks in rows)  # fmt: skip
    sheet = re.sub(r",([AB]),", r",\1,", sheet)
    answer = drop(client, ("week.csv", sheet))
    assert "2 questions" in answer.text
    key = key_in(answer, "sheets/week.csv")
    page = settled(client, client.get(f"/sheets/{key}"))
    assert page.text.count("the same for the other question of this kind") == 2
    assert "sheet marks" not in page.text  # where they stand in room.xlsx; here they stand below
    name = re.search(r'name="(answer-(\w+))" value="scores"', page.text)
    said = {name[1]: "scores", f"alike-{name[2]}": "yes"}
    settled(client, client.post(f"/sheets/{key}/say", data=said))
    assert len(pst.read_scores(empty.path).descriptors) == 2


def test_a_folder_keeps_its_folders_since_they_tell_sessions(client, empty, tmp_path):
    days = {"2026-03-02": SHEET, "2026-03-09": SHEET.replace(",4\n", ",5\n")}
    drop(client, *[(f"season/{day}/week.csv", text) for day, text in days.items()])
    for day, text in days.items():
        assert (empty.sheets / "season" / day / "week.csv").read_text() == text
        (tmp_path / "season" / day).mkdir(parents=True)
        (tmp_path / "season" / day / "week.csv").write_text(text)
    sessions = pst.read_scores(empty.path).sessions["session"].tolist()
    assert sessions == pst.read_scores(tmp_path / "season").sessions["session"].tolist()
    assert len(sessions) == 2


def test_questions_that_the_data_cannot_answer_say_what_they_lack(client, empty):
    answer = drop(client, ("week.csv", SHEET))
    assert "Needs sheets of more than one session." in answer.text
    assert "Needs a column of prices or valuations beside the lots." in answer.text
    assert 'action="/ask/season"' not in answer.text


def test_what_stands_open_stops_a_question_until_it_is_left_out(client, empty):
    answer = drop(
        client, ("week.csv", SHEET.replace("3,yew,", "3,yew,seven;x", 1)), ("other.csv", SHEET.replace("elm", "oak"))
    )
    if "without what is open" not in answer.text:
        raise AssertionError(answer.text)
    stopped = settled(client, client.post("/ask/session", data={}))
    assert "Not yet" in stopped.text
    assert not list(empty.pages.glob("*.html"))
    assert "<iframe" in settled(client, client.post("/ask/session", data={"set_aside": "yes"})).text


def test_a_removed_sheet_lies_in_removed_and_is_not_read(client, empty):
    answer = drop(client, ("week.csv", SHEET), ("more.csv", SHEET.replace("elm", "oak")))
    settled(client, client.post(f"/sheets/{key_in(answer, 'sheets/more.csv')}/remove"))
    assert (empty.sheets / "removed" / "more.csv").read_text() == SHEET.replace("elm", "oak")
    assert "oak" not in set(pst.read_scores(empty.path).tasters["taster"])


def test_names_on_sheets_are_never_markup(client, empty):
    answer = drop(client, ("week.csv", SHEET.replace("colour", "<b>&colour</b>").replace("elm", "<script>x</script>")))
    page = settled(client, client.get(f"/sheets/{key_in(answer, 'sheets/week.csv')}"))
    assert "&lt;b&gt;&amp;colour&lt;/b&gt;" in page.text
    assert "<script>x" not in page.text + answer.text


def test_a_sheet_typed_on_the_desk_reads_as_it_was_typed(client, empty):
    form = {
        "session": "2031-03-02",
        "taster": "elm",
        "lots": "1-3\nA",
        "words": "brisk\ncolour",
        "low": "0",
        "high": "10",
    }
    page = client.post("/drafts", data=form)
    assert page.text.count("<input") == 8
    url = str(page.url)
    cells = {f"c{r}-{c}": str(r + c) for r in range(4) for c in range(2)} | {"c1-0": ""}
    assert client.post(url, data={**cells, "step": "auto"}).status_code == 204
    assert 'value="4"' in client.get(url).text
    odd = client.post(url, data={**cells, "c2-0": "11", "step": "finish"})
    assert odd.status_code == 422
    assert "lot 3, brisk: 11" in odd.text
    client.post(url, data={**cells, "step": "finish"})
    assert not list(empty.drafts.iterdir())
    scores = pst.read_scores(empty.path)
    frame = scores.frame.astype({"lot": str, "descriptor": str})
    typed = frame.set_index(["lot", "descriptor"])["score"].to_dict()
    assert typed == {(lot, word): r + c for r, lot in enumerate("123A") for c, word in enumerate(("brisk", "colour"))
                     if (lot, word) != ("2", "brisk")}  # fmt: skip
    pd.testing.assert_series_equal(
        scores.sessions["session"], pd.Series(["2031-03-02"], name="session"), check_dtype=False
    )


def test_each_row_is_shown_as_what_it_was_taken_for_and_one_in_doubt_wherever_it_stands(client, empty):
    rows = [f"{lot},{taster},{4 + (lot + n) % 5},{3 + (2 * lot + n) % 6}" for lot in range(1, 101)
            for n, taster in enumerate(("elm", "yew"))]  # fmt: skip
    rows[149] = rows[149].rpartition(",")[0] + ",?!"
    room = drop(client, ("week.csv", "\n".join(["Tea of the week,,,", "", "lot,taster,brisk,colour", *rows, ""])))
    page = settled(client, client.get(f"/sheets/{key_in(room, 'sheets/week.csv')}")).text
    kinds = dict(re.findall(r'<tr class="(\w+)"><th scope="row">(\d+)</th>', page)[::-1])
    told = {int(number): kind for kind, number in re.findall(r'<tr class="(\w+)"><th scope="row">(\d+)</th>', page)}
    assert kinds
    assert told[1] == "beside"
    assert told[3] == "heading"
    assert set(told) >= {*range(1, 41), 153}  # the first forty, and the one with what cannot be read
    assert "?!" in page
    assert len(told) < 60


def test_what_lies_among_pages_drafts_and_removed_is_no_sheet(client, empty):
    drop(client, ("week.csv", SHEET))
    for part in (empty.pages, empty.drafts, empty.sheets / "removed"):
        part.mkdir(exist_ok=True)
        (part / "other.csv").write_text(SHEET.replace("elm", "oak"))
    assert set(pst.read_scores(empty.path).tasters["taster"]) == {"ash", "elm", "yew"}
    assert "oak" not in settled(client, client.get("/")).text.split('id="ask"')[0]
    (empty.pages / "other.csv").unlink()


def test_a_room_that_was_copied_gives_the_same_page(client, empty, tmp_path):
    from panelstats.cli import main

    drop(client, ("week.csv", SHEET))
    settled(client, client.post("/ask/tasters", data={}))
    copy = tmp_path / "elsewhere" / empty.path.name
    shutil.copytree(empty.path, copy)
    (tmp_path / "out").mkdir()
    assert main(["tasters", str(copy), "--out", str(tmp_path / "out")]) == 0
    (page,) = empty.pages.glob("*-tasters.html")
    assert (tmp_path / "out" / page.name).read_bytes() == page.read_bytes()


def test_a_page_that_nobody_waits_for_lies_among_the_pages(client, empty):
    drop(client, ("week.csv", SHEET))
    client.post("/ask/summary", data={}, follow_redirects=False)
    for _ in range(200):
        if list(empty.pages.glob("*.html")):
            break
        time.sleep(0.05)
    assert "A page for the buyer" in settled(client, client.get("/")).text.split('id="pages"')[1]


def test_the_desk_says_what_it_does_not_do_and_its_script_is_small(client, empty):
    footer = client.get("/").text.split("<footer>")[1]
    assert "no account, no counting of visits, no search for updates" in footer
    assert str(empty.path) in footer
    script = client.get("/static/desk.js").text
    assert len(script.encode()) < 20_000
    assert "http" not in script
    assert "http" not in client.get("/static/desk.css").text
