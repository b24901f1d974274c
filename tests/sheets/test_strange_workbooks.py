"""Workbooks made by other rooms' habits: each is in with `start` and one correction at most."""

import datetime

import openpyxl
import pytest

import panelstats as pst
from panelstats.sheets.reading.start import write_room

from .messy import delimited, workbook


def scores_of(scores):
    labels = [scores.frame[k].astype(str) for k in ("lot", "taster", "descriptor")]
    return dict(zip(zip(*labels, strict=True), scores.frame["score"], strict=True))


def corrected(path, sheet, key, answers):
    """Open a room workbook and write answers into the second column of a register."""
    book = openpyxl.load_workbook(path)
    for row in book[sheet].iter_rows(min_row=2):
        row[1].value = answers.get(row[0].value, row[1].value)
    assert key in [row[0].value for row in book[sheet].iter_rows(min_row=2)]
    book.save(path)


def test_lots_across_with_facts_stages_and_totals_a_sheet_per_taster(tmp_path):
    def page(taster):
        return [
            ["OSTREL QUAY TASTING"],
            ["Sale 14", None, "Taster:", taster],
            [],
            ["Lot No.", 2101, 2102, 2103],
            ["Grade", "BOP", "BOPF", "PD"],
            ["Bags", 40, 40, 60],
            ["DRY LEAF"],
            ["Appearance", 6, 7, 5.5],
            ["LIQUOR"],
            ["Colour", 7, "7-", 6],
            ["Brisk", "6½", 6, "abs"],
            ["Remarks", "bright", "slight smoke", None],
            ["Total", 19.5, 20, 11.5],
        ]

    path = tmp_path / "sale.xlsx"
    path.write_bytes(workbook({t: page(t) for t in ("Alder", "Beech")}))
    room = write_room(path)
    corrected(room, "marks", "7-", {"7-": 6.75})
    scores = pst.read_scores(path)
    one = {
        ("2101", "Appearance"): 6,
        ("2102", "Appearance"): 7,
        ("2103", "Appearance"): 5.5,
        ("2101", "Colour"): 7,
        ("2102", "Colour"): 6.75,
        ("2103", "Colour"): 6,
        ("2101", "Brisk"): 6.5,
        ("2102", "Brisk"): 6,
    }
    assert scores_of(scores) == {(x, t, d): s for (x, d), s in one.items() for t in ("Alder", "Beech")}
    assert dict(zip(scores.descriptors["descriptor"], scores.descriptors["stage"], strict=True)) == {
        "Appearance": "dry leaf",
        "Colour": "liquor",
        "Brisk": "liquor",
    }
    assert list(scores.lots["class"]) == ["broken", "fannings", "dust"]
    assert list(scores.sessions["session"]) == ["Sale 14"]
    assert scores.faults[["lot", "fault", "noticed", "said"]].drop_duplicates().to_numpy().tolist() == [
        ["2102", "smoky", True, "slight smoke"]
    ]


def test_marks_with_plus_and_minus(tmp_path):
    rows = [["Tea", "Invoice", "Colour", "Strength", "Overall", "Valuation"]]
    rows += [
        [f"UB/{i + 1}", str(300 + i), ["+", "++", "-", "+-"][i % 4], ["++", "+"][i % 2], 7 + (i % 3) / 2, 420 + i]
        for i in range(12)
    ]
    path = tmp_path / "tasting.xlsx"
    path.write_bytes(workbook({"Sheet1": rows}))
    with pytest.raises(pst.SheetError, match="words where scores may stand"):
        pst.read_scores(path)
    room = write_room(path)
    with pytest.raises(pst.SheetError, match="words where scores may stand"):
        pst.read_scores(path)  # what was asked and not answered is asked again
    worth = {"+": 6, "++": 8, "+-": 5, "-": 4}  # beside a plus, a minus is a mark and no blank
    corrected(room, "marks", "++", worth)
    scores = pst.read_scores(path)
    truth = {(r[0], "one taster", "Colour"): worth[r[2]] for r in rows[1:]}
    truth |= {(r[0], "one taster", "Strength"): worth[r[3]] for r in rows[1:]} | {
        (r[0], "one taster", "Overall"): r[4] for r in rows[1:]
    }
    assert scores_of(scores) == truth
    assert list(scores.lots["valuation"]) == [str(420 + i) for i in range(12)]  # money is a fact, never a score


def test_merged_headings_tasters_over_descriptors_with_averages(tmp_path):
    top = ["Lot", "Grade", "Alder", None, "Beech", None, "Average"]
    rows = [[str(500 + i), "BOP", 6 + i % 3, 7.5, 5 + i % 2, 7, "=AVERAGE(C3:F3)"] for i in range(6)]

    def merge(book):
        for block in ("A1:A2", "B1:B2", "C1:D1", "E1:F1", "G1:G2"):
            book["Week 14"].merge_cells(block)

    path = tmp_path / "week.xlsx"
    sheet = [
        top,
        [None, None, "Colour", "Brisk", "Colour", "Brisk", None],
        *rows,
        ["Average", None, 7, 7.5, 5.5, 7, 6.75],
    ]
    path.write_bytes(workbook({"Week 14": sheet}, finish=merge))
    scores = pst.read_scores(path)
    truth = {}
    for lot, _, *marks, _ in rows:
        truth |= dict(zip([(lot, t, d) for t in ("Alder", "Beech") for d in ("Colour", "Brisk")], marks, strict=True))
    assert scores_of(scores) == truth


def test_headings_in_another_language_a_file_per_taster(tmp_path):
    for taster in ("elm", "larch"):
        rows = [
            ["Partie", "Tasse", "Farbe", "Frische", "Bemerkung"],
            ["1", "1", 7.5, 6.0, ""],
            ["1", "2", 7.0, 6.5, "hell"],
            ["2", "1", 5.0, 4.0, ""],
        ]
        (tmp_path / f"{taster}.csv").write_bytes(delimited(rows, ";", ",", encoding="cp1252"))
    scores = pst.read_scores(tmp_path)
    keys = [scores.frame[k].astype(str) for k in ("lot", "pot", "taster", "descriptor")]
    one = {
        ("1", "1", "Farbe"): 7.5,
        ("1", "2", "Farbe"): 7,
        ("2", "1", "Farbe"): 5,
        ("1", "1", "Frische"): 6,
        ("1", "2", "Frische"): 6.5,
        ("2", "1", "Frische"): 4,
    }
    assert dict(zip(zip(*keys, strict=True), scores.frame["score"], strict=True)) == {
        (x, p, t, d): s for (x, p, d), s in one.items() for t in ("elm", "larch")
    }
    assert list(scores.remarks["remark"]) == ["hell", "hell"]


def test_an_export_with_headings_run_together(tmp_path):
    rows = [["SessionDate", "PanelistCode", "SampleCode", "AttributeName", "Value"]]
    for day in (1, 8):
        rows += [
            [datetime.date(2024, 3, day), p, s, a, 4 + day % 3]
            for p in ("P1", "P2")
            for s in ("417", "583")
            for a in ("Aroma", "Bitter")
        ]
    path = tmp_path / "export.xlsx"
    path.write_bytes(workbook({"Export": rows}))
    scores = pst.read_scores(path)
    assert scores_of(scores) == {
        (f"{s} (2024-03-0{day})", p, a): 4 + day % 3
        for day in (1, 8)
        for p in ("P1", "P2")
        for s in ("417", "583")
        for a in ("Aroma", "Bitter")
    }
    assert list(scores.sessions["session"]) == ["2024-03-01", "2024-03-08"]


def test_facts_over_and_under_lots_across_are_each_lots_own(tmp_path):
    path = tmp_path / "week.xlsx"
    page = [
        ["Garden", None, "North slope", None, "South slope", None],
        ["Invoice", None, "C310", "C311", None, "C313"],
        ["Taster", "Lot", 713, 714, 715, 716],
        ["Price", None, 2.1, None, 2.2, 2.3],
        ["elm", "Brisk", 6, 7, 5.5, 4],
        ["elm", "Body", 7, 6, 6, 5],
        ["yew", "Brisk", 6.5, 6, 5, 4],
        ["yew", "Body", 5, 7, 6, 5],
    ]
    path.write_bytes(workbook({"Sheet1": page}))
    scores = pst.read_scores(path)
    assert len(scores.frame) == 16
    lots = scores.lots.set_index("lot")
    assert lots["garden"].to_dict() == dict.fromkeys(("713", "714"), "North slope") | dict.fromkeys(
        ("715", "716"), "South slope"
    )
    assert lots["invoice"].to_dict() == {
        "713": "C310",
        "714": "C311",
        "715": "",
        "716": "C313",
    }  # one missing, not carried
    assert lots["price"].to_dict() == {"713": "2.1", "714": "", "715": "2.2", "716": "2.3"}
    told = scores.account.iloc[0]
    assert (told["seen"], told["scores"], told["facts"], told["blanks"]) == (28, 16, 10, 2)


def test_days_over_marks_are_sessions(tmp_path):
    path = tmp_path / "season.xlsx"
    days = [datetime.date(2026, 6, 1), datetime.date(2026, 6, 8)]
    path.write_bytes(workbook({t: [["Lot", *days], [41, 6, 7], [42, 5, 4.5]] for t in ("Elm", "Yew")}))
    scores = pst.read_scores(path)
    assert list(scores.sessions["session"]) == ["2026-06-01", "2026-06-08"]
    assert list(scores.tasters["taster"]) == ["Elm", "Yew"]
    assert list(scores.descriptors["descriptor"]) == ["score"]
    assert scores.frame["score"].tolist() == [6, 5, 7, 4.5] * 2


@pytest.mark.parametrize(
    ("answer", "lots", "words"), [("garden", 4, ["score"]), ("descriptors", 4, ["North", "South"])]
)
def test_what_stands_over_groups_of_lots_is_asked(tmp_path, answer, lots, words):
    path = tmp_path / "week.xlsx"
    page = [[None, "North", None, "South", None], ["Taster", 41, 42, 43, 44], ["elm", 6, 7, 5, 4], ["yew", 6, 5, 5, 3]]
    path.write_bytes(workbook({"Sheet1": page}))
    with pytest.raises(pst.SheetError, match="headings over groups of lots"):
        pst.read_scores(path)
    room = write_room(path)
    book = openpyxl.load_workbook(room)
    at = [cell.value for cell in book["questions"][1]].index("answer") + 1
    book["questions"].cell(2, at).value = answer
    book.save(room)
    scores = pst.read_scores(path)
    assert (len(scores.lots), sorted(scores.descriptors["descriptor"])) == (lots, words)
    if answer == "garden":
        assert list(scores.lots["garden"]) == ["North", "North", "South", "South"]


def test_tasters_under_lots_in_a_column_without_a_known_heading(tmp_path):
    path = tmp_path / "pivot.xlsx"
    page = [["Row Labels", "Colour", "Strength", "Body"]]
    for lot in (41, 42, 43):
        page += [[lot, None, None, None], ["elm", 6, 7, lot - 36], ["yew", 5, 6.5, 4]]
    path.write_bytes(workbook({"Sheet1": page}))
    scores = pst.read_scores(path)
    assert sorted(scores.lots["lot"]) == ["41", "42", "43"]
    assert scores_of(scores)["42", "elm", "Body"] == 6
    assert len(scores.frame) == 18


def test_a_tab_left_empty_is_blank_from_its_first_line_to_its_last(tmp_path):
    path = tmp_path / "week.xlsx"
    full = [["Lot", "Colour", "Body"], *([lot, 6, 5 + lot % 3] for lot in range(41, 47))]
    path.write_bytes(workbook({"elm": full, "yew": [full[0], *([lot, None, None] for lot in range(41, 47))]}))
    account = pst.read_scores(path).account.set_index("sheet")
    assert account.loc["yew", ["seen", "scores", "blanks"]].tolist() == [12, 0, 12]


def test_two_marks_in_one_cell_of_numbers_are_no_points_out_of_some(tmp_path):
    path = tmp_path / "week.xlsx"
    marks = [6, "7/8", 5, "6/8", 7, 4]
    path.write_bytes(workbook({"elm": [["Lot", "Body"], *([41 + n, mark] for n, mark in enumerate(marks))]}))
    with pytest.raises(pst.SheetError, match="a range, or two numbers in one cell"):
        pst.read_scores(path)
