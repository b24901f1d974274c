"""The first screens of the sheets, of trainees, blends and answers: read alone, they find what was planted; short."""

import re
from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from browser import at_width, needs_browser
from screens import BOUND, first_screen, plain

import panelstats as pst
from panelstats.report.pages.page import page_of
from panelstats.report.pages.taster import sheets_of
from tests import known


def planted(name, about):
    return {each["who"]: each for each in known.truth(name)["planted"] if each["about"] == about}


@pytest.fixture(scope="module")
def bench():
    return known.session()


@pytest.fixture(scope="module")
def trainees():
    return known.trainees()


@pytest.fixture(scope="module")
def blends():
    return known.blends()


@pytest.fixture(scope="module")
def pages(bench, trainees, blends):
    """Every page of the example data, by name."""
    whole = {
        "room": page_of(bench), "trainees": page_of(trainees), "blends": page_of(blends),
        "answers": page_of(known.answered()),
    }  # fmt: skip
    return {name: page.decode() for name, page in (whole | sheets_of(bench) | sheets_of(trainees)).items()}


def test_every_first_screen_is_short(pages):
    for name, page in pages.items():
        words = [word for word in plain(first_screen(page)).split() if any(map(str.isalpha, word))]
        assert len(words) < BOUND, name


def test_a_sheet_tells_its_taster_of_what_was_planted_and_nobody_else_of_anything(pages, bench):
    guilty = planted("bench", "taster")
    for name in map(str, bench.find(pst.TasterAssessment).summary["taster"]):
        text = plain(first_screen(pages[name]))
        assert text.startswith(f"{name} bench, 2026-03-02 apart") == (name in guilty), name
    larch = plain(first_screen(pages["larch"]))
    assert re.search(r"larch bench, 2026-03-02 apart Marks about 1\.\d high on every word \(0\.5 allowed\)", larch)
    assert "Spreads the marks too little on every word: where others put 1 point, 0." in plain(
        first_screen(pages["spruce"])
    )


def test_trainees_are_told_who_counts_and_who_does_not_yet(pages):
    truth = planted("new-tasters", "trainee")
    text = plain(first_screen(pages["trainees"]))
    ready = {name for name in truth if re.search(rf"\b{name} ready\b", text)}
    assert ready == {"whitebeam"}
    assert re.search(r"spindle not yet Counts on no word yet\. Two servings of one lot lie up to 2\.\d times", text)
    assert text.index("spindle") < text.index("whitebeam ready")  # who needs something done stands first
    assert "Counts from today on 1" in plain(first_screen(pages["whitebeam"]))


def test_blends_and_answers_are_told_in_a_line_each(pages):
    for name in ("blends", "answers"):
        text = plain(first_screen(pages[name]))
        assert "S with B2 triangle: they differ. 42 of 54 right, 18 by luck" in text
        assert "S with B1 triangle: not settled. 23 of 54 right, 18 by luck" in text
        assert not re.search(r"B1\S* (duo-trio|triangle): they (differ|match)", text)
    text = plain(first_screen(pages["blends"]))
    assert "B1 matches S on all 16 words" in text
    assert "B2 differs from S: strength −1.8, colour −1.6, body −1.6" in text


def test_the_workbook_of_trainees_opens_with_all_of_them(trainees, tmp_path):
    import openpyxl

    book = openpyxl.load_workbook(pst.write_workbook(trainees, tmp_path / "trainees.xlsx"))
    rows = list(book.worksheets[0].values)
    assert rows[0][:3] == ("trainee", "overall", "black")
    assert {row[0]: row[1] for row in rows[1:]} == {"whitebeam": "ready", "spindle": "not yet"}
    assert set(rows[1][2:]) | set(rows[2][2:]) <= {"ready", "not yet", "cannot tell"}


@needs_browser
@pytest.mark.parametrize("paper", [(680, 1000), (700, 933)], ids=["A4", "Letter"])
def test_printed_each_is_page_one_alone(driver, pages, tmp_path, paper):
    """Between margins of 15 and 16 mm A4 is 680 by 1001 pixels of 96 an inch, Letter 703 by 935."""
    for name in ("trainees", "blends", "answers"):
        path = tmp_path / f"{name}.html"
        path.write_text(pages[name])
        at_width(driver, path, paper[0])
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
        foot, after = driver.execute_script(
            "const first = document.querySelector('#first-screen, .page-one');"
            "return [first.getBoundingClientRect().bottom, getComputedStyle(first).breakAfter]"
        )
        driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
        assert foot <= paper[1], name
        assert after == "page", name


def test_where_a_pot_is_in_doubt_the_lots_are_compared_without_it_too(bench):
    found = bench.find(pst.WithoutPots)
    (verdict,) = found.verdicts
    assert verdict.subject == "405"
    # by the means of the sheets: without the lot, and each of its pots alone
    cells = bench.scores.frame.query("lot == '405' and descriptor == 'strength'")
    sheet = cells.groupby(cells["pot"].astype(str))["score"].mean()
    alone = found.alone.query("descriptor == 'strength'").set_index("pot")["mean"]
    assert (alone - sheet).abs().max() < 0.01
    left = found.table.query("lot == '405'").set_index("descriptor")["mean_without"]
    assert left[["strength", "colour", "body"]].isna().all()  # the stage in which its pots disagree
    assert left[["black", "coppery"]].notna().all()
    # of those whose places differ nobody stood half a step (0.25) from the other: near ties, no change of places
    order = found.order[found.order["lot"] != "405"]
    for _, some in order.groupby("class"):
        for (_, one), (_, other) in combinations(some.iterrows(), 2):
            gaps = [one[name] - other[name] for name in ("standing", "standing_without")]
            assert gaps[0] * gaps[1] > 0 or max(map(abs, gaps)) < 0.25
    assert (verdict.call, verdict.numbers["moved"]) == ("the order stands", 0)
    assert "near ties aside" in verdict.sentence
    assert "Without it the order stands." in plain(first_screen(page_of(bench).decode()))


@pytest.fixture(scope="module")
def three_pots():
    """Twelve lots from three pots each; the third pot of L1 lies 3 points below its sisters on three words."""
    rng = np.random.default_rng(5)
    names = ["brisk", "body", "bright", "colour"]
    lots = pd.DataFrame(rng.normal(5, 0.2, (12, 4)), [f"L{k}" for k in range(12)], names)
    lots.loc["L1", names] += 0.6  # first with its sister pots, last with all three
    keys = [(lot, taster, str(pot)) for lot in lots.index for taster in "abcdef" for pot in (1, 2, 3)]
    sheet = pd.DataFrame(keys, columns=["lot", "taster", "pot"])
    values = lots.loc[sheet["lot"]].to_numpy() + rng.normal(0, 0.4, (len(sheet), 4))
    values[((sheet["lot"] == "L1") & (sheet["pot"] == "3")).to_numpy(), :3] -= 3
    sheet[names] = values.round(1)
    register = pd.DataFrame({"descriptor": names, "wanted": "more", "low": 0, "high": 10, "step": 0.1})
    return pst.review_session(pst.read_scores(sheet, room={"descriptors": register})), sheet


def test_of_three_pots_the_one_apart_is_left_out_and_its_sisters_stay(three_pots):
    review, sheet = three_pots
    found = review.find(pst.WithoutPots)
    (verdict,) = found.verdicts
    means = found.table.query("lot == 'L1'").set_index("descriptor")
    wanted = sheet[(sheet["lot"] == "L1") & (sheet["pot"] != "3")][["brisk", "body", "bright"]].mean()
    assert means.loc[wanted.index, "mean_without"].to_numpy() == pytest.approx(wanted.to_numpy(), abs=0.06)
    assert (means.loc[wanted.index, "mean_without"] - means.loc[wanted.index, "mean"] > 0.7).all()
    assert not len(found.alone)  # its sisters agree: none of them is shown alone
    assert verdict.call == "the order changes"
    assert "L1" in verdict.sentence
    moved = int(verdict.numbers["moved"])
    assert f"Without it {moved} lots change places." in plain(first_screen(page_of(review).decode()))


def test_without_a_pot_in_doubt_nothing_is_compared_twice():
    sheet = pd.DataFrame({"lot": ["1", "2", "3"] * 2, "taster": list("aaabbb"), "brisk": [5, 6, 7, 5, 7, 6]})
    assert pst.review_session(pst.read_scores(sheet)).find(pst.WithoutPots) is None


def test_where_every_taster_is_a_trainee_it_is_said_whose_marks_are_missing():
    sheet = pd.DataFrame({"lot": ["1", "2", "3"] * 2, "taster": list("aaabbb"), "brisk": [5, 6, 7, 5, 7, 6]})
    register = {"tasters": pd.DataFrame({"taster": ["a", "b"], "role": "trainee"})}
    with pytest.raises(pst.DesignError, match="every taster is a trainee"):
        pst.review_session(pst.read_scores(sheet, room=register))
