"""What the room's page must say and must escape; never a golden copy."""

import pytest
from invented import HARD, review

from panelstats.errors import PanelError
from panelstats.report.room import room_page, write_report


def test_names_from_sheets_are_text(tmp_path):
    page = room_page(review(lots=11, names=HARD, taster_names=["<script>alert(1)</script>"], tasters=1))
    assert "<script" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    assert "<b>5" not in page
    assert "&lt;b&gt;5 &amp; 6&lt;/b&gt;" in page
    assert "=1+1" in page


def test_same_review_same_bytes(tmp_path):
    first, second = (write_report(review(), tmp_path / name).read_bytes() for name in ("a.html", "b.html"))
    assert first == second


def test_faults_stand_before_every_other_verdict():
    page = room_page(review(faults=2))
    assert page.index("Taste again from a new pot") < page.index("Do the lots differ?")


def test_no_fault_is_not_called_clean():
    assert "does not show that the lots are clean" in room_page(review(faults=0))


def test_somebody_elses_page_is_left_alone(tmp_path):
    path = tmp_path / "page.html"
    path.write_text("mine")
    with pytest.raises(PanelError):
        write_report(review(), path)
    assert path.read_text() == "mine"
