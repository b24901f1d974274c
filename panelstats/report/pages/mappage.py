"""What the page of a map shows of its own: the map of each class, the words beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.lots.maps.fit import LotMap
from panelstats.report.pages.mapfigures import map_figures, map_key

if TYPE_CHECKING:
    from panelstats.review import Review


def blocks(review: Review) -> dict[str, object]:
    """The values of the page's own blocks."""
    found = review.find(LotMap)
    if found is None:
        return {}
    figures = map_figures(found)
    return {
        "figures": figures,
        "key": map_key(found),
        "in_words": [(figure.name, figure.words) for figure in figures],
    }
