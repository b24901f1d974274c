"""A sale day of an invented room: 300 lots, two tasters, one look. Which belong on the short list, and which again?

Run: python examples/one_look.py
"""

import panelstats as pst

room = pst.example.row()
scores = pst.read_scores(room.frame, room=room.registers)
print(scores, "\n")

print("How far may one look be off?")
print(pst.room_error(scores), "\n")

found = pst.shortlist_lots(scores)
overall = found.table[found.table["descriptor"] == "overall"]
print("The short list, by all that the room wants:")
print(overall.head(10)[["lot", "merit", "low", "high", "chance_best", "call"]].round(2).to_string(index=False), "\n")

print("To taste again, from new pots, the most useful first:")
again = found.look_again[found.look_again["descriptor"] == "overall"]
print(again.head(5)[["lot", "gain", "chance_best"]].round(2).to_string(index=False), "\n")

print("What was planted, for comparison:")
for fact in room.truth["planted"]:
    print(" ", fact)
