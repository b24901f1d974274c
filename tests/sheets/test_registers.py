"""What a room declares is obeyed, what it does not is inferred and said."""

import numpy as np
import openpyxl
import pandas as pd
import pytest

import panelstats as pst
from panelstats.scores.usual import tolerance_of
from panelstats.sheets.reading.account import account_facts, describe_account
from panelstats.sheets.reading.marked import write_marked_copies

from .messy import DESCRIPTORS, FACTS, TASTERS, WIDE, changed, delimited, workbook


def sheet(**columns):
    return pd.DataFrame(columns)


def said(scores, what):
    row = scores.inferred[scores.inferred["what"] == what]
    return tuple(row.iloc[0][["value", "why"]])


# --- pots ---------------------------------------------------------


def poured(pots):
    rows = [(x, t, p) for x in ("1", "2") for t in ("alder", "beech") for p in pots(t)]
    return pd.DataFrame(rows, columns=["lot", "taster", "pot"]).assign(colour=np.arange(len(rows)) % 5)


def test_pot_numbers_of_all_tasters_are_shared_unless_declared():
    scores = pst.read_scores(poured(lambda t: (1, 2)))
    assert scores.pots[["pots", "declared"]].to_numpy().tolist() == [["shared", False]]
    assert said(scores, "pots") == ("shared", "not declared; taken as shared, the careful choice")


def test_pot_labels_that_never_occur_with_two_tasters_are_own():
    scores = pst.read_scores(poured(lambda t: (f"{t} a", f"{t} b")))
    assert scores.pots["pots"].tolist() == ["own"]
    assert set(scores.cells().frame["brew"]) == {0}


def test_codes_common_to_all_tasters_are_shared_pots():
    table = poured(lambda t: (417, 583)).rename(columns={"pot": "code"})
    scores = pst.read_scores(table)
    assert said(scores, "pots") == ("shared", "the codes say so: they are common to the tasters")
    assert sorted(set(scores.frame["pot"])) == [1, 2]


def test_a_session_register_declares_pots_by_stage():
    table = poured(lambda t: (1, 2)).rename(columns={"colour": "liquor colour"}).assign(**{"dry colour": 5})
    room = {"sessions": sheet(session=["1", "1"], stage=["liquor", "dry leaf"], pots=["own", "same"])}
    scores = pst.read_scores(table, room=room)
    assert dict(zip(scores.pots["stage"], scores.pots["pots"], strict=True)) == {"liquor": "own", "dry leaf": "same"}
    assert scores.pots["declared"].all()
    cells = scores.cells(pots={"liquor": "shared"})
    brews = cells.frame.groupby("descriptor", observed=True)["brew"].max()
    assert brews["liquor colour"] == 2
    assert brews["dry colour"] == 0


def test_only_the_three_words_are_understood():
    scores = pst.read_scores(poured(lambda t: (1, 2)))
    with pytest.raises(pst.DesignError, match="shared, own or same"):
        scores.cells(pots="private")
    with pytest.raises(pst.DesignError, match="no such stage"):
        scores.cells(pots={"infused leaf": "own"})
    assert scores.cells() is scores.cells()  # computed once


# --- lots ---------------------------------------------------------


def weeks(lot):
    rows = [(w, x, t) for w in ("week 1", "week 2") for x in (lot, f"{w[-1]}01") for t in TASTERS]
    return pd.DataFrame(rows, columns=["session", "lot", "taster"]).assign(colour=np.arange(len(rows)) % 4)


def test_a_lot_number_in_two_sessions_is_two_lots_unless_its_role_or_the_register_says_so():
    assert list(pst.read_scores(weeks("7")).lots["lot"]) == ["7 (week 1)", "101", "7 (week 2)", "201"]
    assert list(pst.read_scores(weeks("control")).lots["role"]) == ["control", "", ""]
    room = {"lots": sheet(lot=["7"], role=["standard"])}
    assert list(pst.read_scores(weeks("7"), room=room).lots["lot"]) == ["7", "101", "201"]


def test_controls_met_again_are_numbered_in_sheet_order_others_are_a_problem():
    table = sheet(lot=["control", "1", "control", "2"], taster="alder", colour=[5, 6, 7, 8])
    assert pst.read_scores(table).frame.query("lot == 'control'")[["pot", "score"]].to_numpy().tolist() == [
        [1, 5],
        [2, 7],
    ]
    with pytest.raises(pst.SheetError, match="the same serving is scored twice"):
        pst.read_scores(table.replace("control", "3"))
    room = {"lots": sheet(lot=["3"], role=["repeat"])}
    assert pst.read_scores(table.replace("control", "3"), room=room).frame["pot"].max() == 2


def test_a_declared_second_look_is_no_problem():
    scores = pst.read_scores(sheet(lot=["1", "1", "2"], taster="alder", look=[1, 2, 1], colour=[5, 6, 7]))
    assert scores.cells().frame["looks"].tolist() == [2, 1]


@pytest.mark.parametrize(
    ("lots", "classes", "why"),
    [
        (sheet(lot=list("123"), **{"class": ["a", "a", "b"]}), ["a", "a", "b"], None),
        # Sieve families from large to small: ISO 11286 classifies grades by sieve analysis.
        (
            sheet(lot=list("123"), grade=["BOP", "BOPF", "OP"]),
            ["broken", "fannings", "whole leaf"],
            "kind and grade family",
        ),
        (
            sheet(lot=list("123"), kind="black", elevation=["high", "high", "low"]),
            ["black"] * 3,
            "kind and grade family; elevation would leave a class under 3 lots",
        ),
        (
            sheet(lot=list("123"), kind="black", elevation="high"),
            ["black high"] * 3,
            "kind and grade family, with elevation: every class keeps 3 lots",
        ),
        (sheet(lot=list("123"), garden="Upper Brallow"), [""] * 3, "no column tells kind or grade: one class"),
    ],
)
def test_classes_are_kind_and_grade_family_with_elevation_while_three_lots_remain(lots, classes, why):
    scores = pst.read_scores(sheet(lot=list("123"), taster="alder", colour=[5, 6, 7]), room={"lots": lots})
    assert list(scores.lots["class"]) == classes
    assert why is None or said(scores, "classes of lots")[1] == why


# --- descriptors ---------------------------------------------------------


def test_step_and_tolerance_are_inferred_and_said():
    scores = pst.read_scores(sheet(lot=list("1234"), taster="alder", colour=[4, 5.5, 7, 9], body=[3.1, 3.2, 3.3, 9.1]))
    assert scores.descriptors["step"].tolist() == [0.5, 0.1]
    # max(5 % of the range seen, one step): 5 % of 5 is .25, under the step; 5 % of 6 is .3, over it.
    assert scores.descriptors["tolerance"].tolist() == pytest.approx([0.5, 0.3])
    assert said(scores, "tolerance of colour") == ("0.5", "one step of the scale")
    assert said(scores, "tolerance of body") == ("0.3", "5 % of the range seen, 3.1 to 9.1")


def test_tolerance_uses_the_percentiles_of_a_hundred_scores_else_the_scale():
    record = np.linspace(0, 10, 101)
    assert tolerance_of(record, 0.1, 0, 20) == (pytest.approx(0.05 * 9.8), "5 % of the range used, 0.1 to 9.9")
    assert tolerance_of(record[:50], 0.1, 0, 20) == (pytest.approx(1.0), "5 % of the scale, 0 to 20")


def test_a_scale_may_differ_by_class():
    lots = sheet(lot=["1", "2"], **{"class": ["high", "low"]})
    scale = sheet(descriptor=["colour", "colour"], **{"class": ["", "high"]}, low=[0, 0], high=[10, 5])
    table = sheet(lot=["1", "2"], taster="alder", colour=[6, 6])
    with pytest.raises(pst.SheetError, match="outside the scale") as caught:
        pst.read_scores(table, room={"lots": lots, "descriptors": scale})
    assert caught.value.problems["row"].tolist() == [1]
    ends = pst.read_scores(table.replace(6, 4), room={"lots": lots, "descriptors": scale}).scales
    assert ends.set_index("class")["high"].to_dict() == {"high": 5, "low": 10}


def test_lot_facts_that_are_numbers_are_no_scores():
    rows = [(str(x), t, 55 + x, (x * t) % 7) for x in range(12) for t in (1, 2, 3)]
    table = pd.DataFrame(rows, columns=["lot", "taster", "minutes", "colour"])
    scores = pst.read_scores(table)
    assert set(scores.frame["descriptor"]) == {"colour"}
    assert scores.lots["minutes"].tolist() == [str(55 + x) for x in range(12)]


def test_unknown_words_in_a_register_are_refused_with_their_place():
    room = {"tasters": sheet(taster=["alder", "beech"], role=["senior", "junior"])}
    with pytest.raises(pst.SheetError, match="row 3, column role, value 'junior'"):
        pst.read_scores(sheet(lot=["1"], taster="alder", colour=[5]), room=room)


# --- faults, words, money ---------------------------------------------------------


def test_a_blank_fault_cell_beside_a_score_was_asked_and_not_noticed():
    table = sheet(lot=["1", "2", "3"], taster="alder", colour=[5, 6, None], smoky=["yes", None, None])
    scores = pst.read_scores(table)
    assert scores.faults[["lot", "fault", "noticed"]].to_numpy().tolist() == [
        ["1", "smoky", True],
        ["2", "smoky", False],
    ]
    assert scores.account.iloc[0].drop(["file", "sheet"]).to_dict() == {
        "seen": 6,
        "scores": 2,
        "blanks": 2,
        "faults": 2,
        "words": 0,
        "facts": 0,
        "set_aside": 0,
    }
    assert scores.words[["lot", "said", "asked"]].to_numpy().tolist() == [["1", 1, 1], ["2", 0, 1]]


def test_fault_words_in_remarks_are_kept_as_said_and_denials_are_not_mentions():
    remarks = ["slight smoke", "not smoky, bright", "musty?", "no taint", "bakey"]
    scores = pst.read_scores(sheet(lot=list("12345"), taster="alder", colour=[5, 6, 7, 5, 6], remarks=remarks))
    assert scores.faults[["lot", "fault", "said", "remark"]].to_numpy().tolist() == [
        ["1", "smoky", "slight smoke", "slight smoke"],
        ["3", "musty", "musty?", "musty?"],
    ]
    assert scores.words["asked"].isna().all()  # free remarks: only who said it, no denominator


def test_words_to_mark_count_those_asked():
    table = sheet(lot=["1", "1", "2", "2"], taster=["alder", "beech"] * 2, colour=[5, 6, 7, 5], malty=["x", "", "", ""])
    scores = pst.read_scores(
        table, room={"descriptors": sheet(descriptor=["malty", "colour"], kind=["words", "score"])}
    )
    assert scores.words.to_numpy().tolist() == [["1", "1", "malty", 1, 2], ["1", "2", "malty", 0, 2]]
    assert scores.account["words"].sum() == 4


# --- selecting, account, marked copies ---------------------------------------------------------


def test_select_keeps_the_account():
    scores = pst.read_scores(pd.DataFrame(WIDE[1:], columns=WIDE[0]))
    some = scores.select(taster="alder", descriptor=DESCRIPTORS[:2])
    assert (len(some), len(scores)) == (12, 72)
    assert some.account.equals(scores.account)
    assert repr(some) == "<Scores: 12 scores, 6 lots, 1 taster, 2 descriptors, 1 session>"


def test_the_account_reads_well_and_is_eighty_columns_wide(tmp_path):
    path = tmp_path / "a sheet with a name that is far too long to stand in a column.csv"
    path.write_bytes(delimited(changed(FACTS, {(3, 5): "7+"})))
    scores = pst.read_scores(path, set_aside=True)
    text = describe_account(scores)
    assert text.startswith("71 scores: 6 lots, 3 tasters, 4 descriptors, 1 session.")
    assert "Set aside: 1 problem, 1 cell." in text
    assert "row 4, column colour, value '7+': not a number" in " ".join(text.split())
    assert max(map(len, text.splitlines())) <= 80
    facts = account_facts(scores)
    assert facts["total"] == {
        "seen": 144,
        "scores": 71,
        "blanks": 0,
        "faults": 0,
        "words": 0,
        "facts": 72,
        "set_aside": 1,
    }


def test_a_marked_copy_tells_each_problem_at_its_cell_and_leaves_the_original(tmp_path):
    for name, data in (
        ("week.csv", delimited(changed(WIDE, {(3, 2): "7+", (4, 0): "=1+1"}))),
        ("book.xlsx", workbook({"s": changed(WIDE, {(3, 2): "7+"})})),
    ):
        path = tmp_path / name
        path.write_bytes(data)
        with pytest.raises(pst.SheetError) as caught:
            pst.read_scores(path)
        (copy,) = write_marked_copies(caught.value.problems, path, overwrite=True)
        assert path.read_bytes() == data
        page = openpyxl.load_workbook(copy).worksheets[0]
        assert page["C4"].value == "7+"
        assert page["C4"].comment.text.startswith("not a number\nwrite the score as a number")
        assert page["C4"].fill.fgColor.rgb == "00FFD966"
        assert page["A5"].data_type == "s"
        path.unlink()
    # In a folder a copy is passed over; asked for by name it is read.
    with pytest.raises(pst.SheetError, match="not a number"):
        pst.read_scores(copy)
    with pytest.raises(pst.SheetError, match="nothing to read"):
        pst.read_scores(tmp_path)


def test_a_header_that_is_nowhere_and_a_sheet_that_is_nowhere_are_refused():
    table = sheet(lot=["1"], taster="alder", colour=[5])
    with pytest.raises(pst.DesignError, match="no sheet has a column 'Colr'"):
        pst.read_scores(table, columns={"Colr": None})
    with pytest.raises(pst.DesignError, match="nothing is named 'Old'"):
        pst.read_scores(table, leave_out=["Old"])


def test_answers_keep_blanks_and_name_their_rows(tmp_path):
    (tmp_path / "answers.csv").write_bytes(
        delimited(
            [
                ["Test", "Kind", "Assessor", "Order", "Answer"],
                ["1", "triangle", "alder", "ABA", "2"],
                ["1", "triangle", "beech", "AAB", ""],
            ]
        )
    )
    table = pst.read_answers(tmp_path / "answers.csv")
    assert table[["taster", "answer", "file", "row"]].to_numpy().tolist() == [
        ["alder", "2", "answers.csv", 2],
        ["beech", "", "answers.csv", 3],
    ]
    with pytest.raises(pst.SheetError, match="an answer without a taster"):
        pst.read_answers(sheet(taster=[""], answer=["2"]))
    with pytest.raises(pst.SheetError, match="no sheet holds answers"):
        pst.read_answers(sheet(lot=["1"], colour=[5]))


def test_densities_are_numbers_or_named_problems():
    table = pst.read_densities(sheet(lot=["1", "2"], mass=["100,5", "99"], volume=[330, None]))
    assert table["mass"].tolist() == [100.5, 99.0]
    assert table["volume"].isna().tolist() == [False, True]
    with pytest.raises(pst.SheetError, match="a range"):
        pst.read_densities(sheet(lot=["1"], mass=["100-101"], volume=[330]))


def test_a_day_that_no_calendar_has_is_refused_in_the_register_of_sessions():
    sheet = pd.DataFrame(
        {"session": ["a"] * 4, "lot": [1, 1, 2, 2], "taster": ["elm", "yew"] * 2, "brisk": [5, 6, 4, 5]}
    )
    wrong = pd.DataFrame({"session": ["a"], "date": ["2031-02-30"]})
    with pytest.raises(pst.SheetError, match=r"no such day[\s\S]*row 2, column date, value '2031-02-30'"):
        pst.read_scores(sheet, room={"sessions": wrong})
    right = pst.read_scores(sheet, room={"sessions": wrong.assign(date="2031-02-28")})
    assert right.sessions["date"].tolist() == ["2031-02-28"]
