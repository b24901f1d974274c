"""Merged blocks anywhere: what they hold is spread, an empty one changes nothing, and no cell is lost under one."""

import io

import openpyxl
import pytest

import panelstats as pst
from panelstats.cli import main

ROWS = [["lot", "taster", "brisk"], ["1", "a", 5], ["2", "a", 6], ["1", "b", 4], ["2", "b", 7], ["1", "c", 5.5]]


def written(path, merges, rows=ROWS, title=()):
    book = openpyxl.Workbook()
    for row in [*title, *rows]:
        book.active.append(row)
    for block in merges:
        book.active.merged_cells.add(block)  # merge_cells() would make every cell of it
    book.save(path)
    return path


def scores_of(path):
    return pst.read_scores(path).frame[["lot", "taster", "score"]].astype(str).to_numpy().tolist()


@pytest.mark.parametrize(
    "block",
    [
        "A12:C12", "A7:C7", "A8:A9", "E1:F3", "D2:D6", "E7:G20", "C7:C1048576", "D1:XFD1", "XFC1048575:XFD1048576",
        "D1:XFD1048576",
    ],
)  # fmt: skip
def test_an_empty_block_beside_or_below_the_scores_changes_nothing(block, tmp_path):
    plain, merged = written(tmp_path / "plain.xlsx", []), written(tmp_path / "merged.xlsx", [block])
    assert scores_of(merged) == scores_of(plain)
    if block in ("A12:C12", "D1:XFD1048576"):
        assert main([str(merged)]) == 0


def test_a_merged_key_is_spread_over_its_rows_even_where_the_block_reaches_beyond_them(tmp_path):
    rows = [ROWS[0], ["1", "a", 5], ["2", None, 6], ["1", "b", 4], ["2", None, 7]]
    path = written(tmp_path / "day.xlsx", ["B2:B3", "B4:B9"], rows)
    assert scores_of(path) == [["1", "a", "5.0"], ["2", "a", "6.0"], ["1", "b", "4.0"], ["2", "b", "7.0"]]


@pytest.mark.parametrize("blocks", [["A1:C1"], ["A1:H1"], ["A1:C2"], ["A1:C1", "A2:C2"], ["A2:C2"]])
def test_a_title_merged_over_the_headings_is_no_heading(blocks, tmp_path):
    titled = written(tmp_path / "day.xlsx", blocks, title=[["Ostrel Quay"], []])
    assert scores_of(titled) == scores_of(written(tmp_path / "plain.xlsx", []))


@pytest.mark.parametrize("block", ["A1:C6", "A1:XFD1048576", "A2:C3", "A1:C1"])
def test_what_a_block_hides_is_read_and_said(block, tmp_path):
    """A file may hold cells under a block, put there by other programs: a spreadsheet does not show them."""
    path = written(tmp_path / "day.xlsx", [])
    book = openpyxl.load_workbook(path)
    book.active.merged_cells.add(block)  # the cells below stay, as merge_cells() would not let them
    stream = io.BytesIO()
    book.save(stream)
    path.write_bytes(stream.getvalue())
    scores = pst.read_scores(path)
    assert len(scores) == 5
    assert scores.inferred["value"].str.contains("hidden under merged").any()


def test_blocks_that_overlap_do_not_stop_the_reading(tmp_path):
    path = written(tmp_path / "plain.xlsx", [])
    book = openpyxl.load_workbook(path)
    for block in ("A8:C9", "B9:E12", "A8:C9"):
        book.active.merged_cells.add(block)
    book.save(path)
    assert scores_of(path) == scores_of(written(tmp_path / "day.xlsx", []))
