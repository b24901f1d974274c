"""What the room's page shows of its own: faults first, the verdicts, and beside them the picture of the lots."""

from __future__ import annotations

from itertools import accumulate
from typing import TYPE_CHECKING

from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.report.charts.picture import Panel, key, picture
from panelstats.report.pages.ledger import OPEN
from panelstats.report.tables import plain
from panelstats.scores.cells import LOT

if TYPE_CHECKING:
    from panelstats.result import Verdict
    from panelstats.review import Review


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    panels = picture(review) if review.scores is not None else []
    return {
        "remarks": _remarks(review),
        "panels": panels,
        "beside": _beside(panels, review),
        "key": key(review) if panels else [],
        "in_words": [(panel.descriptor, panel.words) for panel in panels],
    }


def _remarks(review: Review) -> dict[str, str]:
    """What the sheets say of each lot on which a fault was noticed."""
    found = review.find(FaultsNoticed)
    said: dict[str, dict[str, None]] = {}
    rows = [] if found is None else zip(found.table[LOT].astype(str), found.table["remarks"].map(plain), strict=True)
    for lot, words in rows:
        if words:
            said.setdefault(lot, {})[words] = None
    return {lot: "; ".join(words) for lot, words in said.items()}


def _beside(panels: list[Panel], review: Review) -> int:
    """How many panels stand beside the verdicts: as many as are about as tall as the words (in pixels, roughly)."""
    room = 260 + sum(map(_tall, review.verdicts[: sum(OPEN.values())]))
    heights = accumulate(100 + (panel.drawing.height if panel.drawing else 30) * 1.1 for panel in panels)
    return max(1, sum(height <= room for height in heights))


def _tall(verdict: Verdict) -> int:
    return 40 + 26 * (1 + len(verdict.sentence) // 60)
