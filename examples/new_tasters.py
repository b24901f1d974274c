"""A dozen sessions of an invented room: which seniors can be relied on, and when the two trainees may count.

Run: python examples/new_tasters.py
"""

import panelstats as pst

room = pst.example.new_tasters()
scores = pst.read_scores(room.frame, room=room.registers)
print(scores, "\n")

print("Can the seniors be relied on?")
seniors = pst.assess_tasters(scores)
print(seniors, "\n")
print(seniors.summary[["taster", "call", "worst", "shown_with_panel"]].to_string(index=False), "\n")

print("May the trainees' scores count?")
trainees = pst.assess_trainees(scores)
print(trainees, "\n")
print(trainees.curve.pivot_table(index="session", columns="trainee", values="ratio").round(2), "\n")

print("And by the measure of one master?")
print(pst.assess_trainees(scores, reference="alder"), "\n")

print("What was planted, for comparison:")
for fault in room.truth["planted"]:
    print(" ", fault)
