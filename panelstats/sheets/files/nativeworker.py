"""The native reader of workbooks; as a script it reads one workbook in a process of its own, from standard input.

Native code that meets a damaged file may break off, loop, or ask for all the memory there is. As a script this module
imports nothing of the package, limits itself, and answers in a pickle of plain lists.
"""

import io
import pickle
import sys
from typing import Any

import python_calamine as calamine

MOST_MEMORY = 4_000_000_000  # bytes of address space the process may take (ours)
MOST_SECONDS = 60  # of computing (ours); a sheet of 100,000 rows takes one
DAMAGED, LOCKED, WIDE = "damaged", "locked", "wide"

# name, whether it is shown, rows, merged ranges ((top, left), (bottom, right))
Page = tuple[str, bool, list[list[Any]], list[tuple[tuple[int, int], tuple[int, int]]]]
_BROKEN = (calamine.CalamineError, calamine.ZipError, calamine.XmlError, OSError, ValueError)


def pages_of(data: bytes, widest: int) -> list[Page] | tuple[str, str]:
    """Every sheet of a workbook; or what is wrong, and with which sheet, such as more columns than `widest`."""
    try:
        return _pages(data, widest)
    except calamine.PasswordError:
        return LOCKED, ""
    except _BROKEN:
        return DAMAGED, ""
    except BaseException as error:
        if type(error).__name__ != "PanicException":  # how native code says that it broke off
            raise
        return DAMAGED, ""


def _pages(data: bytes, widest: int) -> list[Page] | tuple[str, str]:
    book = calamine.CalamineWorkbook.from_filelike(io.BytesIO(data))
    found: list[Page] = []
    for meta in book.sheets_metadata:
        if meta.typ != calamine.SheetTypeEnum.WorkSheet:
            continue
        page = book.get_sheet_by_name(meta.name)
        if page.total_width > widest:
            return WIDE, f"{meta.name}\n{page.total_width}"
        shown = meta.visible == calamine.SheetVisibleEnum.Visible
        found.append((meta.name, shown, page.to_python(skip_empty_area=False), list(page.merged_cell_ranges or [])))
    return found


def _limit() -> None:
    try:
        import resource  # noqa: PLC0415 - not on every system
    except ImportError:
        return
    for what, most in ((resource.RLIMIT_AS, MOST_MEMORY), (resource.RLIMIT_CPU, MOST_SECONDS)):
        _, hard = resource.getrlimit(what)
        resource.setrlimit(what, (most if hard < 0 else min(most, hard), hard))


if __name__ == "__main__":
    _limit()
    answer = pages_of(sys.stdin.buffer.read(), int(sys.argv[1]))
    pickle.dump(answer, sys.stdout.buffer, protocol=5)
