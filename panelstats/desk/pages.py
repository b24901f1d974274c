"""The desk's own pages: templates, every value escaped."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader, StrictUndefined

from panelstats.ourfiles import page_bytes
from panelstats.speech import heard, said, spoken
from panelstats.words import column_letters, count

if TYPE_CHECKING:
    from collections.abc import Mapping

# What a column may be said to be, in the words of the register `headings`.
MEANINGS = (
    "lot", "taster", "score", "fault", "remark", "words", "fact", "money", "session", "pot", "code", "position", "look",
    "descriptor", "stage", "left out",
)  # fmt: skip

_ENVIRONMENT = Environment(
    loader=PackageLoader("panelstats.desk", "templates"), autoescape=True, undefined=StrictUndefined,
    trim_blocks=True, lstrip_blocks=True,
)  # fmt: skip


def render(template: str, values: Mapping[str, object]) -> bytes:
    """A page as bytes; signs that steer, and what no page can hold, stand there as their numbers."""
    told = {
        "_": said,
        "heard": heard,
        "count": count,
        "lang": spoken(),
        "meanings": MEANINGS,
        "letters": column_letters,
    }
    return page_bytes(_ENVIRONMENT.get_template(template).render(**told, **values))
