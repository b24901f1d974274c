"""`panelstats plan`: from a number or a sheet of lots to sheets that read back."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

import panelstats as pst
from panelstats.__main__ import main


def test_a_number_of_lots_becomes_sheets_and_the_key(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = [
        "plan",
        "12",
        "--tasters",
        "elm,yew",
        "--limit",
        "20",
        "--controls",
        "S",
        "--repeats",
        "2",
        "--service",
        "tray",
    ]
    assert main([*asked, "--out", str(tmp_path / "day")]) == 0
    names = {path.name for path in (tmp_path / "day").iterdir()}
    (key,) = {name for name in names if name.startswith("key-p")}
    assert names == {
        key,
        "room.xlsx",
        "kitchen.html",
        "sheet-elm.xlsx",
        "sheet-elm.html",
        "sheet-yew.xlsx",
        "sheet-yew.html",
    }
    out = capsys.readouterr().out
    assert all(len(line) <= 80 or str(tmp_path) in line for line in out.splitlines())
    assert "15 pots for a taster" in " ".join(out.split())
    assert main([*asked, "--out", str(tmp_path / "day")]) == 2  # the sheets may hold scores
    assert "stands in the way" in capsys.readouterr().err
    assert main([*asked, "--out", str(tmp_path / "day"), "--overwrite"]) == 0


def test_a_sheet_of_lots_gives_classes_and_controls(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "offer.csv"
    table = pd.DataFrame({"Lot no": [f"{n:03d}" for n in range(8)], "Class": ["b", "a"] * 4, "role": ""})
    table.loc[8] = ["S", "", "standard"]
    table.to_csv(sheet, index=False)
    before = sheet.read_bytes()
    asked = ["plan", str(sheet), "--tasters", "elm", "--limit", "20", "--order", "class", "--every", "5", "--json"]
    assert main([*asked, "--out", str(tmp_path / "day"), "--descriptors", "brisk,body"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert any("class order" in verdict["sentence"] for result in found.values() for verdict in result["verdicts"])
    assert sheet.read_bytes() == before
    codes = pd.read_excel(tmp_path / "day" / "room.xlsx", sheet_name="codes", dtype=str, engine="openpyxl")
    assert codes["lot"].tolist() == ["S", "001", "003", "005", "007", "S", "000", "002", "004", "006"]


def test_past_sessions_say_what_the_plan_can_prove(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    room = pst.example.row()
    past = tmp_path / "past"
    past.mkdir()
    room.frame.to_csv(past / "row.csv", index=False)
    for name, table in room.registers.items():
        table.to_csv(past / f"{name}.csv", index=False)
    asked = ["plan", "6", "--tasters", "elm,yew", "--limit", "20", "--past", str(past), "--out", str(tmp_path / "day")]
    assert main(asked) == 0
    assert "8 cases of 10" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("own", "told"),
    [(["0"], "no lots"), (["no-such-file.csv"], "no such file"), (["30", "--limit", "10"], "serve a control")],
)
def test_what_cannot_be_planned_ends_in_one_message(
    own: list[str], told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["plan", *own, "--tasters", "elm", "--out", str(tmp_path / "day")]
    assert main(asked if "--limit" in own else [*asked, "--limit", "10"]) == 2
    assert told in capsys.readouterr().err
    assert not (tmp_path / "day").exists()
