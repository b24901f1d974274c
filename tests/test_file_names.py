import re

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from panelstats.cli import main
from panelstats.filenames import _folded, file_names
from panelstats.output import write_whole

# Microsoft, "Naming Files, Paths, and Namespaces": reserved names and signs.
RESERVED = [*("con", "prn", "aux", "nul"), *(f"{port}{n}" for port in ("com", "lpt") for n in "123456789¹²³")]
SIGNS = re.compile(r'[<>:"/\\|?*\x00-\x1f]')


def assert_usable(found):
    assert len({_folded(file) for file in found.values()}) == len(found)
    for file in found.values():
        assert file
        assert not SIGNS.search(file)
        assert file[-1] not in " ."
        assert file[0] not in " .-"
        assert file.split(".")[0].strip().casefold() not in RESERVED
        assert len(f"{file}.html".encode()) <= 255


@given(
    st.lists(st.text(st.sampled_from("aAéÉß -./*e\u0301\ud800"), max_size=4) | st.sampled_from(RESERVED), unique=True)
)
def test_no_two_names_share_a_file_on_any_system(names):
    assert_usable(file_names(names))


@given(st.lists(st.text(max_size=300), unique=True))
def test_any_text_gives_a_usable_name(names):
    assert_usable(file_names(names))


def test_hostile_names_stay_apart():
    names = ["elm-a", "elm a", "elm/a", "elm\\a", "Elm-a", "é", "e\u0301", "É", "...", "***", " ", "", "a.", "a", "A "]
    names += [*RESERVED, *(f"{word}.x" for word in RESERVED), "NUL", "x" * 300, "x" * 301, "茶" * 200, "茶" * 201]
    names += list(file_names(names).values())
    assert_usable(file_names(dict.fromkeys(names)))


@pytest.mark.parametrize("name", ["Anna Maria", "elm-a", "O'Hara", "अमिता", "7", "Jun. Li"])
def test_a_name_that_harms_nobody_is_kept(name):
    assert file_names([name, "another"])[name] == name


def test_every_taster_gets_a_sheet(tmp_path):
    names = ["elm-a", "elm a", "elm/a", "con"]
    rows = [(lot, name, score + at) for at, name in enumerate(names) for lot, score in (("1", 4), ("2", 6))]
    path = tmp_path / "day.csv"
    pd.DataFrame(rows, columns=["lot", "taster", "brisk"]).to_csv(path, index=False)
    assert main([str(path), "--taster-sheets"]) == 0
    pages = [page.read_text() for page in (tmp_path / "day-tasters").iterdir()]
    assert len(pages) == len(names)
    heads = [re.search(r"<h1.*?</h1>", page, re.DOTALL)[0] for page in pages]
    assert sorted(heads) == sorted(set(heads))
    assert all(any(name in head for head in heads) for name in names)


def test_a_file_of_the_longest_name_is_written(tmp_path):
    assert write_whole(tmp_path / ("x" * 250 + ".html"), b"page").read_bytes() == b"page"
