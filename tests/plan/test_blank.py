"""Sheets: what they hold and hide, and that a filled one reads back without loss and without a question."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest

import panelstats as pst

REMARKS = ["", "thin", "a little harsh at the end", "-", "n/a"]


def planned(seed: int) -> tuple[pst.ServingPlan, list[str]]:
    """A plan of random size, and the descriptors of its sheets."""
    rng = np.random.default_rng(seed)
    lots, tasters = int(rng.integers(2, 14)), int(rng.integers(1, 5))
    plan = pst.plan_session(
        [str(n) for n in rng.choice(900, lots, replace=False)], ["elm", "yew", "larch", "beech"][:tasters],
        service=str(rng.choice(["bench", "tray"])), limit=int(rng.integers(9, 30)),
        controls=["S", "T"][: rng.integers(1, 3)],
        pots_per_lot=int(rng.integers(1, 3)), repeats=int(rng.integers(0, 3)) if lots > 3 else 0, seed=seed,
    )  # fmt: skip
    return plan, ["brisk", "strength", "coppery"][: rng.integers(1, 4)]


def filled(folder: Path, seed: int) -> dict[tuple[str, str, str, str], float]:
    """Fill in every sheet: blanks, remarks, other orders, numbers and codes as text or number; what was written."""
    rng = np.random.default_rng(seed + 1000)
    said = {}
    for path in sorted(folder.glob("sheet-*.xlsx")):
        book = openpyxl.load_workbook(path)
        for page in book:
            heads = [cell.value for cell in page[1]]
            rows = [[cell.value for cell in row] for row in page.iter_rows(min_row=2)]
            rows = [rows[at] for at in rng.permutation(len(rows))] if rng.random() < 0.5 else rows
            for row in rows:
                for at, head in enumerate(heads[5:-1], 5):
                    if rng.random() < 0.8:
                        value = float(rng.integers(2, 19)) / 2
                        said[str(row[1]), str(row[2]), str(row[4]), head] = value
                        row[at] = str(value) if rng.random() < 0.2 else value
                    else:
                        row[at] = rng.choice([None, "-", "", "not tasted"])
                row[-1] = str(rng.choice(REMARKS)) or None
                if rng.random() < 0.3:
                    row[4] = (int(row[4]), float(row[4]), f" {row[4]} ")[rng.integers(3)]
            for r, row in enumerate(rows, 2):
                for c, value in enumerate(row, 1):
                    page.cell(r, c).value = value.item() if isinstance(value, np.generic) else value
        book.save(path)
    return said


@pytest.mark.parametrize("seed", range(4))
def test_a_filled_sheet_reads_back_without_loss_or_question(seed: int, tmp_path: Path) -> None:
    plan, words = planned(seed)
    register = pd.DataFrame({"descriptor": words, "stage": "liquor", "low": 0, "high": 10, "step": 0.5})
    plan.write(tmp_path / "day", descriptors=register)
    said = filled(tmp_path / "day", seed)
    assert not len(pst.examine_sheets(tmp_path / "day").questions)
    scores = pst.read_scores(tmp_path / "day")
    assert not len(scores.problems)
    shared = plan.service == "bench"
    key = plan.codes.set_index(["session", "code"] if shared else ["session", "taster", "code"])
    want = {
        (session, taster, *key.loc[(session, code) if shared else (session, taster, code), ["lot", "pot"]], word): value
        for (session, taster, code, word), value in said.items()
    }
    frame = scores.frame.astype(dict.fromkeys(("session", "taster", "lot", "descriptor"), str))
    keys = frame[["session", "taster", "lot", "pot", "descriptor"]].itertuples(index=False, name=None)
    assert dict(zip(((*k[:3], int(k[3]), k[4]) for k in keys), frame["score"], strict=True)) == {
        (*k[:3], int(k[3]), k[4]): value for k, value in want.items()
    }
    account = scores.account[["scores", "blanks", "faults", "words", "facts", "set_aside"]].sum().sum()
    assert scores.account["seen"].sum() == account
    roles = scores.lots.set_index("lot")["role"]
    assert (roles[["S"]] == "control").all()
    assert set(scores.pots["pots"]) == {"shared" if shared else "own"}
    assert scores.pots["declared"].all()


def in_order(frame: pd.DataFrame) -> pd.DataFrame:
    """Scores without their places, in one order."""
    keys = ["session", "taster", "lot", "pot", "descriptor"]
    table = frame.astype(dict.fromkeys(["session", "taster", "lot", "descriptor"], str))
    return table.sort_values(keys)[[*keys, "score"]].reset_index(drop=True)


def test_rows_sorted_otherwise_and_codes_as_numbers_are_the_same_scores(tmp_path: Path) -> None:
    plan, words = planned(3)
    plan.write(tmp_path / "day", descriptors=words)
    filled(tmp_path / "day", 3)
    first = pst.read_scores(tmp_path / "day").frame
    for path in (tmp_path / "day").glob("sheet-*.xlsx"):
        tabs = pd.read_excel(path, sheet_name=None, dtype=str, engine="openpyxl")
        with pd.ExcelWriter(path) as out:
            for name, table in tabs.items():
                table.sort_values("code").to_excel(out, sheet_name=name, index=False)
    again = pst.read_scores(tmp_path / "day").frame
    pd.testing.assert_frame_equal(in_order(first), in_order(again))


@pytest.mark.parametrize("slip", ["digit", "date", "power"])
def test_a_slip_of_the_pen_is_told_and_never_scored(slip: str, tmp_path: Path) -> None:
    plan = pst.plan_session([str(n) for n in range(20)], ["elm"], service="tray", limit=30, controls=["S"])
    plan.write(tmp_path / "day")
    filled(tmp_path / "day", 5)
    path = tmp_path / "day" / "sheet-elm.xlsx"
    book = openpyxl.load_workbook(path)
    cell = book.active.cell(4, 5)
    code = str(cell.value).strip()
    wrong = f"{code[:2]}{(int(code[2]) + 1) % 10}"
    cell.value = {"digit": wrong, "date": pd.Timestamp("2026-04-17"), "power": "4.17E+12"}[slip]
    book.save(path)
    with pytest.raises(pst.SheetError) as error:
        pst.read_scores(tmp_path / "day")
    assert "row 4" in str(error.value)


def test_sheets_hide_lots_and_roles_and_carry_scale_and_cautions(tmp_path: Path) -> None:
    lots = [f"lot-{n}" for n in range(8)]
    plan = pst.plan_session(lots, ["elm", "yew"], limit=12, controls=["sealed-master"], repeats=1, flight=5)
    plan.write(tmp_path / "day", interval=2)
    for taster in ("elm", "yew"):
        page = (tmp_path / "day" / f"sheet-{taster}.html").read_text("utf-8")
        book = openpyxl.load_workbook(tmp_path / "day" / f"sheet-{taster}.xlsx")
        cells = [str(cell.value) for row in book.active.iter_rows() for cell in row]
        for secret in (*lots, "sealed-master", "control", "repeat"):
            assert secret not in page
            assert secret not in cells
        for caution in ("near boiling", "caffeine", "mouldy", "allergens"):
            assert caution in page
        codes = plan.servings[plan.servings["taster"] == taster].sort_values("position")["code"].tolist()
        assert re.findall(r'<th scope="row">(\d+)</th>', page) == codes
        assert [cell.value for cell in book.active["E"][1:]] == codes
        rules = book.active.data_validations.dataValidation
        assert {(rule.formula1, rule.formula2) for rule in rules} == {("0.0", "10.0")}
        assert book.active.cell(2, 5).number_format == "@"
        assert page.count('class="rest"') == 1
    kitchen = (tmp_path / "day" / "kitchen.html").read_text("utf-8")
    assert all(lot in kitchen for lot in [*lots, "sealed-master"])
    assert ">18<" in kitchen  # the tenth pot, two minutes from one to the next
    assert "Not for tasters" in kitchen


def test_names_from_outside_stay_text(tmp_path: Path) -> None:
    plan = pst.plan_session(["<b>5 & 6</b>", "=1+1"], ["<i>elm</i>", "=2+2"], limit=5, sessions=["2026/04/17 [a]*"])
    plan.write(tmp_path / "day", descriptors=["<u>brisk</u>"])
    for page in (tmp_path / "day").glob("*.html"):
        text = page.read_text("utf-8")
        assert not re.search(r"<(i|b|u)>(elm|5|brisk)", text)
    for path in (tmp_path / "day").glob("*.xlsx"):
        for page in openpyxl.load_workbook(path):
            assert not any(cell.data_type == "f" for row in page.iter_rows() for cell in row)


def test_nothing_is_written_over_and_all_files_or_none(tmp_path: Path) -> None:
    plan = pst.plan_session(["1", "2"], ["elm"], limit=4)
    plan.write(tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    other = pst.plan_session(["1", "2", "3"], ["elm"], limit=4)
    with pytest.raises(pst.PanelError):
        other.write(tmp_path)
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before
    other.write(tmp_path, overwrite=True)
    assert (tmp_path / "room.xlsx").read_bytes() != before[tmp_path / "room.xlsx"]


REFUSED = {"twice": ["brisk", "Brisk"], "none": [], "a key": ["code"],
           "upside": pd.DataFrame({"descriptor": ["brisk"], "low": [5], "high": [1]})}  # fmt: skip


@pytest.mark.parametrize("name", REFUSED)
def test_descriptors_that_cannot_be_are_refused(name: str, tmp_path: Path) -> None:
    plan = pst.plan_session(["1", "2"], ["elm"], limit=4)
    with pytest.raises(pst.DesignError):
        plan.write(tmp_path / "day", descriptors=REFUSED[name])
    assert not (tmp_path / "day").exists()


def test_a_sheet_of_another_plan_is_told_and_never_scored(tmp_path: Path) -> None:
    asked = {"lots": [str(n) for n in range(6)], "tasters": ["elm"], "limit": 9, "service": "tray"}
    one, other = (pst.plan_session(**asked, seed=seed) for seed in (1, 2))
    one.write(tmp_path / "one", descriptors=["brisk"])
    other.write(tmp_path / "other", descriptors=["brisk"])
    filled(tmp_path / "other", 1)
    (tmp_path / "other" / "sheet-elm.xlsx").replace(tmp_path / "one" / "sheet-elm.xlsx")
    with pytest.raises(pst.SheetError) as error:
        pst.read_scores(tmp_path / "one")
    assert "a sheet of another plan" in str(error.value)
    assert other.plan_id in str(error.value)


def test_two_plans_of_one_room_keep_their_codes_apart(tmp_path: Path) -> None:
    room = tmp_path / "room"
    (room / "sheets").mkdir(parents=True)
    asked = {"tasters": ["elm"], "limit": 9, "service": "tray", "sessions": ["monday"]}
    plans = [pst.plan_session([f"{first}{n}" for n in range(6)], seed=first, **asked) for first in (1, 2)]
    for plan in plans:
        folder = tmp_path / plan.plan_id
        plan.write(folder, descriptors=["brisk"], room=room)
        assert not (folder / "room.xlsx").exists()
        filled(folder, 1)
        (folder / "sheet-elm.xlsx").replace(room / "sheets" / f"{plan.plan_id}.xlsx")
    assert len(pd.read_excel(room / "room.xlsx", sheet_name="codes", engine="openpyxl")) == 12
    scores = pst.read_scores(room)
    assert set(scores.lots["lot"]) <= {f"{first}{n}" for first in (1, 2) for n in range(6)}
    assert {lot[0] for lot in scores.lots["lot"]} == {"1", "2"}
    pst.plan_session(["7", "8"], seed=3, **asked).write(tmp_path / "more", room=room)  # the room's own words
    book = openpyxl.load_workbook(tmp_path / "more" / "sheet-elm.xlsx")
    assert [cell.value for cell in book.active[1]][5:] == ["brisk", "remarks"]


def test_the_brew_is_kept_and_the_kitchen_pours_by_it(tmp_path: Path) -> None:
    brew = pd.DataFrame({"session": ["1", "2"], "grams": [5.6, 2.8], "millilitres": [285, 140], "minutes": [6, 5],
                         "vessel": ["large pot", "small pot"]})  # fmt: skip
    plan = pst.plan_session([str(n) for n in range(8)], ["elm"], limit=6, controls=["S", "T"], brew=brew, warm_up="W9")
    plan.write(tmp_path / "day")
    kitchen = (tmp_path / "day" / "kitchen.html").read_text("utf-8")
    assert "small pot, 2.8 g of leaf, 140 ml of water, 5 minutes" in kitchen
    first = re.findall(r"<tr>.*?</tr>", kitchen.split("<tbody>")[2])[0]
    assert "W9" in first
    assert first.endswith('<td class="n">0</td><td class="n">5</td></tr>')
    page = (tmp_path / "day" / "sheet-elm.html").read_text("utf-8")
    assert "warm-up pot comes first" in page
    assert "W9" not in page
    filled(tmp_path / "day", 2)
    scores = pst.read_scores(tmp_path / "day")
    assert scores.sessions.set_index("session").loc["2", ["grams", "minutes"]].tolist() == [2.8, 5]
    assert "W9" not in set(scores.lots["lot"])
