"""What the room's page must say and must escape; never a golden copy."""

import time

import pandas as pd
import pytest
from invented import HARD, review

import panelstats as pst
from panelstats.errors import PanelError
from panelstats.report.pages.page import page_of, write_report


def told(given):
    return page_of(given).decode()


def test_names_from_sheets_are_text(tmp_path):
    page = told(review(lots=11, names=HARD, taster_names=["<script>alert(1)</script>"], tasters=1))
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<b>5" not in page
    assert "&lt;b&gt;5 &amp; 6&lt;/b&gt;" in page
    assert "=1+1" in page


def test_same_review_same_bytes(tmp_path):
    first, second = (write_report(review(), tmp_path / name).read_bytes() for name in ("a.html", "b.html"))
    assert first == second


def test_faults_stand_before_every_other_verdict():
    page = told(review(faults=2))
    assert page.index("Taste again from a new pot") < page.index("Do the lots differ?")


def test_no_fault_is_not_called_clean():
    assert "does not show that the lots are clean" in told(review(faults=0))


def test_somebody_elses_page_is_left_alone(tmp_path):
    path = tmp_path / "page.html"
    path.write_text("mine")
    with pytest.raises(PanelError):
        write_report(review(), path)
    assert path.read_text() == "mine"


def test_a_full_bench_is_small_and_quick():
    made, start = review(lots=40, tasters=10, descriptors=16), time.process_time()
    page = page_of(made)
    assert len(page) < 1_000_000
    assert time.process_time() - start < 5


def test_a_true_session_is_told_from_sheet_to_page(tmp_path):
    sheet = pd.DataFrame({
        "lot": ["=1+1", "=1+1", "14", "14", "15", "15"] * 2,
        "taster": ["elm"] * 6 + ["<script>alert(1)</script>"] * 6,
        "pot": [1, 2] * 6, "strength": [6, 6.5, 4, 4.5, 7, 6.5, 5, 5, 4, 3.5, 6, 6],
        "remarks": ["", "", "slight smoke", "", "", ""] * 2,
    })  # fmt: skip
    page = write_report(pst.review_session(pst.read_scores(sheet)), tmp_path / "room.html").read_text(encoding="utf-8")
    assert page.index("Set aside") < page.index("slight smoke") < page.index("What was found")
    assert "slight smoke" in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<script" not in page
    assert "=1+1" in page


def test_a_long_table_says_where_the_rest_is():
    page = told(review(lots=300, descriptors=5))
    assert "The first 400 of 1,500 rows; all of them are in the workbook." in page


def test_names_that_run_the_other_way_are_isolated():
    page = told(review(lots=5, names=HARD, faults=3))
    assert "<bdi" in page.split("שלום מבצע 12")[0][-40:]
