"""Pages in another language: every sentence has its entry, nothing bypasses the catalogue, numbers stay themselves."""

import re
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from babel.messages.pofile import read_po

import panelstats as pst
from panelstats.catalogues import CATALOGUES, LANGUAGES
from panelstats.panel.tasters.reasons import NO_NAME
from panelstats.report.pages.page import page_of
from panelstats.review import as_review
from panelstats.sheets.room.room import REGISTERS
from panelstats.speech import FIELD, heard, speaking
from panelstats.words import capital
from tests.catalogue.__main__ import FILE, translated, wanted
from tests.catalogue.pseudo import lines_of, outside_of, pseudo, unmarked
from tests.catalogue.told import told
from tests.report import everypage

DATA = Path(__file__).parents[1] / "data"
# Signs of the notation and names of their authors, which every language writes so.
NOTATION = {"reml", "holm", "icc", "anova", "usd", "afc", "duo", "trio", "triangle"}
# Numbers and days as English writes them, whole.
NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)+|\d{1,3}(?:,\d{3})+|\d{4}-\d\d-\d\d")
# Columns of registers that hold words of ours, and what a table calls all descriptors.
OURS = {"stage", "kind", "wanted", "tells", "role", "pots", "order", "blind"}
OVERALL = "overall"
# Columns of results that hold what the room wrote.
NAMING = ("session", "lot", "lot_a", "lot_b", "taster", "trainee", "descriptor", "test", "standard", "grade", "state")


@pytest.fixture(scope="module", params=LANGUAGES[1:])
def catalogue(request):
    with (CATALOGUES / request.param / "LC_MESSAGES" / FILE).open("rb") as file:
        return read_po(file, locale=request.param)


def test_everything_the_package_can_say_has_its_entry(catalogue):
    entries = {(entry.id, entry.context): entry for entry in catalogue if entry.id}
    assert sorted(map(str, wanted().keys() - entries.keys())) == [], (
        "run python -m tests.catalogue, then write the translations"
    )
    assert sorted(map(str, entries.keys() - wanted().keys())) == [], (
        "nobody says this any more: run python -m tests.catalogue"
    )
    assert [key for key, entry in entries.items() if entry.fuzzy or not translated(entry)] == []


def test_an_entry_has_the_fields_and_the_spaces_of_its_sentence(catalogue):
    for entry in catalogue:
        if entry.id and not entry.pluralizable:
            assert sorted(set(FIELD.findall(entry.id))) == sorted(set(FIELD.findall(entry.string))), entry.id
            for end in (0, -1):
                assert entry.id[end].isspace() == entry.string[end].isspace(), entry.id


def cells_of(review):
    """What the room wrote: names, its words, its gardens; whose reviews keep no scores are named by their tables."""
    tables = [table for _, result in review.results for table in result.tables().values()]
    cells = [str(cell) for table in tables for name in {*table} & {*NAMING} for cell in table[name].unique()]
    if (scores := review.scores) is not None:
        rooms = (scores.tasters, scores.descriptors, scores.lots, scores.words, scores.faults, scores.sessions,
                 scores.remarks)  # fmt: skip
        cells += [str(cell) for table in rooms for name in {*table} - OURS for cell in table[name].unique()]
        cells += [name for name in scores.lots if name not in OURS]
        files = list(scores.account["file"]) + list(scores.account["sheet"]) + list(map(str, scores.files))
        cells += [*files, *REGISTERS]
    return [cell for cell in [*cells, review.source] if cell != OVERALL]


def names_of(review):
    return {word.lower() for cell in cells_of(review) for word in re.findall(r"[A-Za-z][A-Za-z'-]{2,}", cell)}


@pytest.mark.parametrize("kind", everypage.REVIEWS)
def test_no_english_stands_on_a_page_beside_the_catalogue(kind):
    with speaking(pseudo()):
        page, review = everypage.page(kind), everypage.REVIEWS[kind]()
    outside = unmarked(page, names_of(review) | NOTATION)
    assert {word for word in outside if len(set(word)) > 1 and not re.fullmatch(r"[a-h]{3,}", word)} == set()
    rooms = {number for cell in cells_of(review) for number in NUMBER.findall(cell)} | {version("panelstats")}
    assert {number for line in lines_of(page) for number in NUMBER.findall(outside_of(line))} - rooms == set()


def test_every_message_is_found_again_when_its_fields_are_filled():
    with speaking(pseudo()):
        for template in told():
            message = FIELD.sub(lambda field: "'7'" if field[2] else "7" if field[3] else "q", template)
            assert not re.search(r"[a-pr-zA-Z]", outside_of(heard(message))), template


def test_what_the_room_wrote_in_a_message_stays_as_it_is():
    with pst.language("de"):
        assert heard("a lot named as 'not read' with a sign added").startswith("eine Partie, die wie 'not read' heißt")
        assert heard("week.csv, sheet left out") == "week.csv, Blatt left out"
        assert heard("a sentence nobody ever wrote") == "a sentence nobody ever wrote"
        assert heard("1,200 rows, and 100,000 at most are read from one file").startswith(
            "1.200 Zeilen, und höchstens 100.000"
        )
    assert heard("not read") == "not read"


def test_a_german_is_told_what_is_wrong_in_german(tmp_path, capsys):
    from panelstats.cli import main

    sheet = tmp_path / "week.csv"
    sheet.write_text("lot,taster,brisk\n101,elm,7\n102,elm,abc\n103,elm,6-7\n")
    assert main([str(sheet), "--lang", "de"]) == 2
    told = capsys.readouterr().err
    assert "2 Unklarheiten in den Bögen" in told
    assert "week.csv, Zeile 3, Spalte brisk, Wert 'abc'" in told
    assert main([str(tmp_path / "none.csv"), "--lang", "de"]) == 2
    assert "eine solche Datei oder einen solchen Ordner gibt es nicht" in capsys.readouterr().err


def test_the_room_says_its_language_once_and_the_command_wins(tmp_path, capsys):
    from panelstats.cli import main

    (tmp_path / "week.csv").write_text("lot,taster,brisk\n101,elm,7\n102,elm,abc\n")
    book = openpyxl.Workbook()
    book.active.title = "room"
    for said in ("language", "de"):
        book.active.append([said])
    book.save(tmp_path / "room.xlsx")
    told = {}
    for of in (["week.csv"], ["."], ["week.csv", "--lang", "en"]):
        assert main([str(tmp_path / of[0]), *of[1:]]) == 2
        told[tuple(of)] = capsys.readouterr().err.splitlines()[0]
    assert list(told.values()) == ["keine Zahl", "keine Zahl", "not a number"]
    main(["start", str(tmp_path), "--out", str(tmp_path / "new.xlsx")])
    assert openpyxl.load_workbook(tmp_path / "new.xlsx")["room"]["A2"].value == "de"
    book.active["A2"] = "latin"
    book.save(tmp_path / "room.xlsx")
    assert main([str(tmp_path)]) == 2
    assert "write en, de" in capsys.readouterr().err


def test_a_german_page_writes_numbers_and_dates_as_a_german_does():
    with pst.language("de"):
        page = page_of(as_review(pst.difference_test("triangle", correct=19, answers=36))).decode()
    assert '<html lang="de">' in page
    text = re.sub(r"<style>.*?</style>|<svg.*?</svg>|<[^>]*>|panelstats \d+\.\d+\.\d+", " ", page, flags=re.DOTALL)
    assert re.findall(r"\d\.\d", text) == []
    assert re.search(r"p = 0,0\d", text)
    assert "Sind die beiden verschieden?" in text


def test_calls_columns_and_numbers_are_the_same_in_every_language():
    learning, bench = pst.read_scores(DATA / "new-tasters"), pst.read_scores(DATA / "bench")
    for analysis, scores in ((pst.assess_trainees, learning), (pst.assess_tasters, bench), (pst.compare_lots, bench)):
        spoken = {}
        for code in LANGUAGES:
            with pst.language(code):
                spoken[code] = analysis(scores)
        for name, table in spoken["en"].tables().items():
            other = spoken["de"].tables()[name]
            assert list(table.columns) == list(other.columns)
            alike = [*table.select_dtypes("number"), *{"call", "aspect", "overall"} & {*table.columns}]
            pd.testing.assert_frame_equal(table[alike], other[alike])
        assert [v.call for v in spoken["en"].verdicts] == [v.call for v in spoken["de"].verdicts]
        assert [v.sentence for v in spoken["en"].verdicts] != [v.sentence for v in spoken["de"].verdicts]


def test_a_phrase_that_begins_a_sentence_is_put_into_the_language_before_its_first_letter_is_cut_off():
    with pst.language("de"):
        assert capital(NO_NAME) == str(NO_NAME).capitalize()[:1] + str(NO_NAME)[1:]
        assert not capital(NO_NAME).endswith(NO_NAME[1:])  # the English words


def test_an_unknown_language_is_refused_and_the_old_one_comes_back():
    with pytest.raises(pst.DesignError, match="no such language"), pst.language("latin"):
        pass
    with pytest.raises(ZeroDivisionError), pst.language("de"):
        _ = 1 / 0
    assert pst.difference_test("triangle", correct=19, answers=36).verdicts[0].sentence.startswith("Triangle")


def test_english_loads_no_catalogue():
    code = "pst.difference_test('triangle', correct=19, answers=36); print('babel' in sys.modules)"
    run = [sys.executable, "-c", f"import sys, panelstats as pst; {code}"]
    assert subprocess.run(run, capture_output=True, check=True, text=True).stdout == "False\n"


def test_the_command_line_writes_the_page_in_german(tmp_path):
    from panelstats.cli import main

    assert (
        main(["differ", "triangle", "--correct", "19", "--answers", "36", "--lang", "de", "--out", str(tmp_path)]) == 0
    )
    page = next(tmp_path.glob("*.html")).read_text(encoding="utf-8")
    assert 'lang="de"' in page
    assert "Was als Nächstes zu tun ist" in page
