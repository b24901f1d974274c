import pandas as pd
import pytest
from invented import HARD, assessment, learning

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.report.pages.sheet import taster_sheet, trainee_sheet
from panelstats.report.pages.taster import taster_page as sheet_of
from panelstats.report.pages.taster import write_taster_page
from panelstats.result import Mark


def taster_page(*given):
    return sheet_of(*given).decode()


def test_the_sheet_says_what_is_well_what_to_train_and_what_to_taste_again():
    page = taster_page(assessment(), "larch")
    assert "Set the level again." in page
    assert "Lot 3, for brisk: own mark 8.25, the others 5.3 (+2.9)." in page
    assert "What to train</h2><p>Every word.</p>" in page
    other = taster_page(assessment(), "alder")
    assert "Shown on every count: brisk." in other
    assert "on order of the lots: about 30 more lots would settle it" in other


def test_marks_follow_the_calls_of_the_assessment():
    rows = {row.name: row for row in taster_sheet(assessment(), "larch").lines}
    assert [cell.mark for cell in rows["brisk"].cells] == [Mark.HIGHER, Mark.WITHIN, Mark.WITHIN]
    assert rows["colour"].cells[2].mark is Mark.OPEN
    assert rows["over all descriptors"].cells[0].mark is Mark.APART  # a size over all descriptors has no direction
    assert rows["brisk"].word == "apart"


def test_a_trainee_is_told_what_counts_from_today():
    page = taster_page(learning(), "spindle")
    words = [row.word for row in trainee_sheet(learning(), "spindle").lines]
    assert words == ["ready", "not yet", "cannot tell"]
    assert "<h2>Counts from today</h2><p>brisk.</p>" in page
    assert "Session by session" in page


def test_one_session_draws_no_curve():
    assert "Session by session" not in taster_page(learning(sessions=1), "spindle")


def test_names_are_text():
    page = taster_page(assessment(tasters=("<script>alert(1)</script>", "b"), descriptors=tuple(HARD[:6])), "b")
    assert "<script" not in page
    assert "&lt;b&gt;5 &amp; 6&lt;/b&gt;" in page


def test_a_name_nobody_has_is_told():
    with pytest.raises(DesignError, match="larch and alder"):
        taster_page(assessment(), "nobody")


def test_same_assessment_same_bytes(tmp_path):
    pages = [write_taster_page(assessment(), "larch", tmp_path / name).read_bytes() for name in ("a.html", "b.html")]
    assert pages[0] == pages[1]


def test_a_sheet_says_that_cells_were_set_aside(tmp_path):
    rows = pd.DataFrame(
        {"lot": ["1", "2", "3"] * 3, "taster": list("aaabbbccc"), "brisk": [5, 6, 7, 5, "six", 7, 4, 6, 8]}
    )
    scores = pst.read_scores(rows, set_aside=True)
    pages = [
        pst.write_taster_page(pst.assess_tasters(given), "a", tmp_path / "a.html", scores=given).read_text()
        for given in (scores, pst.read_scores(rows.assign(brisk=6)))
    ]
    assert "1 cell of the score sheets set aside" in pages[0]
    assert "set aside" not in pages[1]
