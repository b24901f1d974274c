"""What comes of a review: files that are written, lines that are said."""

from __future__ import annotations

import gc
import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TypeAlias

from panelstats.console import Progress, say
from panelstats.speech import Phrase, days, heard, said

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterable, Mapping

    from panelstats.result import Verdict
    from panelstats.review import Review

Reviewing: TypeAlias = "Callable[[argparse.Namespace, Callable[[str], None]], Review]"

_WIDTH = 80
_PAGE, _BOOK, _PRINT, _SHEETS = Phrase("page:"), Phrase("workbook:"), Phrase("print:"), Phrase("sheets:")
_ALIKE = Phrase("{question} {call}: {subjects}. The page says by how much and how sure.")
# More answers of one kind than this are told by their subjects only; the page has them in full.
_IN_FULL = 2
# Objects made between two searches for cycles: what a run leaves behind costs less memory than the search costs time.
_SELDOM = 500_000
# The folder of the pages for people, where it is not that of tasters.
_PEOPLE = {"trainees": "trainees", "season": "season-tasters"}


def analyse(args: argparse.Namespace, *, review: Reviewing, ending: str) -> int:
    """Parse, review, write, print: what every analysis does."""
    gc.set_threshold(_SELDOM)
    check_printer(args)
    check_place(args, ending)
    with Progress() as tell:
        tell(Phrase("reading"))
        found = review(args, tell)
        tell(Phrase("page and workbook"))
        written = _write(args, found, ending)
    answer(args, found, in_full=not written)
    say_where(args, written)
    return 0


def _write(args: argparse.Namespace, review: Review, ending: str) -> list[Path]:
    """Page, workbook, and a sheet a person where asked for: all of them or none; none where there is no place."""
    from panelstats.output import write_all
    from panelstats.report.pages.page import page_of
    from panelstats.report.workbook import workbook_of

    if args.out is None and not args.open and not args.pdf and not Path(args.source[0]).exists():
        return []  # counts were typed in: there is no sheet to write beside
    page = target(args, ending)
    files = {page: page_of(review), page.with_suffix(".xlsx"): workbook_of(review)}
    files |= prints(args, files)
    people = _people(review) if getattr(args, "taster_sheets", ending == "trainees") else {}
    folder = target(args, _PEOPLE.get(ending, "tasters")).with_suffix("")
    files |= {folder / f"{name}.html": content for name, content in people.items()}
    write_all(files, folder=folder if people else None, overwrite=args.overwrite, read=review.files)
    return list(files)


def _people(review: Review) -> dict[str, bytes]:
    from panelstats.report.pages.handed import people_of

    return people_of(review)


def check_printer(args: argparse.Namespace) -> None:
    """Miss a browser that prints before anything is computed, not after."""
    if args.pdf:
        from panelstats.report.printing import printer

        printer()


def check_place(args: argparse.Namespace, what: str) -> None:
    """Miss the folder to write into before anything is computed, not after."""
    if args.out is not None:
        from panelstats.output import check_writable

        check_writable(target(args, what), overwrite=True)


def prints(args: argparse.Namespace, files: Mapping[Path, bytes]) -> dict[Path, bytes]:
    """The pages among the files, printed, where that was asked for."""
    if not args.pdf:
        return {}
    from panelstats.report.printing import printed

    pages = {path: content for path, content in files.items() if path.suffix == ".html"}
    return {path.with_suffix(".pdf"): printed(page, args.paper) for path, page in pages.items()}


def target(args: argparse.Namespace, what: str) -> Path:
    """The page: beside a file, inside a folder, or where `--out` says."""
    from panelstats.filenames import source_name

    source = Path(args.source[0])
    if args.out is not None and args.out.suffix.casefold() == ".html":
        return args.out
    return (args.out or (source if source.is_dir() else source.parent)) / f"{source_name(source)}-{what}.html"


def say_where(args: argparse.Namespace, written: list[Path]) -> None:
    """Where the files are; the page is opened where that was asked for."""
    if not written:
        return
    page, book, *more = written
    found = {_PAGE: [page], _BOOK: [book], _PRINT: [path for path in more if path.suffix == ".pdf"],
             _SHEETS: dict.fromkeys(path.parent for path in more if path.suffix == ".html")}  # fmt: skip
    say("\n".join(f"{label!s:10}{path}" for label, paths in found.items() for path in paths), aside=args.json)
    if args.open:
        import webbrowser

        webbrowser.open(page.resolve().as_uri())


def answer(args: argparse.Namespace, review: Review, *, in_full: bool) -> None:
    """The answer on standard output: for machines with `--json`, else a few lines for people."""
    if args.json:
        from panelstats.report.machine import as_json

        say(as_json(review))
    elif in_full:  # there is no page to say how it was worked out
        from panelstats.difference.terminal import differ_text

        say("\n\n".join(differ_text(result) for _, result in review.results))
    else:
        say(days(review.title))
        for line in [*map(heard, review.said), *_in_short(review.verdicts)]:
            bullet(line)


def bullet(line: str) -> None:
    """Say a line as one of a list."""
    say(textwrap.fill(days(line), _WIDTH, initial_indent="- ", subsequent_indent="  "))


def _in_short(verdicts: Iterable[Verdict]) -> list[str]:
    """A line per kind of answer: one or two verdicts in full, more of them by their subjects."""
    from panelstats.words import capital, listing

    alike: dict[tuple[str, str], list[Verdict]] = {}
    for verdict in verdicts:
        alike.setdefault((verdict.question, verdict.call), []).append(verdict)
    lines = []
    for (question, call), some in alike.items():
        if len(some) <= _IN_FULL:
            lines += [str(verdict) for verdict in some]
        else:
            subjects = listing(dict.fromkeys(verdict.subject or said("the session") for verdict in some))
            lines.append(_ALIKE.format(question=question, call=capital(said(call)), subjects=subjects))
    return lines
