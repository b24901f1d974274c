"""The invented row's weighings: does a charge fit its pack, and how dense may a mixture be?"""

from pathlib import Path

import panelstats as pst

weighed = pst.read_densities(Path(__file__).parents[1] / "data" / "row" / "densities.csv")
found = pst.fit_pack(weighed, grams=250, millilitres=900, fill=0.8)
print(found)
print(found.table.T.to_string(header=False))
