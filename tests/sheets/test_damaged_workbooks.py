"""A damaged workbook ends in one clear error; whatever breaks its reader does not take the run down."""

import random

import pytest

import panelstats as pst
from panelstats.sheets.files import isolated, nativeworker

from .messy import WIDE, workbook
from .test_messy import found

BOOK = workbook({"s": WIDE})


@pytest.mark.parametrize("seed", range(6))
def test_a_workbook_with_bytes_changed_or_cut_is_read_or_refused(seed, tmp_path):
    rng = random.Random(seed)
    data = bytearray(BOOK)
    for _ in range(8):
        data[rng.randrange(len(data))] = rng.randrange(256)
    path = tmp_path / "week.xlsx"
    path.write_bytes(bytes(data[: rng.randrange(len(data) // 2, len(data) + 1)]))
    with pytest.raises(pst.SheetError, match=r"week\.xlsx"):
        pst.read_scores(path)


def test_a_cut_old_workbook_is_refused(tmp_path):
    path = tmp_path / "week.xls"
    path.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(range(256)) * 8)
    with pytest.raises(pst.SheetError, match="damaged or cut short"):
        pst.read_scores(path)


@pytest.mark.parametrize("end", ["import os; os.abort()", "import sys; sys.exit(3)", "print('no pickle')"])
def test_a_reader_that_breaks_off_ends_in_an_error(end, tmp_path, monkeypatch):
    worker = tmp_path / "worker.py"
    worker.write_text(end)
    monkeypatch.setattr(nativeworker, "__file__", str(worker))
    assert isolated.pages(BOOK, 100, sound=False) == (nativeworker.DAMAGED, "")


def test_both_ways_of_reading_give_the_same(tmp_path):
    assert isolated.pages(BOOK, 100, sound=False) == isolated.pages(BOOK, 100, sound=True)
    path = tmp_path / "week.xlsx"
    path.write_bytes(BOOK)
    assert len(found(pst.read_scores(path))) == 72
