"""The page printed to a file: on the paper asked for, under our mark, or one message where nothing prints."""

import re
from pathlib import Path

import pytest
from browser import needs_browser

from panelstats.__main__ import main
from panelstats.ourfiles import PRINT_MARK, is_ours
from panelstats.output import check_writable

SHEET = "lot,taster,brisk\n" + "".join(
    f"{n},{who},{4 + (n * 3 + k) % 5}\n" for n in range(8) for k, who in enumerate("ab")
)
# ISO 216 and ANSI/ASME Y14.1, in points of 1/72 inch
PAPERS = {"a4": (210 / 25.4 * 72, 297 / 25.4 * 72), "letter": (8.5 * 72, 11 * 72)}


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    path = tmp_path / "week.csv"
    path.write_text(SHEET)
    return path


@needs_browser
@pytest.mark.parametrize("paper", PAPERS)
def test_a_page_is_printed_on_the_paper_asked_for(sheet: Path, paper: str) -> None:
    asked = ["summary", str(sheet), "--lots", "1", "--pdf", "--paper", paper]
    assert main(asked) == 0
    printed = sheet.with_name("week-summary.pdf")
    box = re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", printed.read_bytes())
    assert box is not None
    assert [float(side) for side in box.groups()] == pytest.approx(PAPERS[paper], abs=0.5)
    assert is_ours(printed)


def test_our_print_is_replaced_and_another_is_not(tmp_path: Path) -> None:
    path = tmp_path / "week-summary.pdf"
    path.write_bytes(b"%PDF-1.4\nsomebody's\n%%EOF\n")
    assert not is_ours(path)
    path.write_bytes(path.read_bytes() + PRINT_MARK)
    assert is_ours(path)
    assert check_writable(path) == path


def test_without_a_browser_one_message_says_what_to_do_and_nothing_is_written(
    sheet: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PATH", str(sheet.parent))
    assert main(["summary", str(sheet), "--pdf"]) == 2
    assert "no browser that prints" in capsys.readouterr().err
    assert list(sheet.parent.iterdir()) == [sheet]
