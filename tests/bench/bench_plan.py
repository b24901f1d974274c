"""A plan of a very large sale, and its balance beside that of a plan drawn at random."""

from __future__ import annotations

import panelstats as pst
from tests.bench.made import peak_mb, timed

LOTS, TASTERS, LIMIT = 2000, 8, 60
MOST = 8.0


def run() -> list[dict[str, object]]:
    """One row: every lot to all tasters, sixty cups a day, one control in every session."""
    names, people = [str(n) for n in range(LOTS)], [f"taster {n}" for n in range(TASTERS)]
    pst.plan_session(names[:4], people, service="tray", limit=6)  # libraries are loaded before the clock starts
    seconds, plan = timed(
        lambda: pst.plan_session(names, people, service="tray", limit=LIMIT, controls=["S"], flight=20)
    )
    figures = plan.balance.set_index("figure")
    gap, chance = figures["plan"]["position_gap"], figures["random"]["position_gap"]
    kept, dealt = figures["plan"]["efficiency"], figures["random"]["efficiency"]
    return [
        {
            "name": f"plan_session, {LOTS:,} lots x {TASTERS} tasters x {LIMIT} cups a day",
            "seconds": seconds,
            "peak_mb": peak_mb(),
            "bound": f"< {MOST:g} s; positions and efficiency no worse than at random",
            "held": bool(seconds < MOST and gap < chance and kept >= dealt),
            "position gap (random)": f"{gap:.0f} ({chance:.0f})",
            "efficiency (random)": f"{kept:.5f} ({dealt:.5f})",
            "cups": len(plan.servings),
        }
    ]
