"""What a room answers in its questions is obeyed: headings in any language, rival files, errors, names, figures."""

from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
import xlsxwriter

import panelstats as pst

TASTERS = ("alder", "beech", "elm")


def scores(heads: tuple[str, ...] = ("Lot", "Taster", "Brisk", "Body"), lots: int = 5) -> pd.DataFrame:
    rows = [
        (101 + n, who, 3 + (n * 2 + t) % 5, 4 + (n + 2 * t) % 5) for n in range(lots) for t, who in enumerate(TASTERS)
    ]
    return pd.DataFrame(rows, columns=list(heads))


def answered(source: object, answers: dict[str, str], **room: pd.DataFrame) -> pst.Scores:
    """Read with every question answered: by the word whose key stands in it, else yes."""
    asked = pst.examine_sheets(source, room=room or None).questions
    asked["answer"] = [next((a for key, a in answers.items() if key in what), "yes") for what in asked["what"]]
    return pst.read_scores(source, room={**room, "questions": asked})


@pytest.mark.parametrize(
    ("heads", "unknown"),
    [
        (("Kura", "Mwonjaji", "Brisk", "Body"), {"Kura": "lot", "Mwonjaji": "taster"}),
        (("Lot", "Mwonjaji", "Brisk", "Body"), {"Mwonjaji": "taster"}),
        (("Kura", "Taster", "Brisk", "Body"), {"Kura": "lot"}),
        (("Lot", "Mwonjaji", "rangi", "nguvu"), {"Mwonjaji": "taster", "rangi": "score", "nguvu": "score"}),
    ],
)
def test_every_heading_nobody_understood_is_asked_about_in_one_go(heads, unknown):
    frame = scores(heads)
    found = pst.examine_sheets(frame)
    asked = {
        h: g
        for h in heads
        for w, g in zip(found.questions["what"], found.questions["guess"], strict=True)
        if repr(h) in w
    }
    assert asked == unknown
    assert all(len(seen.split(",")) >= 3 for seen in found.questions["seen"])
    assert list(found.columns["heading"]) == list(heads)
    assert set(found.columns.loc[found.columns["means"] == "?", "heading"]) == set(unknown)
    read = answered(frame, {})
    assert read.frame["score"].tolist() == [*frame[heads[2]], *frame[heads[3]]]
    assert list(read.tasters["taster"]) == list(TASTERS)


def test_pots_and_days_under_unknown_headings_are_no_scores():
    frame = scores(("Kura", "Mwonjaji", "rangi", "nguvu"))
    twice = pd.concat([frame.assign(Chungu=1), frame.assign(Chungu=2)]).assign(Tarehe="2026-03-02")
    read = answered(twice, {})
    assert list(read.descriptors["descriptor"]) == ["rangi", "nguvu"]
    assert set(read.frame["pot"]) == {1, 2}
    assert list(read.sessions["session"]) == ["2026-03-02"]


def test_room_lists_headings_with_what_stands_below_them_and_takes_the_answer_there(tmp_path):
    path = tmp_path / "week.csv"
    scores(("Kura", "Mwonjaji", "Brisk", "Body")).to_csv(path, index=False)
    room = pst.write_room(path)
    book = openpyxl.load_workbook(room)
    rows = {row[0].value: row for row in book["headings"].iter_rows(min_row=2)}
    assert rows["Kura"][2].value == "101, 102, 103 ..."
    assert rows["Kura"][3].value == "?"
    rows["Kura"][3].value, rows["Mwonjaji"][3].value = "lot", "taster"
    book.save(room)
    assert len(pst.read_scores(path).frame) == 30


def test_messages_name_the_file(tmp_path):
    path = tmp_path / "week one.csv"
    scores(("Kura", "Taster", "Brisk", "Body")).to_csv(path, index=False)
    with pytest.raises(pst.SheetError, match=r"panelstats start '.*week one\.csv'"):
        pst.read_scores(path)


def test_lot_of_garden_and_invoice():
    frame = scores().drop(columns="Lot")
    frame.insert(0, "Garden", np.repeat(["Upper", "Upper", "Upper", "Lower", "Lower"], 3))
    frame.insert(1, "Invoice", np.repeat([1, 2, 3, 1, 2], 3))
    assert list(answered(frame, {}).lots["lot"])[:2] == ["Upper / 1", "Upper / 2"]


@pytest.mark.parametrize("over", ["lot", "taster"])
def test_lots_and_tasters_in_one_column(over):
    frame = scores()
    rows = []
    for name, part in frame.groupby(over.capitalize(), sort=False):
        rows.append([name, part["Brisk"].mean(), part["Body"].mean()])
        rows += part[["Taster" if over == "lot" else "Lot", "Brisk", "Body"]].to_numpy().tolist()
    read = pst.read_scores(pd.DataFrame(rows, columns=["Row Labels", "Brisk", "Body"]))
    got = read.frame.astype({"lot": int, "taster": str, "descriptor": str})
    want = frame.melt(["Lot", "Taster"], value_name="score")
    merged = want.merge(got, left_on=["Lot", "Taster", "variable"], right_on=["lot", "taster", "descriptor"])
    assert len(merged) == len(want) == len(got)
    assert (merged["score_x"] == merged["score_y"]).all()


def test_one_of_two_files_holds(tmp_path):
    first = scores()
    first.to_csv(tmp_path / "week.csv", index=False)
    first.assign(Brisk=first["Brisk"] + 1).to_csv(tmp_path / "week corrected.csv", index=False)
    with pytest.raises(pst.SheetError, match=r"30 servings scored in week corrected\.csv and in week\.csv"):
        pst.read_scores(tmp_path)
    assert answered(tmp_path, {}).frame["score"].sum() == first["Brisk"].sum() + 15 + first["Body"].sum()
    kept = answered(tmp_path, {"which holds": "week.csv"})
    assert kept.frame["score"].sum() == first["Brisk"].sum() + first["Body"].sum()
    assert any("holds for these servings, as answered" in why for why in kept.inferred["why"])


def test_error_cells_are_blanks_once_answered():
    frame = scores().astype({"Brisk": object})
    frame.loc[[3, 7], "Brisk"] = "#DIV/0!"
    with pytest.raises(pst.SheetError, match="an error cell, 2 cells"):
        pst.read_scores(frame)
    read = answered(frame, {})
    assert len(read.frame) == 28
    assert read.account["blanks"].sum() == 2


def test_names_no_register_lists_are_asked_one_by_one():
    tasters = pd.DataFrame({"taster": ["spruce", "yew"]})
    read = answered(scores(), {"'elm'": "yew"}, tasters=tasters)
    assert set(read.frame["taster"]) == {"alder", "beech", "yew"}


@pytest.mark.parametrize(("answer", "score"), [("yes", None), ("7.5", 7.5), ("7,5", 7.5), ("33", None), ("", None)])
def test_a_figure_beyond_the_scale_is_left_out_or_mended(answer, score):
    frame = scores().astype({"Brisk": float})
    frame.loc[4, "Brisk"] = 75
    scale = pd.DataFrame({"descriptor": ["Brisk", "Body"], "low": 0, "high": 10})
    if answer in ("33", ""):
        with pytest.raises(pst.SheetError, match="outside the scale"):
            answered(frame, {"75 under": answer}, descriptors=scale)
        return
    read = answered(frame, {"75 under": answer}, descriptors=scale)
    assert len(read.frame) == 30 - (score is None)
    assert (read.frame["score"] == 7.5).sum() == (score is not None)


def struck(path: Path) -> Path:
    book = xlsxwriter.Workbook(path)
    page, out, plain = book.add_worksheet(), book.add_format({"font_strikeout": True}), book.add_format()
    frame = scores(lots=3)
    page.write_row(0, 0, list(frame.columns))
    for r, row in enumerate(frame.to_numpy().tolist(), 1):
        page.write_row(r, 0, row)
    page.write_rich_string(2, 2, out, "5", plain, "8")
    page.write_comment(3, 3, "slightly smoky", {"author": ""})
    book.close()
    return path


def test_part_of_a_cell_struck_out_is_asked_about(tmp_path):
    path = struck(tmp_path / "week.xlsx")
    with pytest.raises(pst.SheetError, match="a part is struck out"):
        pst.read_scores(path)
    said = {a: answered(path, {"struck out": a}).frame for a in ("what is left", "all of it", "withdrawn")}
    assert [(f["score"] == 8).sum() - (f["score"] == 58).sum() for f in said.values()] == [
        n + (said["withdrawn"]["score"] == 8).sum() for n in (1, -1, 0)
    ]


def test_a_comment_on_a_score_is_a_remark_of_its_lot_and_taster(tmp_path):
    read = answered(struck(tmp_path / "week.xlsx"), {})
    assert read.remarks[["lot", "taster", "remark"]].to_numpy().tolist() == [["101", "elm", "slightly smoky"]]
    assert read.faults["fault"].tolist() == ["smoky"]
