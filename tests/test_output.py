import os
import stat
from pathlib import Path

import pytest
from jinja2 import Environment, UndefinedError
from openpyxl import load_workbook

import panelstats as pst
from panelstats import ourfiles, output
from panelstats.cli import main
from panelstats.errors import PanelError
from panelstats.report.pages.render import templates

PAGE = f"<!doctype html><html><head>{ourfiles.PAGE_MARK}</head></html>".encode()


def test_a_new_file_is_written_and_leaves_nothing_beside_it(tmp_path):
    path = output.write_whole(tmp_path / "page.html", PAGE)
    assert path.read_bytes() == PAGE
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]


def test_our_own_page_is_replaced_without_asking(tmp_path):
    path = output.write_whole(tmp_path / "page.html", PAGE)
    output.write_whole(path, PAGE + b"second")
    assert path.read_bytes().endswith(b"second")


def test_our_own_workbook_is_known_and_an_empty_sheet_is_not(tmp_path):
    for ours in (True, False):
        book, stream = ourfiles.new_workbook(ours=ours)
        book.add_worksheet("lots")
        book.close()
        path = output.write_whole(tmp_path / f"{ours}.xlsx", stream.getvalue())
        assert ourfiles.is_ours(path) is ours


@pytest.mark.parametrize("content", [b"", b"lot,taster\n1,2\n", b"PK\x03\x04 not a zip", b"<html>panelstats</html>"])
def test_somebody_elses_file_stays_as_it_is(tmp_path, content):
    path = tmp_path / "page.html"
    path.write_bytes(content)
    with pytest.raises(PanelError) as caught:
        output.write_whole(path, PAGE)
    assert str(path) in str(caught.value)
    assert "--overwrite" in str(caught.value)
    assert path.read_bytes() == content
    output.write_whole(path, PAGE, overwrite=True)
    assert path.read_bytes() == PAGE


@pytest.mark.parametrize("name", ["page.docx", "page.xlsx", "page.html.txt", "page", ".html"])
def test_a_page_under_another_ending_is_refused_and_told_which_work(tmp_path, name):
    test = pst.difference_test("triangle", correct=19, answers=36)
    for write, ending in ((pst.write_report, ".html"), (pst.write_workbook, ".xlsx")):
        wrong = tmp_path / name if not name.endswith(ending) else tmp_path / "other.doc"
        with pytest.raises(PanelError, match=r"\.html for a page, in \.xlsx for a workbook"):
            write(test, wrong)
        assert not list(tmp_path.iterdir())
        write(test, tmp_path / f"GOOD{ending.upper()}").unlink()
    with pst.language("de"), pytest.raises(PanelError, match=r"auf \.html"):
        pst.write_report(test, tmp_path / "page.docx")


def test_a_file_meant_where_a_folder_is_looked_for_is_told_the_endings(tmp_path, capsys):
    """`--out week.docx` is no folder that is there."""
    asked = ["differ", "triangle", "--correct", "19", "--answers", "36", "--out", str(tmp_path / "week.docx")]
    assert main(asked) == 2
    told = capsys.readouterr().err
    assert "week.docx" in told
    assert ".html (a page) or .xlsx (a workbook)" in told
    assert not list(tmp_path.iterdir())


def test_a_place_that_cannot_be_written_to_is_told_before_anything_is_read(tmp_path, capsys):
    sheet = tmp_path / "week.csv"
    sheet.write_text("lot,taster,brisk\n1,elm,11x\n")
    assert main([str(sheet), "--out", str(tmp_path / "week.docx")]) == 2
    told = capsys.readouterr().err
    assert "there is no such folder to write into" in told
    assert "11x" not in told


def test_a_missing_folder_and_a_folder_in_the_way_are_told(tmp_path):
    with pytest.raises(PanelError, match="no such folder"):
        output.write_whole(tmp_path / "nowhere" / "page.html", PAGE)
    with pytest.raises(PanelError, match="a folder stands"):
        output.write_whole(tmp_path, PAGE)


def test_a_write_that_fails_leaves_the_old_file_and_no_rest(tmp_path, monkeypatch):
    path = output.write_whole(tmp_path / "page.html", PAGE)

    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pathlib.Path.replace", refuse)
    with pytest.raises(PanelError, match="No space left"):
        output.write_whole(path, b"half")
    assert path.read_bytes() == PAGE
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]


def test_others_may_read_what_is_written_as_the_umask_says(tmp_path):
    mask = os.umask(0o022)
    try:
        path = output.write_whole(tmp_path / "page.html", PAGE)
    finally:
        os.umask(mask)
    assert stat.S_IMODE(path.stat().st_mode) == 0o644


def test_a_link_stays_a_link(tmp_path):
    target = output.write_whole(tmp_path / "real.html", PAGE)
    link = tmp_path / "link.html"
    link.symlink_to(target)
    output.write_whole(link, PAGE + b"second")
    assert link.is_symlink()
    assert target.read_bytes().endswith(b"second")


def test_text_that_looks_like_a_formula_or_a_link_stays_text(tmp_path):
    book, stream = ourfiles.new_workbook()
    sheet = book.add_worksheet()
    texts = ["=1+1", "+1", "-1", "@a", "http://x.invalid", "12"]
    for row, text in enumerate(texts):
        sheet.write(row, 0, text)
    book.close()
    path = output.write_whole(tmp_path / "book.xlsx", stream.getvalue())
    cells = [row[0] for row in load_workbook(path).active.iter_rows()]
    assert [cell.value for cell in cells] == texts
    assert {cell.data_type for cell in cells} == {"s"}


def test_a_name_is_escaped_in_a_page_and_a_missing_one_is_an_error():
    template = templates().from_string("<p>{{ lot }}</p>")
    assert template.render(lot="<b>5 & 6</b>") == "<p>&lt;b&gt;5 &amp; 6&lt;/b&gt;</p>"
    with pytest.raises(UndefinedError):
        template.render()


def test_templates_are_compiled_once_in_a_run(tmp_path, monkeypatch):
    test = pst.difference_test("triangle", correct=19, answers=36)
    first = pst.write_report(test, tmp_path / "first.html")
    monkeypatch.delattr(Environment, "compile")
    second = pst.write_report(test, tmp_path / "second.html")
    assert second.read_bytes() == first.read_bytes()


def test_text_no_file_can_hold_stands_as_its_number():
    assert ourfiles.page_bytes("lot \ud800") == rb"lot \ud800"
    assert ourfiles.cell_text("lot \ud800") == r"lot \ud800"


def test_of_several_files_all_are_written_or_none(tmp_path, monkeypatch):
    old = output.write_whole(tmp_path / "a.html", PAGE)
    files = {old: PAGE + b"new", tmp_path / "b.html": PAGE, tmp_path / "people" / "c.html": PAGE}
    (tmp_path / "b.html").write_text("a letter")
    with pytest.raises(PanelError, match="did not write"):
        output.write_all(files, folder=tmp_path / "people")
    assert {path.name for path in tmp_path.iterdir()} == {"a.html", "b.html"}
    (tmp_path / "b.html").unlink()
    replace, renamed = Path.replace, []

    def one_only(part, place):
        renamed.append(place)
        if len(renamed) > 1:
            raise PermissionError(13, "Open in another program")
        return replace(part, place)

    monkeypatch.setattr("pathlib.Path.replace", one_only)
    with pytest.raises(PanelError, match="Open in another program"):
        output.write_all(files, folder=tmp_path / "people")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"a.html": PAGE}


def test_the_folder_for_people_is_made_only_inside_one_that_exists(tmp_path):
    with pytest.raises(PanelError, match="no such folder"):
        output.write_all(dict.fromkeys([tmp_path / "x" / "a.html", tmp_path / "x" / "p" / "b.html"], PAGE),
                         folder=tmp_path / "x" / "p")  # fmt: skip
    assert list(tmp_path.iterdir()) == []
