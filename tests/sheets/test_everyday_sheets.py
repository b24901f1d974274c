"""Sheets as rooms keep them, several habits at once (common practice); every mark is known beforehand."""

from __future__ import annotations

import pandas as pd
import pytest

import panelstats as pst
from tests.habits.answering import again
from tests.sheets.forms import LOTS, NAMES, WORDS, answered, book, cells, marks, met, questions

TWO = NAMES[:2]


def rows_of(lots, names, words, head="Lot"):
    return [(head, "Taster", *words), *((lot, who, *marks(len(words), lot + who)) for lot in lots for who in names)]


def truth(lots, names, words):
    known = {(lot, who): dict(zip(words, marks(len(words), lot + who), strict=True)) for lot in lots for who in names}
    return {(lot, who, word): float(mark) for (lot, who), row in known.items() for word, mark in row.items()}


@pytest.mark.parametrize("beside", ["Leaf", "Infusion"])
def test_a_cup_beside_another_stage_is_a_mark(tmp_path, beside):
    words = (beside, "Cup")
    assert cells(pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows_of(LOTS, TWO, words)))) == truth(
        LOTS, TWO, words
    )
    stacked = [("Lot", "Elm", None, "Yew", None), (None, *words, *words)]
    stacked += [(lot, *marks(4, lot)) for lot in LOTS]
    scores = pst.read_scores(book(tmp_path / "b.xlsx", Sheet1=stacked))
    assert scores.frame.groupby("taster", observed=True).size().to_dict() == {"Elm": 8, "Yew": 8}


def test_a_cup_that_tells_two_rows_of_a_lot_apart_is_a_pot(tmp_path):
    rows = [("Lot", "Taster", "Cup", "Leaf", "Infusion")]
    rows += [(lot, who, cup, *marks(2, lot + who)) for lot in LOTS for who in TWO for cup in (1, 2)]
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))
    assert sorted(scores.frame["pot"].unique()) == [1, 2]
    assert met(scores)["descriptor"] == ["Infusion", "Leaf"]


def test_numbers_after_the_sign_of_text_are_marks(tmp_path):
    path = tmp_path / "a.csv"
    path.write_text("Lot;Taster;Brisk;Body\nK1;Elm;'7,5;6\nK2;Elm;\u20198,5;'-\nK3;Elm;'6,5;5\n", encoding="utf-8")
    assert cells(pst.read_scores(path)) == {
        ("K1", "Elm", "Brisk"): 7.5, ("K1", "Elm", "Body"): 6, ("K2", "Elm", "Brisk"): 8.5, ("K3", "Elm", "Brisk"): 6.5,
        ("K3", "Elm", "Body"): 5,
    }  # fmt: skip


def tabs_of(names, heads=("Lot", "Colour", "Body"), head=None):
    """A tab for each name with lots of its own."""
    return {
        name: [*(head(name) if head else ()), heads, *((f"{n}{lot}", *marks(2, name + lot)) for lot in "123")]
        for n, name in enumerate(names, 1)
    }


@pytest.mark.parametrize("names", [("BOP", "BOPF", "PD"), ("PF1", "BP1", "Dust 1"), ("BOP", "Fngs", "Secondary", "OP")])
def test_sheets_named_for_grades_tell_the_grade_of_their_lots(tmp_path, names):
    scores = pst.read_scores(book(tmp_path / "a.xlsx", **tabs_of(names)))
    assert met(scores)["taster"] == ["one taster"]
    assert dict(zip(scores.lots["lot"], scores.lots["grade"], strict=True)) == {
        f"{n}{lot}": name for n, name in enumerate(names, 1) for lot in "123"
    }


def test_tasters_whose_initials_are_a_grade_stay_tasters_where_they_share_lots(tmp_path):
    tabs = {
        name: [("Lot", "Colour", "Body"), *((lot, *marks(2, lot + name)) for lot in LOTS)] for name in ("BOP", "FOP")
    }
    assert met(pst.read_scores(book(tmp_path / "a.xlsx", **tabs)))["taster"] == ["BOP", "FOP"]


def test_names_of_sheets_that_share_no_lot_are_asked_about(tmp_path):
    names = ("Hilltop", "Lakeside")
    source = book(tmp_path / "a.xlsx", **tabs_of(names))
    assert questions(source)["what"].tolist() == ["What do these names over lots of their own tell: Hilltop, Lakeside?"]
    scores = answered(source, {"names": "gardens"})
    assert (met(scores)["taster"], sorted(scores.lots["garden"].unique())) == (["one taster"], [*names])
    assert met(answered(source, {"names": "tasters"}))["taster"] == [*names]
    assert met(answered(source, {"names": "left out"}))["taster"] == ["one taster"]
    known = {"tasters": pd.DataFrame({"taster": names})}
    assert met(pst.read_scores(source, room=known))["taster"] == [*names]


@pytest.mark.parametrize(
    "names", [{"SK": "S. Kumar", "VR": "V. Rao"}, {"Panelist 1": "Panelist 1", "Panelist 2": "P. 2"}]
)
def test_tabs_that_name_their_taster_in_another_form_are_of_one_session(tmp_path, names):
    tabs = {
        tab: [("Taster:", who), ("Lot", "Colour", "Body"), *((lot, *marks(2, lot + who)) for lot in LOTS)]
        for tab, who in names.items()
    }
    scores = pst.read_scores(book(tmp_path / "a.xlsx", **tabs))
    assert met(scores)["taster"] == sorted(names.values())
    assert (met(scores)["lot"], len(scores.sessions)) == ([*LOTS], 1)


def test_tabs_named_for_the_lots_that_stand_on_them_are_of_one_session(tmp_path):
    tabs = {f"Lot {lot}": rows_of([lot], TWO, ("Colour", "Body")) for lot in LOTS}
    scores = pst.read_scores(book(tmp_path / "a.xlsx", **tabs))
    assert cells(scores) == truth(LOTS, TWO, ("Colour", "Body"))
    assert len(scores.sessions) == 1


@pytest.mark.parametrize(
    "heads",
    [
        [("Lot", "Elm", "Elm", "Elm", "Yew", "Yew", "Yew"), (None, *("Colour", "Body", "Remarks") * 2)],
        [("Lot", "Elm", None, None, "Yew", None, None), (None, *("Colour", "Body", "Remarks") * 2)],
        [("Lot", "Colour Elm", "Body Elm", "Elm comments", "Colour Yew", "Body Yew", "Remarks (Yew)")],
    ],
)
def test_remarks_under_a_taster_are_his(tmp_path, heads):
    rows = [*heads, *((lot, *marks(2, lot), None, *marks(2, lot + "b"), "flat") for lot in LOTS[:3])]
    rows.append((LOTS[3], 5, 6, "thin", 7, 8, None))
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))
    said = scores.remarks[["lot", "taster", "remark"]].astype(str).to_numpy().tolist()
    assert sorted(said) == [*([lot, "Yew", "flat"] for lot in LOTS[:3]), [LOTS[3], "Elm", "thin"]]
    assert len(scores) == 16


def test_one_column_of_remarks_at_the_end_is_no_tasters_of_the_last_block(tmp_path):
    rows = [("Lot", "Elm", None, "Yew", None, None), (None, *("Colour", "Body") * 2, "Remarks")]
    rows += [(lot, *marks(4, lot), "flat") for lot in LOTS]
    assert set(pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows)).remarks["taster"]) == {"Elm"}


@pytest.mark.parametrize(
    "line",
    [
        (None, None, "x2", "x1", "x3"), ("Weight", None, "20%", "30%", "50%"), ("Weightage", None, 2, 3, 5),
        (None, None, "(0-10)", "(0-10)", "(%)"), (None, None, "(points)", "(points)", "(points)"),
    ],
)  # fmt: skip
@pytest.mark.parametrize("over", [True, False])
def test_a_line_of_weights_or_units_at_the_headings_is_no_marks_and_no_heading(tmp_path, line, over):
    words = ("Colour", "Body", "Aroma")
    head, *rows = rows_of(LOTS, TWO, words)
    if not over and line[0] is None and line[2] == "x2":
        pytest.skip("figures without a word below the headings may be marks")
    lines = [line, head, *rows] if over else [head, line, *rows]
    assert cells(pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=lines))) == truth(LOTS, TWO, words)


def test_highest_marks_below_the_headings_are_the_ends_of_scales(tmp_path):
    head, *rows = rows_of(LOTS, TWO, ("Colour", "Body"))
    head, rows = (*head, "Total"), [(*row, sum(row[2:])) for row in rows]
    source = book(tmp_path / "a.xlsx", Sheet1=[head, ("Max marks", None, 10, 20, 30), *rows])
    scores = pst.read_scores(source)
    assert cells(scores) == truth(LOTS, TWO, ("Colour", "Body"))
    assert scores.descriptors["high"].tolist() == [10, 20]


@pytest.mark.parametrize("title", ["Tasting of garden marks", "Sale 14"])
def test_a_title_merged_over_some_blocks_is_no_heading_and_figures_above_are_left_out(tmp_path, title):
    top = (None, "AKS", "AKS", None, "PM", "PM", None, "Max", "Remarks")
    rows = [(title,) * 4, top, ("Lot", "Colour", "Body", None, "Colour", "Body")]
    rows += [(lot, *(m := marks(4, lot))[:2], None, *m[2:], None, max(m), "good") for lot in LOTS]
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))
    assert met(scores)["taster"] == ["AKS", "PM"]
    assert (met(scores)["descriptor"], len(scores)) == (["Body", "Colour"], 16)


def test_a_figure_beside_merged_blocks_is_none_of_the_last(tmp_path):
    rows = [(None, "Briskness", "Briskness", None, "Body", "Body", None, None)]
    rows.append(("Lot", "Elm", "Yew", "Avg", "Elm", "Yew", "Avg", "Overall"))
    for lot in range(101, 109):
        a, b, c, d = marks(4, lot)
        rows.append((lot, a, b, (a + b) / 2, c, d, (c + d) / 2, round((a + b + c + d) / 4, 1)))
    assert met(pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows)))["taster"] == ["Elm", "Yew"]


def test_where_nothing_is_headed_lot_an_invoice_is_the_lot(tmp_path):
    head = ("Sl. No.", "Invoice No.", "Grade", "Net Kgs", "Colour", "Body")
    rows = [head, *((n + 1, f"0{120 + n}/26", "OP", 1200 + n, *marks(2, n)) for n in range(6))]
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))
    assert met(scores)["lot"] == [f"0{120 + n}/26" for n in range(6)]
    assert scores.lots["net kgs"].tolist() == [str(1200 + n) for n in range(6)]
    assert "no column is headed lot, and an invoice of a garden is one" in set(scores.inferred["why"])


def test_the_same_invoices_of_two_gardens_are_lots_of_both(tmp_path):
    head = ("Garden", "Invoice", "Taster", "Colour", "Body")
    rows = [(garden, n, who, *marks(2, n)) for garden in ("Upper", "Lower") for n in (1, 2) for who in TWO]
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=[head, *rows]))
    assert met(scores)["lot"] == ["Lower / 1", "Lower / 2", "Upper / 1", "Upper / 2"]


def test_facts_are_not_asked_about_where_only_the_lot_is(tmp_path):
    rows = [("Sl No", "Garden", "Grade", "Colour", "Body")]
    rows += [(n + 1, ("Upper", "Lower")[n % 2], ("OP", "PD")[n % 2], *marks(2, n)) for n in range(6)]
    source = book(tmp_path / "a.xlsx", Sheet1=rows)
    assert questions(source)["what"].tolist() == ["What does the heading 'Sl No' name?"]


def test_a_key_with_several_codes_a_lot_is_a_key(tmp_path):
    codes = {lot: (101 + 7 * n, 450 + 9 * n) for n, lot in enumerate(LOTS)}
    key = [("Sample", "Code 1", "Code 2"), *((lot, *both) for lot, both in codes.items())]
    tabs = {
        who: [
            ("Code", "Colour", "Body"),
            *((code, *marks(2, f"{code}{who}")) for both in codes.values() for code in both),
        ]
        for who in TWO
    }
    scores = pst.read_scores(book(tmp_path / "a.xlsx", **tabs, Key=key))
    found = scores.frame.astype({"lot": str, "taster": str, "descriptor": str})
    got = sorted(found[["lot", "taster", "descriptor", "score"]].to_numpy().tolist())
    assert got == sorted(
        [lot, who, word, float(mark)]
        for lot, both in codes.items() for code in both for who in TWO
        for word, mark in zip(("Colour", "Body"), marks(2, f"{code}{who}"), strict=True)
    )  # fmt: skip


@pytest.mark.parametrize("head", ["Note", "Note (/10)"])
def test_a_note_of_numbers_is_a_mark_a_note_of_words_a_remark(tmp_path, head):
    rows = [("Prüfer", "Muster-Nr.", "Merkmal", head)]
    rows += [
        (who, lot, word, marks(1, lot + who + word)[0]) for lot in LOTS for who in TWO for word in ("Farbe", "Aroma")
    ]
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))
    assert cells(scores) == {(lot, who, word): float(mark) for who, lot, word, mark in rows[1:]}
    said = [(*row, "flat") for row in rows_of(LOTS, TWO, ("Colour",))]
    said[0] = ("Lot", "Taster", "Colour", "Note")
    assert set(pst.read_scores(book(tmp_path / "b.xlsx", Sheet1=said)).remarks["remark"]) == {"flat"}


def test_looks_may_be_written_as_first_and_second(tmp_path):
    rows = [("Lot", "Taster", "Tasting", "Colour")]
    rows += [(lot, who, look, *marks(1, lot + who + look)) for lot in LOTS for who in TWO for look in ("1st", "2nd")]
    frame = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows)).frame
    assert frame["look"].value_counts().to_dict() == {1: 8, 2: 8}


def test_a_title_that_is_no_stage_makes_tasters_of_names_across(tmp_path):
    tabs = {
        day: [
            (title,),
            ("Lot", "Asha", "Bina", "Avg"),
            *((lot, *(m := marks(2, day + lot)), sum(m) / 2) for lot in LOTS),
        ]
        for day, title in {"3 Apr": "Briskness", "4 Apr": "Briskness"}.items()
    }
    scores = pst.read_scores(book(tmp_path / "a.xlsx", **tabs))
    assert (met(scores)["taster"], met(scores)["descriptor"]) == (["Asha", "Bina"], ["Briskness"])
    tabs["4 Apr"][0] = tabs["3 Apr"][0] = ("Liquor",)
    assert set(questions(book(tmp_path / "b.xlsx", **tabs))["guess"]) == {"tasters"}


def test_a_taster_of_the_initials_sd_is_no_figure_where_the_marks_are_none(tmp_path):
    names = ("RK", "SD")
    assert cells(pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows_of(LOTS, names, ("Colour", "Body"))))) == truth(
        LOTS, names, ("Colour", "Body")
    )
    rows = [("Lot", "Taster", "Colour", "Body"), *((lot, "RK", *marks(2, lot)) for lot in LOTS)]
    rows += [(lot, "SD", 0.31, 0.44) for lot in LOTS]
    assert questions(book(tmp_path / "b.xlsx", Sheet1=rows))["guess"].tolist() == ["a figure"]


def test_subtotals_of_grades_and_marks_not_tasted_are_no_lots_and_no_marks(tmp_path):
    rows = [("Lot No", "Grade", "Net Kgs", "Last sale price", "Leaf (5)", "Liquor (5)")]
    for n, grade in enumerate(("BP1", "PF1")):
        rows += [(f"{n}0{k}", grade, 2800 + k, 230, 3 + k % 2, 5 - k % 3) for k in range(4)]
        rows.append((f"Sub-total {grade}", None, 11206))
    rows[2] = (*rows[2][:4], "nt", "N/T")
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))
    assert met(scores)["lot"] == [f"{n}0{k}" for n in (0, 1) for k in range(4)]
    assert (met(scores)["descriptor"], len(scores)) == (["Leaf", "Liquor"], 14)


def titled(names):
    rows = []
    for n, name in enumerate(names):
        rows += [(name,), ("Lot", "Colour", "Body"), *((f"{n}{lot}", *marks(2, name + lot)) for lot in "123"), ()]
    return rows


def test_titles_over_tables_that_share_no_lot_are_asked_about(tmp_path):
    names = ("Hilltop", "Lakeside")
    source = book(tmp_path / "a.xlsx", Sheet1=titled(names))
    assert questions(source)["guess"].tolist() == ["tasters"]
    scores = answered(source, {"names": "gardens"})
    assert (met(scores)["taster"], sorted(scores.lots["garden"].unique())) == (["one taster"], [*names])
    assert met(answered(source, {"names": "tasters"}))["taster"] == [*names]


def test_grades_over_tables_are_the_grades_of_their_lots(tmp_path):
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=titled(("BOP", "BOPF"))))
    assert (met(scores)["taster"], scores.lots["grade"].tolist()) == (["one taster"], ["BOP"] * 3 + ["BOPF"] * 3)


@pytest.mark.parametrize("fact", [(), [("Grade", "OP", "OP", "PD", "PD")]])
def test_the_corner_lot_over_tasters_names_the_lots_beside_it(tmp_path, fact):
    rows = [("Lot", *LOTS), *fact]
    for word in ("Colour", "Body"):
        rows += [(word,), *((who, *marks(4, who + word)) for who in TWO)]
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))
    assert cells(scores) == {
        (lot, who, word): float(mark)
        for word in ("Colour", "Body") for who in TWO for lot, mark in zip(LOTS, marks(4, who + word), strict=True)
    }  # fmt: skip
    assert not fact or scores.lots["grade"].tolist() == ["OP", "OP", "PD", "PD"]


def test_three_rows_of_headings_below_the_key_are_all_headings(tmp_path):
    heads = [("Dry leaf", "Style"), ("Liquor", "Colour"), ("Liquor", "Body")]
    rows = [["Lot"], [None], [None]]
    for stage, word in heads:
        for row, labels in zip(rows, ((stage,) * 3, (word,) * 3, (*TWO, "Avg")), strict=True):
            row.extend(labels)
    for lot in LOTS:
        pairs = [marks(2, lot + word) for _, word in heads]
        rows.append([lot, *(x for pair in pairs for x in (*pair, sum(pair) / 2))])
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))
    assert cells(scores) == {
        (lot, who, f"{stage.lower()} {word}"): float(mark)
        for lot in LOTS for stage, word in heads for who, mark in zip(TWO, marks(2, lot + word), strict=True)
    }  # fmt: skip


def test_a_line_that_names_the_lot_over_its_table_is_no_heading(tmp_path):
    rows = []
    for lot in LOTS:
        rows += [(f"Lot {lot}", "BOP", "Upper Hill"), ("Taster", "Colour", "Body")]
        rows += [*((who, *marks(2, lot + who)) for who in TWO), ()]
    assert cells(pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))) == truth(LOTS, TWO, ("Colour", "Body"))


@pytest.mark.parametrize(
    "heads",
    [
        [("Lot", "Taster", "Moisture (%)", "Water °C", "Colour", "Body (%)")],
        [("Lot", "Taster", "Moisture", "Water", "Colour", "Body (%)"), (None, None, "(%)", "(°C)", "(1-9)", "(1-9)")],
    ],
)
def test_what_was_measured_in_units_is_a_fact_but_for_descriptors_in_per_cent(tmp_path, heads):
    rows = [(lot, who, 3.1, 98, *marks(2, lot + who)) for lot in LOTS for who in TWO]
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=[*heads, *rows]))
    assert (len(scores.descriptors), len(scores)) == (2, 16)


def test_a_tab_of_means_beside_one_tab_of_marks_is_of_its_session_and_left_out(tmp_path):
    known = {(lot, word): [3 + (n + k) % 5 for k in range(2)] for n, lot in enumerate(LOTS) for word in WORDS[:2]}
    data = [("Lot", "Taster", *WORDS[:2])]
    data += [(lot, who, *(known[lot, word][k] for word in WORDS[:2])) for lot in LOTS for k, who in enumerate(TWO)]
    means = [("Lot", *WORDS[:2]), *((lot, *(sum(known[lot, word]) / 2 for word in WORDS[:2])) for lot in LOTS)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Data=data, Summary=means))
    assert (met(scores)["taster"], len(scores.sessions)) == (sorted(TWO), 1)


def test_cards_of_a_lot_each_hold_their_descriptors_and_the_taster_named_over_all(tmp_path):
    rows = [("Taster", "Elm"), ()]
    for lot in LOTS:
        rows += [("Lot", lot), *zip(WORDS, marks(3, lot), strict=True), ()]
    assert cells(pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows))) == {
        (lot, "Elm", word): float(mark) for lot in LOTS for word, mark in zip(WORDS, marks(3, lot), strict=True)
    }


@pytest.mark.parametrize("names", [("Mr. Rao", "Ms Iyer", "Dr. Sen"), ("A. Kumar", "R.K. Singh", "N. Rao")])
def test_people_written_with_title_or_initials_across_are_tasters(tmp_path, names):
    rows = [("N° lot", *names, "Average")]
    rows += [(lot, *(m := marks(3, lot)), round(sum(m) / 3, 2)) for lot in LOTS]
    assert met(pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows)))["taster"] == sorted(names)


def test_abbreviated_stages_across_are_no_people(tmp_path):
    rows = [("Lot", "D. Leaf", "I. Leaf"), *((lot, *marks(2, lot)) for lot in LOTS)]
    assert met(pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows)))["taster"] == ["one taster"]


@pytest.mark.parametrize("word", ["Grade", "Garden"])
def test_a_grade_or_garden_over_each_of_several_tables_is_that_of_its_lots(tmp_path, word):
    rows = []
    for n, name in enumerate(("BOP", "BOPF")):
        lots = [f"{n}{lot}" for lot in LOTS]
        rows += [(f"{word}: {name}",), *rows_of(lots, TWO, ("Colour", "Body")), ()]
    lots = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=rows)).lots
    assert lots[word.lower()].tolist() == ["BOP"] * 4 + ["BOPF"] * 4


STAGES = {"Dry leaf": ("Style", "Evenness"), "Infused leaf": ("Colour", "Evenness"), "Liquor": ("Colour", "Strength")}


def test_a_room_workbook_started_from_a_tab_a_stage_changes_nothing(tmp_path):
    tabs = {
        stage: [
            ("Lot", *(f"{w} - {who}" for w in words for who in TWO)),
            *((lot, *marks(4, lot + stage)) for lot in LOTS),
        ]
        for stage, words in STAGES.items()
    }
    source = book(tmp_path / "a.xlsx", **tabs)
    assert met(pst.read_scores(source))["descriptor"][:2] == ["Strength", "Style"]
    (room := tmp_path / "room").mkdir()
    assert not again(source, room)
    alone = book(tmp_path / "b.xlsx", **{"Dry leaf": tabs["Dry leaf"], "Sheet2": [("Lot",), ("K1",)]})
    listed = pst.read_scores(alone, room=room / "room.xlsx").descriptors["descriptor"].tolist()
    assert listed == ["Style", "dry leaf Evenness"]


def test_a_room_workbook_started_from_stages_under_tasters_changes_nothing(tmp_path):
    rows = [("Lot", "Elm", None, "Yew", None), (None, "Leaf", "Cup", "Leaf", "Cup")]
    source = book(tmp_path / "a.xlsx", Sheet1=[*rows, *((lot, *marks(4, lot)) for lot in LOTS)])
    (room := tmp_path / "room").mkdir()
    assert not again(source, room)


def test_the_headings_of_a_list_over_the_scores_are_no_facts_of_all_lots(tmp_path):
    rows = [("Lot", "Garden", "Grade"), *((lot, f"Hill {n}", "OP") for n, lot in enumerate(LOTS)), ()]
    scores = pst.read_scores(book(tmp_path / "a.xlsx", Sheet1=[*rows, *rows_of(LOTS, TWO, ("Colour", "Body"))]))
    assert "Grade" not in scores.lots.to_numpy()
    assert not scores.inferred["value"].str.contains("Garden: Grade").any()
