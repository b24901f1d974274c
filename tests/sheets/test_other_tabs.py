"""Tabs beside the scores are found by their headings: keys, lists, copies, sums (common practice)."""

from __future__ import annotations

import pandas as pd
import pytest
from openpyxl import Workbook

import panelstats as pst

LOTS, CODES, TASTERS = ("L401", "L402", "L403"), (411, 638, 275), ("alder", "elm")


def book(path, tabs):
    made = Workbook()
    made.remove(made.active)
    for name, rows in tabs.items():
        tab = made.create_sheet(name)
        for row in rows:
            tab.append(list(row))
    made.save(path)
    return path


def scored(head, labels=CODES):
    rows = [(code, taster, 4 + n + m / 2) for m, taster in enumerate(TASTERS) for n, code in enumerate(labels)]
    return [(head, "Taster", "Brisk"), *rows]


@pytest.mark.parametrize("head", ["Code", "Sample", "Lot", "Cup", "No."])
@pytest.mark.parametrize(
    ("tab", "heads", "more"),
    [("Key", ("Code", "Lot"), ()), ("Opened", ("Blind code", "Sample", "Remarks"), ("first",)),
     ("codes", ("Code", "Lot"), ()), ("Which is which", ("Lot", "Code"), ())],
)  # fmt: skip
def test_codes_become_the_lots_of_their_key(tmp_path, head, tab, heads, more):
    pairs = [(c, lot, *more) if heads[0] != "Lot" else (lot, c) for c, lot in zip(CODES, LOTS, strict=True)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", {"Scores": scored(head), tab: [heads, *pairs]}))
    mean = scores.frame.groupby("lot", observed=True)["score"].mean()
    assert mean.to_dict() == {"L401": 4.25, "L402": 5.25, "L403": 6.25}
    assert set(scores.tasters["taster"]) == set(TASTERS)


def test_facts_in_a_key_are_those_of_its_lots(tmp_path):
    key = [("Code", "Lot", "Garden"), *((c, lot, f"Slope {c}") for c, lot in zip(CODES, LOTS, strict=True))]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", {"Scores": scored("Code"), "Key": key}))
    assert scores.lots.set_index("lot")["garden"].to_dict() == dict(
        zip(LOTS, (f"Slope {c}" for c in CODES), strict=True)
    )


def test_a_code_the_key_does_not_list_is_told(tmp_path):
    key = [("Code", "Lot"), *zip(CODES[:2], LOTS[:2], strict=True)]
    with pytest.raises(pst.SheetError, match="a code the register codes does not list"):
        pst.read_scores(book(tmp_path / "week.xlsx", {"Scores": scored("Sample"), "Key": key}))


@pytest.mark.parametrize("head", ["Sample", "Cup"])
def test_from_half_of_the_labels_on_a_key_is_the_key_of_the_sheet(tmp_path, head):
    codes = (411, 638, 275, 864)
    key = [("Code", "Lot"), (411, "L1"), (638, "L2"), (999, "L3")]
    path = book(tmp_path / "half.xlsx", {"Scores": scored(head, codes), "Key": key})
    with pytest.raises(pst.SheetError, match="a code the register codes does not list"):
        pst.read_scores(path)
    few = [("Code", "Lot"), (411, "L1"), (902, "L2"), (999, "L3")]
    path = book(tmp_path / "few.xlsx", {"Scores": scored(head, codes[:3]), "Key": few})
    if head == "Sample":
        assert set(pst.read_scores(path).lots["lot"]) == {"411", "638", "275"}
    else:
        with pytest.raises(pst.SheetError, match="no column says which lot"):
            pst.read_scores(path)


def test_lots_that_a_key_lists_as_lots_stay_lots(tmp_path):
    key = [("Code", "Lot"), *zip(CODES, LOTS, strict=True)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", {"Scores": scored("Sample", LOTS), "Key": key}))
    assert set(scores.lots["lot"]) == set(LOTS)


def test_a_sheet_with_codes_lots_and_words_is_no_key(tmp_path):
    rows = [("Code", "Lot", "Taster", "Brisk"), *((c, lot, "elm", 5) for c, lot in zip(CODES, LOTS, strict=True))]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", {"Key": rows}))
    assert len(scores.frame) == 3


def test_what_a_form_notes_of_whoever_filled_it_in_is_no_fact_of_the_lot():
    sheet = pd.DataFrame({
        "Timestamp": ["2026-06-15 10:01:00", "2026-06-15 10:02:00"],
        "Email address": ["a@example.org", "b@example.org"],
        "taster": ["alder", "elm"], "lot": ["401", "401"], "brisk": [5, 6], "garden": "Slope",
    })  # fmt: skip
    scores = pst.read_scores(sheet)
    assert "garden" in scores.lots
    assert not {"timestamp", "email address"} & {*scores.lots}
    assert "email address" in set(scores.inferred["what"])


@pytest.mark.parametrize("name", ["Summary", "Means", "Overview"])
def test_a_tab_of_means_beside_tabs_of_descriptors_adds_no_tasters(tmp_path, name):
    words, panel = ("Brisk", "Strength", "Colour"), ("alder", "elm", "yew")
    marks = {w: [[2 + d + n % 3 + m * (d + 1) % 4 for n in range(6)] for m in range(3)] for d, w in enumerate(words)}
    lots = [f"L{n}" for n in range(401, 407)]
    tabs = {w: [("Taster", *lots), *((t, *row) for t, row in zip(panel, marks[w], strict=True))] for w in words}
    means = [(lot, *(sum(row[n] for row in marks[w]) / 3 for w in words)) for n, lot in enumerate(lots)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", {**tabs, name: [("Lot", *words), *means]}))
    assert set(scores.tasters["taster"]) == set(panel)
    assert set(scores.descriptors["descriptor"]) == set(words)


@pytest.mark.parametrize("heads", [("Lot", "Garden", "Grade", "Invoice"), ("No.", "Sample", "Estate", "Remarks")])
def test_a_list_of_lots_on_a_tab_of_its_own_tells_their_facts(tmp_path, heads):
    at = 0 if heads[0] == "Lot" else 1
    rows = [
        tuple(lot if c == at else f"{head} {n}" for c, head in enumerate(heads)) for n, lot in enumerate([*LOTS, "L9"])
    ]
    tabs = {"Scores": scored("Lot", LOTS), "Teas": [heads, *rows]}
    scores = pst.read_scores(book(tmp_path / "week.xlsx", tabs))
    facts = [h for h in heads if h not in (heads[at], "No.")]
    table = scores.lots.set_index("lot")
    assert [table.loc[lot, h.lower()] for lot in LOTS for h in facts] == [f"{h} {n}" for n in range(3) for h in facts]
    assert set(scores.tasters["taster"]) == set(TASTERS)
    assert "L9" not in table.index
    counted = scores.account.set_index("sheet")
    assert counted.loc["Teas", "facts"] == counted.loc["Teas", "seen"] > 0


def test_a_list_tells_each_session_of_its_own_lot(tmp_path):
    day = [(d, *row) for d in ("2026-06-15", "2026-06-22") for row in scored("Lot", LOTS)[1:]]
    listed = [("Date", "Lot", "Garden"), ("2026-06-15", "L401", "North"), ("2026-06-22", "L401", "South")]
    tabs = {"Scores": [("Date", "Lot", "Taster", "Brisk"), *day], "Teas": listed}
    scores = pst.read_scores(book(tmp_path / "week.xlsx", tabs))
    assert scores.lots.set_index("lot")["garden"].to_dict() == {
        lot: {"L401 (2026-06-15)": "North", "L401 (2026-06-22)": "South"}.get(lot, "") for lot in scores.lots["lot"]
    }


def test_numbers_on_a_sheet_without_a_taster_are_asked_about_beside_sheets_that_name_theirs(tmp_path):
    rows = [("Lot", "Garden", "Fill"), *((lot, "Slope", n) for n, lot in enumerate(LOTS))]
    path = book(tmp_path / "week.xlsx", {"Scores": scored("Lot", LOTS), "Teas": rows})
    with pytest.raises(pst.SheetError, match="names no taster"):
        pst.read_scores(path)
    assert "fill" in pst.read_scores(path, columns={"Fill": "fact"}).lots


@pytest.mark.parametrize("tab", ["Panel", "Who tastes"])
def test_a_list_of_tasters_with_their_roles_is_the_register_whatever_its_tab_is_called(tmp_path, tab):
    rows = [("Name", "Role", "Since"), ("alder", "senior", 2019), ("elm", "trainee", 2026)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", {"Scores": scored("Lot", LOTS), tab: rows}))
    assert scores.tasters.set_index("taster")["role"].to_dict() == {"alder": "senior", "elm": "trainee"}


def test_a_list_of_scales_is_the_register_whatever_its_tab_is_called(tmp_path):
    rows = [("Attribute", "Low", "High", "Tolerance"), ("Brisk", 1, 9, 0.75)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", {"Scores": scored("Lot", LOTS), "Scales": rows}))
    assert scores.descriptors[["low", "high", "tolerance"]].to_numpy().tolist() == [[1, 9, 0.75]]


@pytest.mark.parametrize("heads", [("Lot", "Mass (g)", "Volume (ml)"), ("Sample", "mass", "volume [ml]")])
def test_weighings_are_found_whatever_their_tab_is_called(tmp_path, heads):
    rows = [heads, *((lot, 100, 300 + n) for n, lot in enumerate(LOTS))]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", {"Scores": scored("Lot", LOTS), "Bulk density": rows}))
    assert scores.densities[["lot", "mass", "volume"]].to_numpy().tolist() == [
        ["L401", 100, 300], ["L402", 100, 301], ["L403", 100, 302],
    ]  # fmt: skip


def tabs_of(*names):
    return {name: [("Lot", "Brisk", "Body"), *((lot, 4 + n + m / 2, 5 - m * m) for n, lot in enumerate(LOTS))]
            for m, name in enumerate(names)}  # fmt: skip


@pytest.mark.parametrize("again", ["elm (2)", "elm copy", "Elm - Copy"])
def test_a_tab_named_as_a_copy_with_other_marks_is_asked_about(tmp_path, again):
    path = book(tmp_path / "week.xlsx", tabs_of("elm", "yew", again))
    with pytest.raises(pst.SheetError, match="named as a copy of another, with other marks"):
        pst.read_scores(path)
    question = pst.examine_sheets(path).questions.query("answer == ''").iloc[0]
    for answer, tasters, looks in (("a second look", 2, {1, 2}), ("another taster", 3, {1})):
        told = pd.DataFrame({"what": [question["what"]], "where": [question["where"]], "answer": [answer]})
        scores = pst.read_scores(path, room={"questions": told})
        assert len(scores.tasters) == tasters
        assert set(scores.frame["look"]) == looks
    assert len(pst.read_scores(book(tmp_path / "other.xlsx", tabs_of("elm", "yew", "alder (2)"))).tasters) == 3


def test_a_title_of_one_word_of_the_trade_names_what_tasters_across_marked(tmp_path):
    rows = [("Briskness",), ("Lot", "Alder", None, "Elm", None), (None, "Pot A", "Pot B", "Pot A", "Pot B")]
    rows += [(lot, 4 + n, 5, 6 - n, 5) for n, lot in enumerate(LOTS)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", {"Sheet1": rows}))
    assert scores.descriptors["descriptor"].tolist() == ["Briskness"]
