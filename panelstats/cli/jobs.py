"""Commands about sheets, plans and the desk: they end in a file or in words, not in a review."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import panelstats as pst
from panelstats.cli.outcome import answer
from panelstats.cli.reviews import given, read_source
from panelstats.console import say

if TYPE_CHECKING:
    import argparse


def read(args: argparse.Namespace) -> int:
    """Read sheets; say what became of every cell."""
    from panelstats.sheets.account import account_facts, describe_account
    from panelstats.sheets.marked import write_marked_copies

    try:
        scores = read_source(args)
    except pst.SheetError as error:
        if args.mark and error.problems is not None:
            for copy in write_marked_copies(error.problems, args.source, args.out, room=args.room):
                say(f"marked copy: {copy}", aside=True)
        raise
    say(_json(account_facts(scores)) if args.json else describe_account(scores))
    return 0


def _json(value: object) -> str:
    import json

    return json.dumps(value, ensure_ascii=False, indent=1, default=str)


def start(args: argparse.Namespace) -> int:
    """Write the registers of a room, or a blank starter."""
    if args.source is None:
        out = pst.write_starter(args.out or Path("starter.xlsx"), overwrite=args.overwrite)
        say(f"wrote {out}: fill it in, then run: panelstats {out}")
        return 0
    columns = dict(args.column) or None
    out = pst.write_room(args.source, columns=columns, **given(args, "out", "overwrite", "leave_out"))
    say(f"wrote {out}: answer the questions on its first sheet, correct what is wrong, run again; it is obeyed")
    return 0


def desk(args: argparse.Namespace) -> int:
    """Open the desk until it is closed."""
    from panelstats.desk.serve import serve

    serve(args.folder, say=say, open_browser=not args.no_browser, port=args.port, launcher=args.launcher)
    return 0


def example(args: argparse.Namespace) -> int:
    """Write an invented set."""
    from panelstats.example import write_example

    folder = args.out or Path(f"ostrel-quay-{args.which}")
    write_example(folder, which=args.which, overwrite=args.overwrite)
    say(f"wrote the invented set {args.which!r} to {folder}; now run: panelstats {folder / args.which}")
    return 0


def plan(args: argparse.Namespace) -> int:
    """Plan a tasting; write its sheets, lists and registers."""
    from panelstats.plan.blank.write import write_plan
    from panelstats.review import as_review
    from panelstats.sheets.answers import read_lots
    from panelstats.sheets.files import input_files

    counted = args.source.isdecimal() and not Path(args.source).exists()
    lots = [str(n + 1) for n in range(int(args.source))] if counted else read_lots(
        args.source, columns=dict(args.column) or None
    ).drop(columns=["file", "sheet", "row"])  # fmt: skip
    asked = given(args, "service", "limit", "controls", "repeats", "sessions", "tasters_per_lot", "order", "every",
                  "flight", "joining", "level", "seed")  # fmt: skip
    past = None if args.past is None else pst.room_error(pst.read_scores(args.past))
    planned = pst.plan_session(lots, args.tasters, pots_per_lot=args.pots, error=past, **asked)
    files = () if counted else input_files(args.source)
    write_plan(planned, args.out, descriptors=args.descriptors, interval=1.0, overwrite=args.overwrite, read=files)
    answer(args, as_review(planned), in_full=False)
    say(f"plan:     {args.out}: keep room.xlsx and kitchen.html from the tasters", aside=args.json)
    say(f"sheets:   filled in, they are read by: panelstats {args.out}", aside=args.json)
    return 0
