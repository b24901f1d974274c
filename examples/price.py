"""An invented sale day with invented prices: do the scores carry them, and by which words?"""

import numpy as np

import panelstats as pst

room = pst.example.row()
tasted = pst.read_scores(room.frame, room=room.registers)
frame = tasted.frame[tasted.frame["descriptor"] == "brisk"]
lots = room.registers["lots"].copy()
brisk = frame.groupby(frame["lot"].astype(str))["score"].mean().reindex(lots["lot"].astype(str)).to_numpy()
chance = 0.08 * np.random.default_rng(1).standard_normal(len(lots))
paid = np.exp(1.2 + 0.05 * (brisk - np.nanmean(brisk)) + chance)  # in this invented sale briskness carries the price
lots["price (usd/kg)"] = [f"{value:.2f}" if np.isfinite(value) else "unsold" for value in paid]

found = pst.explain_value(pst.read_scores(room.frame, room=room.registers | {"lots": lots}), "price")
print(found)
print(found.table.to_string(index=False))
