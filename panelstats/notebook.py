"""Verdicts and tables as a notebook shows them: not more than a page takes."""

from __future__ import annotations

from html import escape
from itertools import accumulate
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import pandas as pd

_NOTEBOOK = 48_000  # bytes of a result in a notebook; the rest stands in its tables
_SENTENCES = 16_000  # of them for sentences
_ROWS = (20, 10, 5, 2, 0)  # rows of a table there, as many as fit


def sentences_html(verdicts: Iterable[object]) -> str:
    """Verdicts as paragraphs, what to act on first; those that do not fit are counted."""
    told = [f"<p>{escape(str(verdict))}</p>" for verdict in verdicts]
    ends = list(accumulate(map(_bytes, told)))
    shown = sum(end <= _SENTENCES for end in ends)
    more = f"<p>and {len(told) - shown} more: <code>.verdicts</code></p>" if shown < len(told) else ""
    return "".join(told[:shown]) + more


def _table_html(name: str, table: pd.DataFrame, most: int) -> str:
    """A table's first rows, as many as fit, and how many more there are."""
    head = f"<h4>{escape(name)}: {len(table):,} rows, {table.shape[1]} columns</h4>"
    for rows in _ROWS:
        shown = table.head(rows).to_html(index=False, escape=True)
        more = f"<p>… and {len(table) - rows:,} more rows: <code>.tables()</code></p>" if rows < len(table) else ""
        if _bytes(head + shown + more) <= most:
            return head + shown + more
    return head


def _bytes(text: str) -> int:
    return len(text.encode("utf-8", "surrogatepass"))


def result_html(verdicts: Iterable[object], tables: Mapping[str, pd.DataFrame]) -> str:
    """Verdicts, and of each table the rows there is room for."""
    told = sentences_html(verdicts)
    most = (_NOTEBOOK - _bytes(told)) // max(len(tables), 1)
    return told + "".join(_table_html(name, table, most) for name, table in tables.items())
