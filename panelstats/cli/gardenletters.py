"""`garden`: a letter to one garden beside its sheets, or to each in a folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

import panelstats as pst
from panelstats.cli.outcome import answer, bullet, check_printer, prints, say_where, target
from panelstats.cli.reviews import given, read_source
from panelstats.console import Progress, say
from panelstats.speech import Phrase

if TYPE_CHECKING:
    import argparse

    from panelstats.review import Review


def garden(args: argparse.Namespace) -> int:
    """Write the letter, or the letters."""
    from panelstats.filenames import file_names
    from panelstats.lots.garden.ownlots import gardens_of
    from panelstats.output import write_all
    from panelstats.report.pages.page import page_of
    from panelstats.report.workbook import workbook_of

    check_printer(args)
    with Progress() as tell:
        tell("reading")
        scores = read_source(args, tell)
        asked = {"by": args.by or None, **given(args, "tolerance", "level")}
        names = file_names(gardens_of(scores) if args.all else [args.garden])
        found = {file: pst.review_garden(scores, name, progress=tell, **asked) for name, file in names.items()}
        tell("pages and workbooks")
        folder = target(args, "gardens").with_suffix("") if args.all else None
        pages = {
            folder / f"{file}.html" if folder else target(args, f"garden-{file}"): each for file, each in found.items()
        }
        files = {page: page_of(each) for page, each in pages.items()}
        files |= {page.with_suffix(".xlsx"): workbook_of(each) for page, each in pages.items()}
        files |= prints(args, files)
        write_all(files, folder=folder, overwrite=args.overwrite, read=scores.files)
    if folder is None:
        answer(args, next(iter(found.values())), in_full=False)
        say_where(args, list(files))
        return 0
    _answer_each(args, list(found.values()))
    say(Phrase("letters:  {folder}").format(folder=folder), aside=args.json)
    return 0


def _answer_each(args: argparse.Namespace, reviews: list[Review]) -> None:
    """What each garden should look at first, in a line; everything for machines."""
    if args.json:
        from panelstats.report.machine import as_json

        say(f"[{','.join(map(as_json, reviews))}]")
        return
    for review in reviews:
        letter = review.find(pst.GardenLetter)
        if letter is not None:
            bullet(f"{review.title}: {letter.first.sentence}")
