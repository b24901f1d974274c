"""The page of a day of many lots: its first screen answers alone, the list and the rings agree, nobody is accused."""

import html
import re
from io import BytesIO

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.report.pages.daypage import blocks, to_taste_again
from panelstats.report.pages.page import page_of
from panelstats.report.workbook import workbook_of
from panelstats.result import Mark
from tests import known


@pytest.fixture(scope="module")
def day():
    return known.session("row.xlsx")


def first_screen(page):
    head = page[page.index("<header>") : page.index("</header>")]
    answers = page[page.index('<div class="answers">') : page.index('<section class="picture"')]
    text, folded = head + answers, r"<details(?:(?!<details).)*?</details>|<svg.*?</svg>"
    while re.search(folded, text, flags=re.S):  # lists fold within lists
        text = re.sub(folded, " ", text, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_it_takes_the_path_of_the_shape():
    assert "Lots" in [title for title, _ in known.session().results]
    short = pst.review_session(known.scores("bench"), shortlist=True, take=3)
    assert "Short list" in [title for title, _ in short.results]


def test_the_first_screen_names_the_taint_first_and_accuses_nobody(day):
    assert [title for title, _ in day.results] == ["Faults", "Short list", "Panel", "Tasters", "Densities"]
    text = first_screen(page_of(day).decode())
    assert "1106: 0.269 g/ml" in text  # the planted light lot; no other is named for its density
    assert [v.subject for v in day.verdicts if v.call in ("light", "dense")] == ["1106"]
    assert text.index("1217 is smoky (alder)") < text.index("The short list")
    assert not [verdict for verdict in day.verdicts if verdict.call in ("apart", "moved", "jumped", "tired")]
    assert len([word for word in text.split() if any(map(str.isalpha, word))]) < 250


def test_no_letter_of_statistics_stands_on_a_first_screen(day):
    text = first_screen(page_of(day).decode())
    assert not re.search(r"\bdf\b|degrees of freedom|\bp [=<]", text)
    assert "two lots must lie 1.5 apart before they are called different." in text


def without_repeats(*, wanted=True):
    """The day of the row without its controls and second pots."""
    room = pst.example.row()
    codes, lots = room.registers["codes"], room.registers["lots"]
    once = codes[~codes["lot"].isin(lots.loc[lots["role"] == "control", "lot"])].drop_duplicates("lot")
    register = room.registers["descriptors"]
    register = register if wanted else register.drop(columns="wanted")
    frame = room.frame[room.frame["code"].isin(once["code"])]
    scores = pst.read_scores(frame, room={**room.registers, "descriptors": register})
    return pst.review_session(scores)


@pytest.mark.parametrize("wanted", [True, False])
def test_without_a_repeat_the_lots_stand_first_by_their_marks_and_none_is_called_best(wanted):
    made = without_repeats(wanted=wanted)
    page = page_of(made).decode()
    text, (one,) = first_screen(page), blocks(made)["lists"]
    assert len([word for word in text.split() if any(map(str.isalpha, word))]) < 250
    assert "No list: no lot had two pots." in text
    assert ("Highest marks first" if wanted else "Farthest from the class first") in text
    assert "Serve 24 hidden repeats in the row (48 more cups)" in text
    assert not re.search(r"\bbest\b|chance", text)
    assert len(one.rows) == 10
    assert all(row.rank == row.chance == "" and row.origin.place for row in one.rows)
    table = made.find(pst.Shortlist).table
    table = table[table["descriptor"] != "overall"]
    off = (table["score"] - table.groupby("descriptor")["score"].transform("mean")).groupby(
        [table["lot"], table["descriptor"]]).sum()  # fmt: skip
    for row in one.rows:
        for name, points in re.findall(r"(\w+) ([+−][\d.]+)", row.marks):
            assert float(points.replace("−", "-")) == pytest.approx(off[row.lot, name], abs=0.051)
        assert abs(float(row.marks.split(",")[0].split()[1].replace("−", "-"))) > 0.9  # beyond one look at its pot
    drawing = str(blocks(made)["panels"][0].drawing.svg)
    assert "291 between" in drawing
    assert drawing.index("1217") < drawing.index("291 between")


def test_words_with_and_without_a_list_are_told_apart_and_the_screen_stays_short():
    room = pst.example.row()
    frame = room.frame.copy()
    frame["even"] = np.random.default_rng(1).integers(6, 15, len(frame)) / 2  # says nothing of any lot
    register = room.registers["descriptors"].drop(columns="wanted")
    made = pst.review_session(pst.read_scores(frame, room={**room.registers, "descriptors": register}))
    lists = blocks(made)["lists"] + blocks(made)["more_lists"]
    assert {one.heading for one in lists if one.listed} == {
        "black", "coppery", "colour", "bright", "strength", "brisk", "flavour"
    }  # fmt: skip
    (why,) = [one for one in lists if not one.listed]
    assert (why.rows, why.sentence) == ([], "No list on even: the lots spread no more than one look explains.")
    text = first_screen(page_of(made).decode())
    assert len([word for word in text.split() if any(map(str.isalpha, word))]) < 250


def test_the_list_and_the_rings_agree(day):
    shown = blocks(day)
    found = day.find(pst.Shortlist)
    again = to_taste_again(found, found.table["class"].iloc[0], "overall")
    assert len(again) == 30
    told = set(re.findall(r"\d{4}", shown["lists"][0].again))
    assert told == set(again)
    svg = str(shown["panels"][0].drawing.svg)
    assert svg.count('class="again"') == len(set(again) - {"1217"})
    top = re.search(r"1217", svg).start()
    assert all(top < svg.index(lot) for lot in again if lot != "1217")  # the fault stands on top
    assert Mark.FAULT


def test_the_rows_of_the_list_are_the_table(day):
    found, shown = day.find(pst.Shortlist), blocks(day)["lists"][0]
    table = found.table[
        (found.table["descriptor"] == "overall") & found.table["listed"] & (found.table["lot"] != "1217")
    ]
    assert [row.lot for row in [*shown.rows, *shown.rest]] == table["lot"].tolist()
    brisk = found.table[(found.table["descriptor"] == "brisk")].set_index("lot")
    for row in shown.rows:
        for name, points in re.findall(r"(brisk) ([+−][\d.]+)", row.marks):
            assert float(points.replace("−", "-")) == pytest.approx(brisk.loc[row.lot, "merit"], abs=0.06), name


@pytest.mark.parametrize("tasters", [["elm"], ["elm", "yew"]])
def test_a_day_of_which_nothing_is_known_says_so(tasters):
    marks = [(f"L{n}", name, 4 + n % 5 + k / 2) for n in range(30) for k, name in enumerate(tasters)]
    scores = pst.read_scores(pd.DataFrame(marks, columns=["lot", "taster", "brisk"]), room=None)
    review = pst.review_session(scores, pots="shared")
    page = page_of(review).decode()
    assert "No list" in first_screen(page + '<section class="picture"')
    assert "hidden repeats" in page
    assert not re.search(r">\s*nan|\bNone\b", page)


def test_the_workbook_opens_with_a_row_a_lot_in_the_order_of_the_list(day):
    sheets = pd.read_excel(BytesIO(workbook_of(day)), sheet_name=None, dtype={"lot": str}, engine="openpyxl")
    lots = next(iter(sheets.values()))
    found = day.find(pst.Shortlist)
    overall = found.table[found.table["descriptor"] == "overall"]
    assert lots["lot"].tolist() == overall["lot"].tolist()
    assert lots["chance best"].to_numpy() == pytest.approx(overall["chance_best"].to_numpy(), rel=1e-5, abs=1e-8)
    brisk = found.table[found.table["descriptor"] == "brisk"].set_index("lot")["score"]
    assert lots["brisk"].to_numpy() == pytest.approx(brisk.loc[lots["lot"]].to_numpy())
    assert lots["garden"].notna().all()
