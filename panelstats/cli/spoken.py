"""The language of a run: the one asked for, else the one that the room's own workbook names."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.speech import ENGLISH

if TYPE_CHECKING:
    import argparse


def language_of(args: argparse.Namespace) -> str:
    """Code of the language a command speaks: `--lang`, else what room.xlsx says, else English.

    Raises
    ------
    SheetError
        The room names a language there is not.
    """
    if args.lang is not None:
        return str(args.lang)
    return next(filter(None, map(_named_in, _books(args))), ENGLISH)


def _books(args: argparse.Namespace) -> list[Path]:
    """Where a room.xlsx may lie: as it was named, in a folder, beside a sheet."""
    named, sources = getattr(args, "room", None) or getattr(args, "folder", None), getattr(args, "source", None) or ()
    places = [named] if named else sources if isinstance(sources, list) else [sources]
    return [place / "room.xlsx" if place.is_dir() else place if named else place.parent / "room.xlsx"
            for place in map(Path, filter(None, places))]  # fmt: skip


def _named_in(book: Path) -> str:
    """What a workbook names; "" where there is none, or where its reading will tell what is wrong with it."""
    if not book.is_file():
        return ""
    from panelstats.errors import PanelError
    from panelstats.sheets.files.opened import read_bytes, sheets_of
    from panelstats.sheets.room.readroom import is_register, read_room

    try:
        sheets = sheets_of(read_bytes(book), book.name)
    except PanelError:
        return ""
    return read_room(None, [sheet for sheet in sheets if is_register(sheet, book.stem) == "room"]).language
