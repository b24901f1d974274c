"""Lists that hold no scores, among score sheets under any name: passed over by one reader, read by another."""

from __future__ import annotations

from pathlib import Path

import pytest

import panelstats as pst

SCORES = "lot,taster,brisk\n" + "".join(f"{lot},{who},{lot % 4 + 3}\n" for lot in range(1, 7) for who in ("elm", "yew"))
LISTS = {
    "weighed": "Lot,Grade,State,Mass,Volume,Remarks\n1,dust,loose,31,100,\n2,dust,loose,33,100,shaken\n",
    "tuesday": "taster,kind,order,answer\nelm,triangle,AAB,3\nyew,triangle,ABA,2\n",
    "chests": "lot,kg,price per kg,min,max\n1,300,4.1,0,0.5\n2,120,3.9,0,1\n",
    "stock": "lot,kg\n1,300\n2,120\n",
}


def room(folder: Path, *names: str) -> Path:
    (folder / "week.csv").write_text(SCORES)
    for name in names:
        (folder / f"{name}.csv").write_text(LISTS[name])
    return folder


@pytest.mark.parametrize("name", LISTS)
def test_a_list_among_score_sheets_is_no_question_and_changes_no_score(name: str, tmp_path: Path) -> None:
    found = pst.examine_sheets(room(tmp_path, name))
    assert not len(found.questions)
    assert not len(found.problems)
    assert (found.notes["value"] == ("a register" if name == "weighed" else "a list")).sum() == 1
    scores = pst.read_scores(tmp_path)
    assert len(scores.densities) == (2 if name == "weighed" else 0)
    assert scores.account["file"].tolist() == ["week.csv"]
    assert len(scores.frame) == 12


def test_each_list_is_found_by_its_reader(tmp_path: Path) -> None:
    room(tmp_path, "weighed", "tuesday", "chests")
    assert pst.read_densities(tmp_path)["mass"].tolist() == [31, 33]
    assert pst.read_answers(tmp_path)["answer"].tolist() == ["3", "2"]
    assert pst.read_stock(tmp_path)[["lot", "kilograms", "most"]].values.tolist() == [["1", 300, 0.5], ["2", 120, 1]]


def test_facts_of_lots_stay_facts(tmp_path: Path) -> None:
    room(tmp_path)
    (tmp_path / "offer.csv").write_text("lot,kg,price\n" + "".join(f"{lot},100,{lot + 3}\n" for lot in range(1, 7)))
    assert not (pst.examine_sheets(tmp_path).notes["value"] == "a list").any()
