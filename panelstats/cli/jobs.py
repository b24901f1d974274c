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

    import pandas as pd

_MOST_DIGITS = 7  # of a number of lots


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
    """Plan a tasting or a difference test; write its sheets, lists and registers."""
    from panelstats.models.kinds import KINDS
    from panelstats.plan.blank.write import write_plan, write_plates
    from panelstats.review import as_review
    from panelstats.sheets.files import input_files

    where = given(args, "room", "overwrite")
    planned: pst.PlatePlan | pst.ServingPlan
    if args.source in KINDS:
        planned = _plates(args)
        write_plates(planned, args.out, **where)
    else:
        planned = _servings(args)
        files = input_files(args.source) if Path(args.source).exists() else ()
        write_plan(planned, args.out, descriptors=args.descriptors, interval=args.interval, read=files, **where)
    answer(args, as_review(planned), in_full=False)
    key = "room.xlsx" if args.room is None else args.room / "room.xlsx"
    command = "panelstats differ" if args.source in KINDS else "panelstats"
    say(f"plan:     {args.out}: keep {key} and kitchen.html from the tasters", aside=args.json)
    say(f"sheets:   filled in, they are read by: {command} {args.room or args.out}", aside=args.json)
    return 0


def _plates(args: argparse.Namespace) -> pst.PlatePlan:
    return pst.plan_difference(
        args.source, args.tasters, products=tuple(args.products or "AB"), session=args.session or "1",
        **given(args, "trials", "reference", "stop", "zeros", "seed"), pots_of_each=args.pots,
    )  # fmt: skip


def _servings(args: argparse.Namespace) -> pst.ServingPlan:
    from panelstats.sheets.answers import read_lots

    if args.limit is None:
        raise pst.PanelError("no limit is given", where="--limit", do="give the most pots for a taster in a session")
    counted = args.source.isdecimal() and not Path(args.source).exists()
    if counted and len(args.source) > _MOST_DIGITS:
        raise pst.PanelError("no room has so many lots", where=args.source[:20], do="give how many lots are tasted")
    lots = [str(n + 1) for n in range(int(args.source))] if counted else read_lots(
        args.source, columns=dict(args.column) or None
    ).drop(columns=["file", "sheet", "row"])  # fmt: skip
    past = None if args.past is None else pst.room_error(pst.read_scores(args.past))
    return pst.plan_session(
        lots, args.tasters, pots_per_lot=1 if args.pots is None else args.pots, error=past, earlier=_earlier(args),
        excluded=dict(args.exclude) or None,
        sessions=[args.session] if args.session else args.sessions,
        **given(args, "service", "limit", "controls", "repeats", "tasters_per_lot", "order", "every", "flight",
                "joining", "strong", "stop", "zeros", "pot_minutes", "brew", "warm_up", "level", "seed"),
    )  # fmt: skip


def _earlier(args: argparse.Namespace) -> pd.DataFrame | None:
    """The codes of other sessions that the room keeps: those of a session planned anew would give it other ones."""
    from panelstats.sheets.files import ROOM
    from panelstats.sheets.room import read_room

    if args.room is None or not (args.room / ROOM).is_file():
        return None
    codes = read_room(args.room / ROOM, []).get("codes")
    if codes is None or "session" not in codes:
        return codes
    named = codes["session"].astype(str)
    return codes[named != args.session if args.session else ~named.str.isdecimal()]
