"""Files that would fill the memory or never end are refused in one clear error, by limits that stand in README."""

import io
import zipfile

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.errors import SheetError
from panelstats.sheets.files import delimited, workbooks

SCORES = pd.DataFrame({"lot": ["1", "2"] * 3, "taster": list("aabbcc"), "brisk": [5, 6, 5, 7, 4, 6.5]})


def book():
    stream = io.BytesIO()
    SCORES.to_excel(stream, index=False)
    return stream.getvalue()


def with_part(name, content, kind=zipfile.ZIP_DEFLATED):
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book())) as old, zipfile.ZipFile(stream, "w", kind) as new:
        for part in old.namelist():
            if part != name:
                new.writestr(part, old.read(part))
        new.writestr(name, content)
    return stream.getvalue()


def refused(data, folder, match, name="week.xlsx"):
    (folder / name).write_bytes(data)
    with pytest.raises(SheetError, match=match) as caught:
        pst.read_scores(folder / name)
    assert name in str(caught.value)


@pytest.mark.parametrize("part", ["docProps/custom.xml", "xl/styles.xml", "xl/worksheets/sheet1.xml", "any/thing"])
def test_a_part_that_unpacks_to_far_more_than_its_size_is_refused(part, tmp_path):
    refused(with_part(part, bytes(150_000_000)), tmp_path, "unpacks to 150 MB")


@pytest.mark.parametrize("kind", [zipfile.ZIP_LZMA, zipfile.ZIP_BZIP2])
def test_parts_packed_in_an_unusual_way_are_read_or_refused(kind, tmp_path):
    refused(with_part("xl/styles.xml", b"<x/>", kind), tmp_path, "damaged")


@pytest.mark.parametrize(
    ("offset", "value"), [(6, 1), (8, 97)]
)  # locked with a password; a way of packing nobody knows
def test_parts_that_cannot_be_unpacked_are_refused(offset, value, tmp_path):
    data = bytearray(book())
    for mark, shift in ((b"PK\x03\x04", 0), (b"PK\x01\x02", 2)):  # local headers, and the list of them at the end
        at = data.find(mark)
        while at >= 0:
            data[at + offset + shift] = value
            at = data.find(mark, at + 4)
    refused(bytes(data), tmp_path, r"damaged|locked")


def test_more_sheets_than_are_read_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(workbooks, "MOST_SHEETS", 3)
    stream = io.BytesIO()
    with pd.ExcelWriter(stream) as writer:
        for at in range(5):
            SCORES.to_excel(writer, sheet_name=f"s{at}", index=False)
    refused(stream.getvalue(), tmp_path, "5 sheets, and 3 at most")


def test_a_line_without_end_is_refused_before_it_is_decoded(tmp_path):
    refused(b"lot,taster,brisk\n" + b"5," * 6_000_000, tmp_path, "million characters", "week.csv")


def test_more_rows_than_are_read_are_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(delimited, "MOST_ROWS", 1000)
    refused(b"lot,taster,brisk\n" + b"1,a,5\n" * 1001, tmp_path, "1,002 rows, and 1,000 at most", "week.csv")


def test_a_text_whose_rows_are_of_all_lengths_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(delimited, "MOST_ODD", 1000)
    refused(b"lot,taster,brisk\n" + b"1,a,5\n1,a\n1,a,5,6\n" * 900, tmp_path, "longer or shorter", "week.csv")


@pytest.mark.parametrize("factor", [1e100, 1e16, 1e-9, 1e-300])
def test_marks_of_no_scale_are_told(factor):
    with pytest.raises(SheetError, match="no mark of any scale"):
        pst.read_scores(SCORES.assign(brisk=SCORES["brisk"] * factor))


def test_a_room_of_trainees_alone_is_told_so():
    room = {"tasters": pd.DataFrame({"taster": list("abc"), "role": "trainee"})}
    with pytest.raises(pst.DesignError, match="every taster is a trainee"):
        pst.shortlist_lots(pst.read_scores(SCORES, room=room))


def test_a_scale_of_no_usual_step_is_told_in_words():
    scores = pst.read_scores(SCORES.assign(brisk=SCORES["brisk"] + 0.123))
    assert "none" in set(scores.inferred.loc[scores.inferred["what"] == "step of brisk", "value"])


def test_a_word_of_which_every_mark_was_set_aside_has_no_step_and_no_tolerance():
    scores = pst.read_scores(SCORES.assign(body=SCORES["brisk"] * 1e100), set_aside=True)
    told = scores.inferred.set_index("what")["value"]
    assert told["marks of body"] == "no score is left"
    assert not {"step of body", "tolerance of body"} & set(told.index)
    assert "nan" not in " ".join(scores.inferred.astype(str).to_numpy().ravel())


def test_many_classes_of_one_lot_are_answered_and_none_stands_alone():
    """Rounded marks of a class of one lot vary by chance alone: its own variances would be nothing at all."""
    rng = np.random.default_rng(0)
    rows = [(f"{lot}", taster, pot, f"c{lot}", round(5 + lot % 4 + rng.normal(), 1))
            for lot in range(60) for taster in "abc" for pot in (1, 2)]  # fmt: skip
    scores = pst.read_scores(pd.DataFrame(rows, columns=["lot", "taster", "pot", "class", "brisk"]))
    assert len(pst.compare_lots(scores).means) == 60
    assert pst.panel_agreement(scores).verdicts[0].call == "cannot tell"


def test_agreement_takes_the_classes_of_most_lots_and_says_which_it_left(monkeypatch):
    from panelstats.panel.agreement import layout

    monkeypatch.setattr(layout, "MOST_COLUMNS", 7)
    rng = np.random.default_rng(0)
    sizes = [3, 5, 1, 4]  # of the classes; two of three tasters fit in
    lots = [(f"{k}-{n}", f"c{k}") for k, size in enumerate(sizes) for n in range(size)]
    rows = [(lot, taster, name, 5 + n % 4 + rng.normal()) for n, (lot, name) in enumerate(lots) for taster in "abc"]
    found = pst.panel_agreement(pst.read_scores(pd.DataFrame(rows, columns=["lot", "taster", "class", "brisk"])))
    assert found.table["lots"].tolist() == [9]
    assert "judged on the 2 classes of most lots; the other 1" in found.verdicts[-1].sentence


def test_numbers_of_no_scale_beside_an_average_are_told_without_a_warning():
    table = SCORES.assign(body=SCORES["brisk"] * 1e300, average=SCORES["brisk"] * 1e300)
    with pytest.raises(SheetError, match="no mark of any scale"):
        pst.read_scores(table)


def test_a_season_is_no_table_in_memory():
    with pytest.raises(pst.DesignError, match="a season is read from files"):
        pst.read_cells(SCORES)


def test_a_workbook_that_keeps_no_format_gets_a_marked_copy_of_its_cells(tmp_path, monkeypatch):
    from openpyxl import load_workbook

    from panelstats.cli import main
    from panelstats.sheets.reading import marked

    def fails(*_args, **_options):
        raise KeyError("There is no item named 'xl/sharedStrings.xml' in the archive")  # as openpyxl 3.1 says it

    SCORES.astype(object).assign(brisk=[5, "six", 5, 7, 4, 6]).to_excel(tmp_path / "week.xlsx", index=False)
    monkeypatch.setattr(marked, "load_workbook", fails)
    assert main(["read", str(tmp_path / "week.xlsx"), "--mark"]) == 2
    cells = [cell for row in load_workbook(tmp_path / "week-marked.xlsx").active for cell in row]
    assert [cell.value for cell in cells if cell.comment] == ["six"]


@pytest.mark.parametrize("odd", [1e308, 1e-308])
def test_a_weighing_of_no_size_is_told_with_its_row(odd):
    weighed = pd.DataFrame({"lot": list("aabb"), "mass": [100, 101, 99, odd], "volume": 300.0})
    with pytest.raises(pst.DesignError, match=r"(?s)by its size.*row 4"):
        pst.fit_pack(pst.read_densities(weighed), grams=250, millilitres=830)
