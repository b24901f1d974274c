"""`panelstats garden`: a letter to one garden beside its sheets, or to each in a folder."""

import json

import pandas as pd
import pytest

from panelstats.cli import main

LOTS = [f"L{n:02d}" for n in range(18)]


@pytest.fixture
def source(tmp_path):
    """Two gardens, one of which fires hotter from a day on."""
    folder = tmp_path / "sale"
    folder.mkdir()
    hill = [n % 3 == 0 for n in range(18)]
    sheet = pd.DataFrame(
        {"lot": LOTS, "taster": "elm", "brisk": [7.5 if h else 4 + n % 4 / 2 for n, h in enumerate(hill)]}
    )
    sheet["remarks"] = ["flat" if n == 3 else "" for n in range(18)]
    sheet.to_csv(folder / "sheet.csv", index=False)
    register = pd.DataFrame({"lot": LOTS, "garden": ["Hill" if h else "<b>Flats & Co</b>" for h in hill],
                             "made": [f"2026-02-{n + 1:02d}" for n in range(18)],
                             "firing": ["90"] * 9 + ["100"] * 9})  # fmt: skip
    register.to_csv(folder / "lots.csv", index=False)
    return folder


def test_a_letter_stands_beside_the_sheets(source, capsys):
    assert main(["garden", str(source), "--garden", "Hill"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Hill")
    assert (source / "sale-garden-Hill.html").exists()
    assert (source / "sale-garden-Hill.xlsx").exists()
    page = (source / "sale-garden-Hill.html").read_text()
    assert "firing 100" in page
    assert "“flat” <span" in page
    assert "elm of L03" in page


def test_every_garden_gets_a_letter_of_its_own(source, capsys):
    assert main(["garden", str(source), "--all"]) == 0
    out = capsys.readouterr().out
    pages = list((source / "sale-gardens").glob("*.html"))
    assert len(pages) == len(list((source / "sale-gardens").glob("*.xlsx"))) == 2
    assert "- Hill: " in out
    assert max(map(len, out.splitlines()[:-1])) <= 80
    text = next(page for page in pages if "Flats" in page.name).read_text()
    assert "<b>Flats" not in text
    assert "&lt;b&gt;Flats &amp; Co" in text


def test_a_misspelt_garden_is_answered_with_the_nearest(source, capsys):
    assert main(["garden", str(source), "--garden", "Hil"]) == 2
    assert "did you mean 'Hill'" in capsys.readouterr().err


def test_sheets_without_gardens_say_what_to_write(tmp_path, capsys):
    pd.DataFrame({"lot": list("abc"), "taster": "elm", "brisk": [4, 5, 6]}).to_csv(tmp_path / "s.csv", index=False)
    for words in (["--all"], ["--garden", "Hill"]):
        assert main(["garden", str(tmp_path / "s.csv"), *words]) == 2
        assert "no garden is known" in capsys.readouterr().err


def test_machines_get_all_of_it(source, capsys):
    assert main(["garden", str(source), "--all", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert len(found) == 2


def test_one_garden_or_all_must_be_asked_for(source, capsys):
    with pytest.raises(SystemExit):
        main(["garden", str(source)])
    assert "--garden" in capsys.readouterr().err
