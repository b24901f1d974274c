"""A trial recipe from the invented bench: which lots of the stock come nearest to lot 404, at what cost?"""

import pandas as pd

import panelstats as pst

room = pst.example.bench()
scores = pst.read_scores(room.frame, room=room.registers)
lots = [lot for lot in scores.lots["lot"].astype(str)[:12] if lot != "404"]
stock = pd.DataFrame({"lot": lots, "kilograms": 400, "cost": [3 + 0.2 * k for k in range(len(lots))]})  # invented
print(pst.suggest_blends(scores, "404", stock=stock, batch=1000))
