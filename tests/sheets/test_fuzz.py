"""Whatever bytes come, there is an answer or one clear error, in bounded time and memory."""

import io
import random
import time
import zipfile

import pytest

import panelstats as pst

from .messy import ACROSS, BOOK, DATED, FACTS, LONG, OVER, TDOWN, TITLED, WIDE, bomb, changed, delimited

SHEETS = [delimited(WIDE), delimited(LONG, ";", ","), *map(delimited, (FACTS, OVER, ACROSS, TDOWN, DATED, TITLED))]
PIECES = [
    b",",
    b"\n",
    b'"',
    b";",
    b"x",
    b"\xff",
    b"lot",
    b"7,5",
    b"\x00",
    b"1e400",
    b"-" * 9,
    b"\r",
    b"=1+1",
    b"\xef\xbb\xbf",
]


def answered(path, data):
    """Read the bytes; only the errors made for it may come."""
    path.write_bytes(data)
    try:
        scores = pst.read_scores(path)
    except pst.SheetError:
        return
    counts = scores.account.drop(columns=["file", "sheet", "seen"]).sum(axis=1)
    assert (scores.account["seen"] == counts).all()


@pytest.mark.parametrize("seed", range(4))
def test_random_bytes_and_damaged_text(seed, tmp_path):
    rng = random.Random(seed)
    for _ in range(8):
        answered(tmp_path / "bytes.csv", rng.randbytes(rng.randrange(1, 400)))
        letters = "lot,taster\n;\t\"'0123456789.,-+ abc½ A/½%:"
        answered(tmp_path / "text.csv", "".join(rng.choice(letters) for _ in range(rng.randrange(300))).encode())
        data = bytearray(rng.choice(SHEETS))
        for _ in range(rng.randrange(1, 8)):
            at = rng.randrange(len(data))
            data[at : at + rng.choice([0, 0, 1, 5, 30])] = rng.choice(PIECES)
        answered(tmp_path / "damaged.csv", bytes(data))


@pytest.mark.parametrize("seed", range(4))
def test_damaged_and_truncated_workbooks(seed, tmp_path):
    rng = random.Random(seed)
    for _ in range(5):
        data = bytearray(BOOK)
        for _ in range(rng.randrange(1, 4)):
            data[rng.randrange(len(data))] = rng.randrange(256)
        answered(tmp_path / "damaged.xlsx", bytes(data))
        answered(tmp_path / "short.xlsx", BOOK[: rng.randrange(1, len(BOOK))])


def refused(path, data, start):
    """The error begins so, within a few seconds."""
    path.write_bytes(data)
    began = time.process_time()
    with pytest.raises(pst.SheetError) as caught:
        pst.read_scores(path)
    assert time.process_time() - began < 5
    assert str(caught.value).startswith(start)


def test_a_workbook_that_unpacks_to_far_too_much(tmp_path):
    refused(tmp_path / "bomb.xlsx", bomb(), "the workbook unpacks to 300 MB")


def test_a_million_columns(tmp_path):
    wide = b"lot,taster," + b",".join(b"c%d" % i for i in range(1_000_000)) + b"\n1,alder" + b",5" * 1_000_000
    refused(tmp_path / "wide.csv", wide, "a line of many million characters")


def test_one_row_of_a_million_cells_among_many_short_ones(tmp_path):
    refused(
        tmp_path / "ragged.csv",
        delimited(WIDE) + b"," * 1_000_000 + b"\n" + delimited(WIDE[1:]) * 500,
        "a row of 1,000,001 cells",
    )


def test_a_line_without_end(tmp_path):
    refused(tmp_path / "line.csv", b"lot,taster,colour\n" + b"a" * 30_000_000, "a line of many million characters")


def test_a_stray_cell_in_the_last_row_and_column(tmp_path):
    out = io.BytesIO()
    far = b'<row r="1048576"><c r="XFD1048576" t="n"><v>1</v></c></row></sheetData>'
    with zipfile.ZipFile(io.BytesIO(BOOK)) as whole, zipfile.ZipFile(out, "w") as archive:
        for part in whole.infolist():
            archive.writestr(part.filename, whole.read(part).replace(b"</sheetData>", far))
    refused(tmp_path / "far.xlsx", out.getvalue(), "a cell far out stretches the sheet to 1,048,576 rows")


def test_a_quarter_of_a_million_characters_in_each_cell(tmp_path):
    data = delimited(changed(WIDE, {(r, 2): "x" * 250_000 for r in range(1, 8)}))
    refused(tmp_path / "long.csv", data, "a text far too long for a score, 7 cells")
