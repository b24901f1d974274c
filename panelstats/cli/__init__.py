"""The command line: parse, and run one command. Heavy libraries load only in the command that needs them."""

from __future__ import annotations

import argparse
import gc
import sys
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.catalogues import language
from panelstats.cli import options
from panelstats.cli.commands import COMMANDS
from panelstats.cli.spoken import language_of
from panelstats.console import Unheard, prepare, say, settled
from panelstats.errors import IN_PYTHON, PanelError

if TYPE_CHECKING:
    from collections.abc import Sequence

_ABOUT = "What a tea room's scores prove, and which palates can be relied on. A panel of tasters, not panel data."


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; 0 done, 2 bad input or usage, or an answer that could not be printed."""
    if argv is None:
        prepare()
    try:
        return settled(_run(list(sys.argv[1:] if argv is None else argv)))
    except SystemExit as stop:  # how help and wrong usage end
        raise SystemExit(settled(stop.code if isinstance(stop.code, int) else 0)) from None
    finally:
        if argv is None:
            gc.freeze()  # nothing that is left is searched for cycles as the program ends: a tenth of a day's time


def _run(words: list[str]) -> int:
    if not words:
        words = ["--help"]
    alone = not words[0].startswith("-") and words[0] not in COMMANDS  # a file or folder
    args = _parser().parse_args(["session", *words] if alone else words)
    try:
        args.lang = language_of(args)
    except PanelError as error:
        return _refused(error)
    with language(args.lang):
        try:
            if alone:
                _check_source(words[0])
            return COMMANDS[args.command].run(args)
        except PanelError as error:
            return _refused(error)
        except Unheard as end:
            return end.code


def _refused(error: PanelError) -> int:
    say(str(error).replace(IN_PYTHON, ""), aside=True)
    return 2


def _check_source(word: str) -> None:
    """Tell a command that was misspelt from a file that is not there."""
    if not Path(word).exists() and (close := get_close_matches(word.casefold(), COMMANDS, 1)):
        raise PanelError("no such command, and no such file or folder", where=word, do=f"did you mean {close[0]}?")


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="panelstats",
        description=_ABOUT,
        allow_abbrev=False,
        epilog="A file or folder alone means: session. Every command explains itself: panelstats COMMAND --help",
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="print the version and stop")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, command in COMMANDS.items():
        one = commands.add_parser(name, help=command.about, description=command.about, allow_abbrev=False)
        for add in (*command.options, options.spoken):
            add(one)
    return parser


class _Version(argparse.Action):
    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        say(f"panelstats {version('panelstats')}")
        parser.exit()
