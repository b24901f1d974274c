"""A day planned in an invented room: trays for four tasters, hidden controls and repeats, and what it can prove.

Run: python examples/plan_day.py
"""

import tempfile
from pathlib import Path

import openpyxl

import panelstats as pst

room = pst.example.row()
past = pst.room_error(pst.read_scores(room.frame, room=room.registers))

plan = pst.plan_session(
    [str(lot) for lot in range(401, 413)],
    ["elm", "larch", "spruce", "yew"],
    service="tray",
    limit=20,
    controls=["S", "C1"],
    repeats=2,
    error=past,
    seed=17,
)
print(plan, "\n")
print("Beside a plan drawn at random:")
print(plan.balance.round(3).to_string(index=False), "\n")
print("What elm is served first (the codes alone stand on the sheet):")
print(plan.servings[plan.servings["taster"] == "elm"].head(5).to_string(index=False), "\n")

with tempfile.TemporaryDirectory() as folder:
    day = Path(folder) / "day"
    for path in plan.write(day, interval=1.5):
        print("wrote", path.name)
    sheet = openpyxl.load_workbook(day / "sheet-elm.xlsx")  # elm fills in the first descriptor, by invented marks
    first = [cell.value for cell in sheet.active[1]].index("code") + 2
    for row in range(2, sheet.active.max_row + 1):
        sheet.active.cell(row, first).value = 4 + row % 5 / 2
    sheet.save(day / "sheet-elm.xlsx")
    print(pst.read_scores(day).account[["file", "seen", "scores", "blanks"]].to_string(index=False), "\n")

    served = pst.read_plan(day)
    print("What was really served:", *served.verdicts[:2], sep="\n- ")
    changed = pst.change_plan(served, late=["413"], absent={"yew": "beech"})
    print("After a late lot, and beech in place of yew:", changed.verdicts[0], sep="\n- ")

plates = pst.plan_difference(
    "triangle", ["elm", "larch", "spruce", "yew"], products=("S", "B1"), trials=3, pots_of_each=2, seed=17
)
print(plates)
print(plates.answers.drop(columns=["session", "kind"]).head(4).to_string(index=False))
