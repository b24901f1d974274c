"""A season of an invented room: which tasters moved, since when, by how much; and what was known in spring.

Run: python examples/season_audit.py
"""

import panelstats as pst

room = pst.example.season()
scores = pst.read_scores(room.frame, room=room.registers)
print(scores, "\n")

print("Who has moved, and since when?")
audit = pst.audit_season(scores)
print(audit, "\n")
print(audit.summary.to_string(index=False), "\n")
moved = audit.table[audit.table["alarm"] != ""]
print(moved[["taster", "descriptor", "chart", "call", "alarm", "since", "change", "low", "high"]].round(2), "\n")

print("And as it stood on 11 May?")
print(pst.audit_season(scores, until="2026-05-11").summary[["taster", "call", "moves"]].to_string(index=False), "\n")

print("What was planted, for comparison:")
for fault in room.truth["planted"]:
    if fault["about"] == "taster":
        print(" ", fault)
