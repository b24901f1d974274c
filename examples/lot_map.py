"""Which lots lie near one another, along which words they differ, and how sure the panel is of each place.

Run: python examples/lot_map.py
"""

import panelstats as pst

room = pst.example.bench()
scores = pst.read_scores(room.frame, room=room.registers)
found = pst.map_lots(scores)

print("The axes on which the tasters agree, class by class:")
print(found.axes[found.axes["trusted"]].round(3).to_string(index=False), "\n")

print("Where the lots lie, with half the width of each region:")
where = found.lots.merge(found.regions, on=["class", "lot"])
print(where[["class", "lot", "axis_1", "half_1", "axis_2", "half_2"]].round(2).to_string(index=False), "\n")

print("In words:")
print(found, "\n")

ax = pst.draw(found)
print("Drawn:", ax.get_title(loc="left"))

print("Next week's map keeps the direction of this one:")
again = pst.map_lots(scores, reference=found.descriptors)
print(again.descriptors.equals(found.descriptors))
