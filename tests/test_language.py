"""Pages in another language: every sentence has its entry, nothing bypasses the catalogue, numbers stay themselves."""

import re
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest
from babel.messages.pofile import read_po

import panelstats as pst
from panelstats.report.pages.page import page_of
from panelstats.review import as_review
from panelstats.speech import CATALOGUES, LANGUAGES, speaking
from tests.catalogue.__main__ import COUNTED, FILE, translated
from tests.catalogue.pseudo import pseudo, unmarked
from tests.catalogue.said import nouns, phrases, words

DATA = Path(__file__).parents[1] / "data"
FIELD = re.compile(r"\{[^}]*\}")
# Signs of the notation and names of their authors, which every language writes so.
NOTATION = {"reml", "holm", "icc", "anova", "usd", "afc", "duo", "trio", "triangle"}


@pytest.fixture(scope="module", params=LANGUAGES[1:])
def catalogue(request):
    with (CATALOGUES / request.param / "LC_MESSAGES" / FILE).open("rb") as file:
        return read_po(file, locale=request.param)


def test_everything_the_package_can_say_has_its_entry(catalogue):
    wanted = {(text, None) for text in phrases() | words()} | {(pair, COUNTED) for pair in nouns()}
    entries = {(entry.id, entry.context): entry for entry in catalogue if entry.id}
    assert sorted(map(str, wanted - set(entries))) == [], "run python -m tests.catalogue, then write the translations"
    assert sorted(map(str, set(entries) - wanted)) == [], "nobody says this any more: run python -m tests.catalogue"
    assert [key for key, entry in entries.items() if entry.fuzzy or not translated(entry)] == []


def test_an_entry_has_the_fields_and_the_spaces_of_its_sentence(catalogue):
    for entry in catalogue:
        if entry.id and not entry.pluralizable:
            assert sorted(set(FIELD.findall(entry.id))) == sorted(set(FIELD.findall(entry.string))), entry.id
            for end in (0, -1):
                assert entry.id[end].isspace() == entry.string[end].isspace(), entry.id


def names_of(scores):
    """What the room wrote: names, its words, its gardens."""
    tables = (
        scores.tasters,
        scores.descriptors,
        scores.lots,
        scores.words,
        scores.faults,
        scores.sessions,
        scores.remarks,
    )
    cells = [str(cell) for table in tables for name in table for cell in table[name].unique()]
    cells += [str(name) for table in tables for name in table] + list(scores.account["file"])
    return {word.lower() for cell in cells for word in re.findall(r"[A-Za-z][A-Za-z'-]{2,}", cell)}


@pytest.mark.parametrize("kind", ["session", "trainees"])
def test_no_english_stands_on_a_page_beside_the_catalogue(kind):
    review = {"session": pst.review_session, "trainees": pst.review_trainees}[kind]
    with speaking(pseudo()):
        scores = pst.read_scores(DATA / {"session": "bench", "trainees": "new-tasters"}[kind])
        page = page_of(review(scores))
    letters = {
        word for word in unmarked(page, names_of(scores) | NOTATION | {DATA.name, "bench"}) if len(set(word)) > 1
    }
    assert {word for word in letters if not re.fullmatch(r"[a-h]{3,}", word)} == set()


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
