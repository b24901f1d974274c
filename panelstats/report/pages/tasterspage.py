"""The page of the tasters alone: a row for each, how far to trust a mark of them all, and where they agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.report.pages import firstscreen, pictured
from panelstats.report.pages.ledger import ledger
from panelstats.report.pages.steps import stepless
from panelstats.report.pages.tasterrows import taster_rows

if TYPE_CHECKING:
    from panelstats.review import Review


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    closing = (firstscreen.trust(review), firstscreen.read(review))
    told = {"ledger": ledger(stepless(review.verdicts)), "closing": [sentence for sentence in closing if sentence]}
    return pictured.blocks(review) | told | taster_rows(review)
