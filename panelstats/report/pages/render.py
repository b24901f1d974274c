"""A template and its values made into a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jinja2 import BytecodeCache, Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from panelstats.ourfiles import PAGE_MARK, page_bytes
from panelstats.report.pages.isolation import Names, days, turns
from panelstats.speech import Phrase, heard, said, spoken
from panelstats.speech import days as dated
from panelstats.words import count, stated

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from jinja2.bccache import Bucket

    from panelstats.report.tables import Shown
    from panelstats.review import Review

# Columns whose cells are names from sheets.
_NAMES = ("session", "lot", "taster", "trainee", "descriptor", "test")


class _Compiled(BytecodeCache):
    """Templates compiled once in a run, however many pages it makes; nothing is kept on the disk."""

    def __init__(self) -> None:
        self.known: dict[str, bytes] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        if bucket.key in self.known:
            bucket.bytecode_from_string(self.known[bucket.key])

    def dump_bytecode(self, bucket: Bucket) -> None:
        self.known[bucket.key] = bucket.bytecode_to_string()


_COMPILED = _Compiled()


def templates() -> Environment:
    """The environment of all pages: every value escaped, every missing one an error."""
    environment = Environment(
        loader=PackageLoader("panelstats", "report/templates"),
        autoescape=True,  # by name ending it would leave page.html.j2 unescaped
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        bytecode_cache=_COMPILED,
    )
    environment.globals |= {"_": Phrase, "count": count, "stated": stated, "spoken": spoken()}
    environment.filters |= {"said": said, "heard": heard}
    return environment


def render(template: str, review: Review, values: Mapping[str, object]) -> bytes:
    """The page as the bytes of its file; every value escaped, names that run from right to left isolated."""
    names = Names(_names(review))
    environment = templates()
    environment.filters |= {"isolate": names.isolate, "told": names.told, "rows": _rows, "days": days}
    page = environment.get_template(template).render(page_mark=PAGE_MARK, **values)
    return page_bytes(dated(page))


def _rows(table: Shown) -> Markup:
    """The rows of a table: numbers to the right, names that run from right to left their own way."""

    def cell(text: str, *, number: bool) -> str:
        kind = ' class="n"' if number else ' dir="auto"' if turns(text) else ""
        return f"<td{kind}>{escape(text)}</td>"

    texts = zip(table.columns, zip(*table.rows, strict=True), strict=True)
    columns = [[cell(text, number=not column.is_text) for text in some] for column, some in texts]
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
