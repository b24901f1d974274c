"""Sheets of difference tests: what they hide, and that filled ones are judged as they were answered."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import openpyxl
import pytest

import panelstats as pst
from panelstats.__main__ import main

KINDS = ["triangle", "duo-trio", "paired", "2-afc", "3-afc", "tetrad", "two-out-of-five", "a-not-a", "same-different"]


def answered(folder: Path, plan: pst.PlatePlan, seed: int) -> dict[tuple[str, int], bool | None]:
    """Fill in every sheet, some rightly, some wrongly, some not at all; what should come of each."""
    rng = np.random.default_rng(seed)
    key = plan.answers.set_index(["taster", "trial"])
    said = {}
    for path in sorted(folder.glob("sheet-*.xlsx")):
        book = openpyxl.load_workbook(path)
        page = book.active
        for row in range(2, page.max_row + 1):
            taster, trial = page.cell(row, 3).value, int(page.cell(row, 4).value)
            told = key.loc[(taster, trial)]
            answer, right = _an_answer(told, rng)
            said[taster, trial] = right
            page.cell(row, 6).value = answer
            if rng.random() < 0.3:  # a number, as a spreadsheet makes of it
                page.cell(row, 4).value = trial
                if answer and answer.isdecimal():
                    page.cell(row, 6).value = int(answer)
        book.save(path)
    return said


def _an_answer(told, rng: np.random.Generator) -> tuple[str | None, bool | None]:
    """An answer, and whether it is right; None for a blank. A tetrad is right by either pair."""
    codes, cups = told["code"].split(), told["order"].rsplit(":", maxsplit=1)[-1]
    if rng.random() < 0.2:
        return None, None
    if told["kind"] in ("a-not-a", "same-different"):
        wrong = {"A": "not A", "not A": "A", "same": "different", "different": "same"}[told["right"]]
        right = bool(rng.random() < 0.5)
        return (told["right"] if right else wrong), right
    picks = 2 if told["kind"] in ("tetrad", "two-out-of-five") else 1
    chosen = sorted(rng.choice(len(codes), picks, replace=False))
    letters = "".join(cups[at] for at in chosen)
    if told["kind"] in ("paired", "2-afc"):
        right = letters == "A"
    elif told["kind"] == "duo-trio":
        right = letters == told["order"][0]
    elif told["kind"] == "tetrad":
        right = len(set(letters)) == 1
    else:
        right = all(cups.count(letter) == picks for letter in letters) and len(set(letters)) == 1
    return " ".join(codes[at] for at in chosen), right


@pytest.mark.parametrize("kind", KINDS)
def test_filled_sheets_are_judged_as_they_were_answered(kind: str, tmp_path: Path) -> None:
    seed = KINDS.index(kind)
    plan = pst.plan_difference(kind, ["elm", "yew", "larch"], products=("S", "B1"), trials=1 + seed % 4, seed=seed)
    plan.write(tmp_path / "day")
    said = answered(tmp_path / "day", plan, seed)
    read = pst.read_answers(tmp_path / "day")
    assert len(read) == len(plan.answers)
    assert "plan" not in read
    judged = pst.judge_answers(read)
    assert judged.table["blanks"].sum() == sum(right is None for right in said.values())
    assert judged.table["correct"].sum() == sum(bool(right) for right in said.values())
    each = judged.tasters.set_index("taster")["correct"].to_dict()
    assert each == {who: sum(bool(right) for (taster, _), right in said.items() if taster == who) for who in each}


def test_sheets_tell_neither_products_nor_orders_and_the_kitchen_both(tmp_path: Path) -> None:
    plan = pst.plan_difference("duo-trio", ["elm", "yew"], products=("sealed-one", "trial-one"), trials=2)
    plan.write(tmp_path / "day")
    for taster in ("elm", "yew"):
        page = (tmp_path / "day" / f"sheet-{taster}.html").read_text("utf-8")
        book = openpyxl.load_workbook(tmp_path / "day" / f"sheet-{taster}.xlsx")
        cells = [str(cell.value) for row in book.active.iter_rows() for cell in row]
        for secret in ("A:AB", "A:BA", "B:AB", "B:BA", "sealed-one", "trial-one"):
            assert secret not in page
            assert not any(secret in cell for cell in cells)
        codes = plan.answers.loc[plan.answers["taster"] == taster, "code"]
        assert all(f"R {each}" in cells for each in codes)
        for caution in ("near boiling", "caffeine", "mouldy", "allergens"):
            assert caution in page
    kitchen = (tmp_path / "day" / "kitchen.html").read_text("utf-8")
    assert "Not for tasters" in kitchen
    assert all(code in kitchen for code in plan.servings["code"])
    assert "sealed-one" in kitchen


WRONG = {
    "plan": (1, "p0000000", "another plan"), "trial": (4, "9", "no such set"),
    "code": (5, "111 222 333", "not served in this set"), "answer": (6, "112", "was not served in this set"),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_no_set_explains_is_told_with_its_row(name: str, tmp_path: Path) -> None:
    column, value, told = WRONG[name]
    plan = pst.plan_difference("triangle", ["elm"], trials=3)
    plan.write(tmp_path / "day")
    path = tmp_path / "day" / "sheet-elm.xlsx"
    book = openpyxl.load_workbook(path)
    for row in (2, 3, 4):
        book.active.cell(row, 6).value = plan.answers["right"].iloc[row - 2]
    book.active.cell(3, column).value = value
    book.save(path)
    with pytest.raises(pst.SheetError) as error:
        pst.judge_answers(pst.read_answers(tmp_path / "day"))
    assert told in str(error.value)
    assert "row 3" in str(error.value)


def test_a_filled_sheet_without_its_key_asks_for_it(tmp_path: Path) -> None:
    plan = pst.plan_difference("triangle", ["elm"], trials=3)
    plan.write(tmp_path / "day")
    answered(tmp_path / "day", plan, 3)
    with pytest.raises(pst.SheetError, match="register sets"):
        pst.read_answers(tmp_path / "day" / "sheet-elm.xlsx")


def test_the_command_plans_a_test_and_its_sheets_are_judged(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    day = tmp_path / "day"
    asked = ["plan", "triangle", "--tasters", "elm,yew,larch,beech,alder,poplar", "--products", "S,B1", "--trials", "2"]
    assert main([*asked, "--out", str(day)]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "each of the 6 orders is served 2 times" in out
    assert f"panelstats differ {day}" in out
    names = {path.name for path in day.iterdir()}
    assert names >= {"room.xlsx", "kitchen.html", "sheet-elm.xlsx", "sheet-elm.html"}
    plan = pst.plan_difference("triangle", ["elm", "yew", "larch", "beech", "alder", "poplar"],
                               products=("S", "B1"), trials=2)  # fmt: skip
    said = answered(day, plan, 1)
    assert main(["differ", str(day), "--out", str(tmp_path)]) == 0
    assert f"{sum(map(bool, said.values()))} of 12" in " ".join(capsys.readouterr().out.split())
    assert main([*asked, "--out", str(day)]) == 2
    assert "stands in the way" in capsys.readouterr().err
    assert main(["plan", "triangle", "--tasters", "elm", "--products", "S", "--out", str(tmp_path / "x")]) == 2
    assert "two products" in capsys.readouterr().err
