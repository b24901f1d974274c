from dataclasses import fields

import numpy as np
import pytest
from invented import HARD, review
from openpyxl import load_workbook

import panelstats as pst
from panelstats.errors import visible
from panelstats.lots.compare.fit import LotComparison
from panelstats.report.titles import TITLES
from panelstats.report.workbook import write_workbook
from panelstats.result import Result


@pytest.fixture(scope="module")
def book(tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "room.xlsx"
    made = review(lots=11, names=HARD, taster_names=["<script>alert(1)</script>", "beech"], tasters=2)
    return made, load_workbook(write_workbook(made, path))


def test_there_is_a_sheet_a_table(book):
    _, sheets = book
    wanted = ["Lots", "What it says", "Faults noticed", "Whether the lots differ", "Where the spread lies"]
    wanted += ["Marks of the lots", "Lots compared in pairs", "Checks of the model", "Whether the tasters agree"]
    read = ["Account of every cell", "Taken so, unless you say", "How it was worked out"]
    assert sheets.sheetnames == [*wanted, *read]


def test_headers_are_frozen(book):
    assert all(sheet.freeze_panes for sheet in book[1].worksheets)


def test_every_number_is_kept_far_below_its_uncertainty(book):
    made, sheets = book
    rows = list(sheets["Marks of the lots"].values)
    column = rows[0].index("mean")
    means = made.find(LotComparison).means
    off = np.abs(np.array([row[column] for row in rows[1:]]) - means["mean"].to_numpy())
    assert (off <= 1e-5 * means["se"].to_numpy()).all()  # JCGM 100:2008, 7.2.6: spare digits, not all there are
    assert off.max() > 0, "what differs from one processor to the next is not kept"


def test_a_name_that_looks_like_a_formula_is_text(book):
    cells = [cell for sheet in book[1].worksheets for row in sheet.iter_rows() for cell in row]
    assert not [cell.value for cell in cells if cell.data_type == "f"]
    assert "=1+1" in [cell.value for cell in cells]


def test_numbers_show_no_more_than_their_uncertainty_carries(book):
    _, sheets = book
    header, first = next(sheets["Marks of the lots"].values), sheets["Marks of the lots"][2]
    assert first[header.index("mean")].number_format == "#,##0.0"  # standard errors near 0.4


def test_same_review_same_bytes(tmp_path):
    first, second = (write_workbook(review(), tmp_path / name).read_bytes() for name in ("a.xlsx", "b.xlsx"))
    assert first == second


def test_the_first_sheet_has_every_lot_on_every_descriptor(book):
    made, sheets = book
    rows = list(sheets.worksheets[0].values)
    means = made.find(LotComparison).means
    assert set(means["descriptor"]) <= set(rows[0])
    assert {str(row[rows[0].index("lot")]) for row in rows[1:]} == set(map(visible, means["lot"]))
    one = means.iloc[0]
    row = next(row for row in rows[1:] if row[rows[0].index("lot")] == one["lot"])
    assert row[rows[0].index(one["descriptor"])] == pytest.approx(one["mean"], rel=1e-8)  # nine digits


def test_every_table_of_a_result_has_a_tab_in_the_rooms_words():
    """Tables that a result documents, whatever it holds: 31 signs are what a tab takes (ECMA-376)."""
    public = [getattr(pst, name) for name in pst.__all__]
    types = [kind for kind in public if isinstance(kind, type) and issubclass(kind, Result)]
    named = {
        field.name for kind in types if kind is not Result for field in fields(kind) if field.type == "pd.DataFrame"
    }
    assert len(named) > 40
    assert named <= set(TITLES)
    assert max(map(len, TITLES.values())) <= 31
    assert len(set(TITLES.values())) == len(TITLES)
