"""Commands about sheets, plans and the desk: they end in a file or in words, not in a review."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import panelstats as pst
from panelstats.cli.outcome import answer
from panelstats.cli.reviews import given, read_source
from panelstats.console import say
from panelstats.speech import Phrase
from panelstats.words import listing

if TYPE_CHECKING:
    import argparse

    import pandas as pd

_MOST_DIGITS = 7  # of a number of lots
_KEEP = Phrase("plan:     {out}: keep {files} from the tasters")
_FILLED = Phrase("sheets:   filled in, they are read by: {command} {room}")
_CHANGE = Phrase("change:   a late lot, an absent taster: panelstats plan {out} --late LOT --absent NAME")

# The command that an invented set was made for, where it is not the review of a session.
_TO_TRY = {"season": "season ", "blends": "match ", "new-tasters": "trainees "}


def read(args: argparse.Namespace) -> int:
    """Read sheets; say what became of every cell."""
    from panelstats.sheets.reading.account import account_facts, describe_account
    from panelstats.sheets.reading.marked import write_marked_copies

    try:
        scores = read_source(args)
    except pst.SheetError as error:
        if args.mark and error.problems is not None:
            for copy in write_marked_copies(error.problems, args.source, args.out, room=args.room):
                say(Phrase("marked copy: {copy}").format(copy=copy), aside=True)
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
        say(Phrase("wrote {out}: fill it in, then run: panelstats {out}").format(out=out))
        return 0
    columns = dict(args.column) or None
    out = pst.write_room(args.source, columns=columns, **given(args, "out", "overwrite", "leave_out"))
    told = Phrase(
        "wrote {out}: answer the questions on its first sheet, correct what is wrong, run again; it is obeyed"
    )
    say(told.format(out=out))
    return 0


def desk(args: argparse.Namespace) -> int:
    """Open the desk until it is closed."""
    from panelstats.desk.serve import serve

    serve(
        args.folder, say=say, open_browser=not args.no_browser, port=args.port, launcher=args.launcher, lang=args.lang
    )
    return 0


def example(args: argparse.Namespace) -> int:
    """Write an invented set."""
    from panelstats.example import write_example

    folder = args.out or Path(f"ostrel-quay-{args.which}")
    write_example(folder, which=args.which, overwrite=args.overwrite)
    told = Phrase("wrote the invented set {which} to {folder}; now run: panelstats {command}")
    command = f"{_TO_TRY.get(args.which, '')}{folder / args.which}"
    say(told.format(which=repr(args.which), folder=folder, command=command))
    return 0


def plan(args: argparse.Namespace) -> int:
    """Plan a tasting or a difference test, or change a plan; write its sheets, lists and registers."""
    from panelstats.models.kinds import KINDS
    from panelstats.plan.blank.back import keys_in
    from panelstats.plan.blank.write import write_plan, write_plates
    from panelstats.review import as_review
    from panelstats.sheets.files.sources import input_files

    source, where = Path(args.source), given(args, "room", "overwrite")
    out = args.out or Path("plan")
    planned: pst.PlatePlan | pst.ServingPlan
    made = args.source not in KINDS and (bool(keys_in(source)) or keys_in(source.parent).count(source) > 0)
    if (args.late or args.absent) and not made:
        raise pst.PanelError("no plan to change", where=args.source, do="name the folder that panelstats plan wrote")
    if made and args.tasters:
        raise pst.PanelError(
            "a folder that holds a plan, and who tastes", where="--tasters",
            do="leave --tasters out to read or change it, or name a number or sheet of lots",
        )  # fmt: skip
    if made:
        out = args.out or (source if source.is_dir() else source.parent)
        planned = pst.read_plan(source, room=args.room)
        if not (args.late or args.absent):
            answer(args, as_review(planned), in_full=False)
            return 0
        planned = _changed(args, planned)
        write_plan(planned, out, descriptors=args.descriptors, interval=args.interval, **where)
    elif not args.tasters:
        raise pst.PanelError("nobody tastes", where="--tasters", do="name who tastes: --tasters elm,yew")
    elif args.source in KINDS:
        planned = _plates(args)
        write_plates(planned, out, **where)
    else:
        planned = _servings(args)
        files = input_files(args.source) if source.exists() else ()
        write_plan(planned, out, descriptors=args.descriptors, interval=args.interval, read=files, **where)
    answer(args, as_review(planned), in_full=False)
    _say_plan(args, planned, out)
    return 0


def _say_plan(args: argparse.Namespace, planned: pst.PlatePlan | pst.ServingPlan, out: Path) -> None:
    """Where the files are, which of them are kept from the tasters, and how the filled ones are read."""
    served = isinstance(planned, pst.ServingPlan)
    room = "room.xlsx" if args.room is None else str(args.room / "room.xlsx")
    end = f"-{planned.plan_id}" if isinstance(planned, pst.ServingPlan) and planned.before else ""
    kept = [room, *([f"key-{planned.plan_id}.xlsx"] if served else []), f"kitchen{end}.html"]
    lines = [_KEEP.format(out=out, files=listing(kept))]
    lines.append(_FILLED.format(command="panelstats" if served else "panelstats differ", room=args.room or out))
    lines += [_CHANGE.format(out=out)] if served else []
    for line in lines:
        say(line, aside=args.json)


def _changed(args: argparse.Namespace, planned: pst.ServingPlan) -> pst.ServingPlan:
    past = None if args.past is None else pst.room_error(pst.read_scores(args.past))
    return pst.change_plan(
        planned, sessions=[args.session] if args.session else (), error=past, **given(args, "late", "absent", "limit")
    )


def _plates(args: argparse.Namespace) -> pst.PlatePlan:
    return pst.plan_difference(
        args.source, args.tasters, products=tuple(args.products or "AB"), session=args.session or "1",
        **given(args, "trials", "reference", "stop", "zeros", "seed"), pots_of_each=args.pots,
    )  # fmt: skip


def _servings(args: argparse.Namespace) -> pst.ServingPlan:
    from panelstats.sheets.reading.answers import read_lots

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
    from panelstats.sheets.files.sources import ROOM
    from panelstats.sheets.room.readroom import read_room

    if args.room is None or not (args.room / ROOM).is_file():
        return None
    codes = read_room(args.room / ROOM, []).get("codes")
    if codes is None or "session" not in codes:
        return codes
    named = codes["session"].astype(str)
    return codes[named != args.session if args.session else ~named.str.isdecimal()]
