"""A template and its values made into a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from panelstats.output import PAGE_MARK, page_bytes, templates
from panelstats.report.pages.isolation import Names, days, turns

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from panelstats.report.tables import Shown
    from panelstats.review import Review

# Columns whose cells are names from sheets.
_NAMES = ("session", "lot", "taster", "trainee", "descriptor", "test")


def render(template: str, review: Review, values: Mapping[str, object]) -> bytes:
    """The page as the bytes of its file; every value escaped, names that run from right to left isolated."""
    names = Names(_names(review))
    environment = templates()
    environment.filters |= {"isolate": names.isolate, "told": names.told, "rows": _rows, "days": days}
    return page_bytes(environment.get_template(template).render(page_mark=PAGE_MARK, **values))


def _rows(table: Shown) -> Markup:
    """The rows of a table: numbers to the right, names that run from right to left their own way."""
    columns = [
        [f'<td class="n">{escape(text)}</td>' for text in texts]
        if not column.is_text
        else [f'<td dir="auto">{escape(text)}</td>' if turns(text) else f"<td>{escape(text)}</td>" for text in texts]
        for column, texts in zip(table.columns, zip(*table.rows, strict=True), strict=True)
    ]
    return Markup("".join(f"<tr>{''.join(cells)}</tr>\n" for cells in zip(*columns, strict=True)))  # noqa: S704 - escaped


def _names(review: Review) -> Iterator[str]:
    """Every name that a sentence of the page may hold."""
    yield from (review.title, review.session, *(verdict.subject for verdict in review.verdicts))
    tables = [table for _, result in review.results for table in result.tables().values()]
    if review.scores is not None:
        scores = review.scores
        tables += [scores.sessions, scores.lots, scores.tasters, scores.descriptors]
    for table in tables:
        for column in {*_NAMES} & {*table.columns}:
            yield from map(str, table[column].unique())
