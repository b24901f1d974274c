"""Options that several commands take: the same word meaning the same everywhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

from panelstats.catalogues import LANGUAGES
from panelstats.cli.values import count, level, pair, path, positive

if TYPE_CHECKING:
    import argparse

SOURCE_HELP = "a score sheet (csv, xlsx, ...), a workbook, or a folder of them"


def source(parser: argparse.ArgumentParser) -> None:
    """The sheets, and how to read them."""
    parser.add_argument("source", nargs="+", type=path, help=SOURCE_HELP)
    parser.add_argument("--room", type=path, help="registers: room.xlsx or a folder (default: beside the sheets)")
    parser.add_argument(
        "--set-aside", action="store_true", help="go on without the cells that cannot be read, and say so"
    )
    columns(parser)


def columns(parser: argparse.ArgumentParser) -> None:
    """Headings and sheets."""
    headings(parser)
    parser.add_argument("--leave-out", action="append", default=[], metavar="SHEET", help="leave a whole sheet out")


def headings(parser: argparse.ArgumentParser) -> None:
    """What headings mean."""
    parser.add_argument(
        "--column", action="append", default=[], type=pair, metavar="THEIRS=OURS",
        help='what a heading means, as "Brightness=bright"; "Kg=" leaves the column out',
    )  # fmt: skip


def session(parser: argparse.ArgumentParser) -> None:
    """Which session."""
    parser.add_argument("--session", help="which session (default: the latest)")


def judging(parser: argparse.ArgumentParser) -> None:
    """What pots are, what matters, how sure."""
    pots(parser)
    sizes(parser)


def pots(parser: argparse.ArgumentParser) -> None:
    """What pots are."""
    parser.add_argument("--pots", choices=("shared", "own", "same"), help="what a pot number names (default: as read)")


def sizes(parser: argparse.ArgumentParser) -> None:
    """What matters, how sure."""
    how_sure(parser)
    parser.add_argument("--tolerance", type=positive, help="smallest difference that matters, in points")


def how_sure(parser: argparse.ArgumentParser, of: str = "interval") -> None:
    """How sure."""
    parser.add_argument("--level", type=level, default=0.95, help=f"level of every {of} (default 0.95)")


def seed(parser: argparse.ArgumentParser, of: str) -> None:
    """Where what is drawn at random begins."""
    parser.add_argument("--seed", type=count, default=0, metavar="N", help=f"of {of} (default 0)")


def charge(parser: argparse.ArgumentParser, *, required: bool = False) -> None:
    """What a pack is to hold."""
    parser.add_argument("--grams", type=positive, required=required, help="charge of a pack")
    parser.add_argument("--millilitres", type=positive, required=required, help="its capacity to the seal")


def weighed_charge(parser: argparse.ArgumentParser) -> None:
    """What a pack is to hold, beside weighings of the leaf."""
    parser.add_argument("--densities", type=path, help="weighings of the leaf")
    charge(parser)


def sheets(parser: argparse.ArgumentParser) -> None:
    """Pages for the tasters."""
    parser.add_argument("--taster-sheets", action="store_true", help="also write a page for each taster to take home")


def output(parser: argparse.ArgumentParser) -> None:
    """Where results go."""
    parser.add_argument("--out", type=path, help="folder (or page.html) to write to (default: beside the sheets)")
    overwriting(parser)
    parser.add_argument("--pdf", action="store_true", help="also print the page to a file, by the browser there is")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="what it is printed on (default a4)")
    parser.add_argument("--open", action="store_true", help="open the page when it is written")
    parser.add_argument("--json", action="store_true", help="results for machines on standard output")


def spoken(parser: argparse.ArgumentParser) -> None:
    """In which language."""
    parser.add_argument(
        "--lang", choices=LANGUAGES, help="language of all that is said (default: what room.xlsx says, else en)"
    )


def overwriting(parser: argparse.ArgumentParser) -> None:
    """What may be replaced."""
    parser.add_argument("--overwrite", action="store_true", help="replace files that are not ours")
