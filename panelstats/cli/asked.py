"""Options of one command alone: what it is asked."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.cli import options
from panelstats.cli.values import (
    brewing,
    count,
    instead,
    level,
    mixture,
    named,
    names,
    number,
    path,
    positive,
    served_not,
    spelled,
)

if TYPE_CHECKING:
    import argparse

# Counts that `differ` takes in place of a sheet of answers, and what they count.
COUNTS = {
    "correct": "right answers (paired: how often A was named)", "answers": "sets served, right, wrong and blank",
    "blanks": "sets left blank", "hits": '"A" said of A, or "different" of mixed pairs',
    "false": '"A" said of what is not A, or "different" of like pairs', "n_a": "servings of A, or mixed pairs",
    "n_not_a": "servings of what is not A, or like pairs",
}  # fmt: skip


def places(parser: argparse.ArgumentParser) -> None:
    """How long a short list is, where there is one."""
    parser.add_argument("--take", type=count, metavar="N", help="places on a short list; by default a tenth of a class")
    parser.set_defaults(shortlist=None)


def listing(parser: argparse.ArgumentParser) -> None:
    """A short list whatever the shape of the data."""
    places(parser)
    parser.set_defaults(shortlist=True)


def apprentices(parser: argparse.ArgumentParser) -> None:
    """Which trainees, against whom."""
    parser.add_argument("--trainee", action="append", default=[], help="who (default: every trainee of the register)")
    parser.add_argument("--reference", help="one named master, in place of the seniors who sat")


def season(parser: argparse.ArgumentParser) -> None:
    """Which part of a season, against what."""
    parser.add_argument("--until", metavar="DATE", help="a date or a session: the answer as it stood then")
    parser.add_argument("--control", action="append", default=[], metavar="LOT",
                        help="a lot served hidden again and again (default: those of that role)")  # fmt: skip
    parser.add_argument("--baseline", type=count, default=8, metavar="N",
                        help="first sessions of each taster that say what is usual (default 8)")  # fmt: skip
    options.seed(parser, "the simulated limits")


def gardens(parser: argparse.ArgumentParser) -> None:
    """Which garden, and what tells how its lots were made."""
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--garden", metavar="NAME", help="as in the column garden of the lots register")
    which.add_argument("--all", action="store_true", help="a letter to each garden, in a folder of their own")
    parser.add_argument(
        "--by", action="append", default=[], metavar="COLUMN",
        help="a column of the lots register that tells how lots were made (default: those named for a step of making)",
    )  # fmt: skip


def money(parser: argparse.ArgumentParser) -> None:
    """Which column of money."""
    parser.add_argument("--by", metavar="COLUMN", help="a column of money beside the scores (default: the only one)")
    options.seed(parser, "the shuffles")
    options.how_sure(parser)


def told(parser: argparse.ArgumentParser) -> None:
    """Which lots to tell of, and their pack."""
    parser.add_argument("--lots", nargs="+", metavar="LOT", help="which lots (default: all but controls and standards)")
    options.weighed_charge(parser)
    options.how_sure(parser)


def recipe(parser: argparse.ArgumentParser) -> None:
    """What to mix from, for what."""
    parser.add_argument("--standard", metavar="LOT", help="the lot to be met (default: the one of that role)")
    parser.add_argument("--stock", type=path, help="a list of lots with kilograms, cost, least, most (default: all)")
    parser.add_argument("--kilograms", type=positive, help="how much is to be made")
    options.weighed_charge(parser)
    options.seed(parser, "the draws")
    options.sizes(parser)


def weighings(parser: argparse.ArgumentParser) -> None:
    """Weighings of leaf."""
    parser.add_argument("source", nargs="+", type=path, help="weighings of leaf (mass, volume, lot, grade, state)")
    options.headings(parser)


def pack(parser: argparse.ArgumentParser) -> None:
    """The pack, and the leaf that goes into it."""
    options.charge(parser, required=True)
    parser.add_argument("--fill", type=positive, default=0.9, help="share that must be full (default 0.9)")
    parser.add_argument("--allowed", type=level, default=0.01, help="share of packs that may fail (default 0.01)")
    parser.add_argument("--state", help="loose or tapped, when the pack is closed (default: each)")
    for name, what in (("charge", "of what is charged"), ("capacity", "of what packs hold")):
        parser.add_argument(f"--{name}-cv", type=level, default=0.0, metavar="SHARE",
                            help=f"relative standard deviation {what}, from pack to pack, as 0.01")  # fmt: skip
    parser.add_argument("--mix", type=mixture, metavar="GRADE=SHARE,...", help="a mixture, coarse grade first")
    options.seed(parser, "the draws")
    options.how_sure(parser)


def kind_or_source(parser: argparse.ArgumentParser) -> None:
    """A kind of difference test with counts, or answers."""
    parser.add_argument(
        "source", nargs="+", type=named, metavar="KIND_OR_SOURCE",
        help="a kind of test (triangle, duo-trio, paired, 2-afc, 3-afc, tetrad, two-out-of-five, a-not-a, "
        "same-different) with its counts, or a sheet or folder of answers",
    )  # fmt: skip
    options.headings(parser)
    for name, counted in COUNTS.items():
        default = 0 if name == "blanks" else None
        parser.add_argument(spelled(name), type=count, metavar="N", default=default, help=counted)


def tolerated(parser: argparse.ArgumentParser) -> None:
    """The tolerance of a match."""
    parser.add_argument("--within-d", type=positive, metavar="D", help="largest d' that still is a match")
    tolerated_share(parser)
    parser.add_argument("--error", type=level, default=0.05, help='error rate of "differ" (default 0.05)')
    parser.add_argument("--match-error", type=level, default=0.05, help='error rate of "match" (default 0.05)')


def tolerated_share(parser: argparse.ArgumentParser) -> None:
    """The tolerance of a match as a share who can tell."""
    parser.add_argument(
        "--within-share", type=positive, metavar="SHARE",
        help="largest share of tasters able to tell that still is a match, as 0.3",
    )  # fmt: skip


def standard(parser: argparse.ArgumentParser) -> None:
    """The lot that others must match."""
    parser.add_argument("--standard", metavar="LOT", help="the lot to be matched (default: the one of that role)")
    parser.add_argument(
        "--tests", type=path, metavar="SOURCE",
        help="answers of difference tests of the same blends (default: those that stand among the sheets)",
    )  # fmt: skip


def mapping(parser: argparse.ArgumentParser) -> None:
    """What is mapped, and what is laid on the map."""
    parser.add_argument("--joined", action="store_true", help="all sessions in one map, linked by lots met again")
    parser.add_argument("--within", choices=("class", "all"), default="class", help="a map for each class, or one")
    parser.add_argument(
        "--scale", choices=("points", "spread", "error"), default="points",
        help="a point is a point; or each descriptor by its spread over the lots; or against the tasters' error",
    )  # fmt: skip
    parser.add_argument("--standard", metavar="LOT", help="tell how far lots lie from it (default: by role)")
    parser.add_argument("--lot", action="append", default=[], metavar="LOT", help="name this lot and draw its region")
    parser.add_argument(
        "--fact", action="append", default=[], metavar="COLUMN",
        help="a column of the lots register to lay on the map (default: grade, elevation and money)",
    )  # fmt: skip
    parser.add_argument(
        "--fill-in", action="store_true",
        help="guess a mark nobody gave a lot on a descriptor, a tenth at most, drawn dashed (default: leave out)",
    )  # fmt: skip
    options.pots(parser)
    options.how_sure(parser, "region")
    options.seed(parser, "the lots relabelled")


def plan(parser: argparse.ArgumentParser) -> None:
    """A tasting to be planned."""
    parser.add_argument(
        "source", type=named, metavar="LOTS_OR_KIND",
        help="how many lots, or a sheet of them (lot; class, role where known); or a kind of difference test; or the "
        "folder of a plan: what was really served, and with --late or --absent the plan changed",
    )  # fmt: skip
    options.headings(parser)
    parser.add_argument("--tasters", type=names, default=[], metavar="NAME,...", help="who tastes")
    parser.add_argument("--limit", type=count, metavar="N", help="most pots for a taster in a session; lots need it")
    parser.add_argument("--service", choices=("bench", "tray"), default="bench",
                        help="bench: one row all walk along (default); tray: own cups in an own order")  # fmt: skip
    parser.add_argument("--pots", type=count, metavar="N", help="pots of each lot (default 1), or product of a test")
    parser.add_argument("--controls", type=names, default=[], metavar="LOT,...", help="lots hidden in every session")
    parser.add_argument("--repeats", type=number, default=0, metavar="N", help="hidden repeats, a number or a share")
    parser.add_argument("--sessions", type=count, metavar="N", help="how many (default: as the limit asks for)")
    parser.add_argument("--tasters-per-lot", type=count, metavar="N", help="tray: tasters of each lot (default all)")
    parser.add_argument("--order", choices=("random", "class"), default="random", help="bench: of the row")
    parser.add_argument("--every", type=count, default=25, metavar="N", help="class order: control to control (25)")
    parser.add_argument("--flight", type=count, metavar="N", help="pots between two breaks")
    parser.add_argument("--pot-minutes", type=positive, metavar="M", help="minutes a taster takes over a pot")
    parser.add_argument("--strong", type=names, default=[], metavar="LOT,...",
                        help="lots known to be strong: in a row kept from the places beside a control")  # fmt: skip
    parser.add_argument("--stop", type=names, default=[], metavar="NUMBER,...", help="numbers never used as codes")
    parser.add_argument("--no-zeros", dest="zeros", action="store_false", help="no code with the digit 0")
    parser.add_argument("--joining", type=names, default=[], metavar="NAME,...", help="tasters who joined a plan made")
    parser.add_argument("--late", type=names, default=[], metavar="LOT,...", help="lots that join the plan of a folder")
    parser.add_argument("--absent", type=instead, default={}, metavar="NAME,...",
                        help="who does not come (any more); elm=larch: larch comes instead")  # fmt: skip
    parser.add_argument("--exclude", action="append", default=[], type=served_not, metavar="NAME=LOT,...",
                        help="lots never served to a taster, as what they are allergic to")  # fmt: skip
    parser.add_argument("--brew", type=brewing, metavar="FACT=VALUE,...",
                        help="vessel, grams, millilitres, minutes, milk, as grams=5.6,minutes=6")  # fmt: skip
    parser.add_argument("--interval", type=positive, default=1.0, metavar="M",
                        help="minutes from one pot to the next, for the kitchen (default 1)")  # fmt: skip
    parser.add_argument("--warm-up", default="", metavar="TEA", help="tasted first, without code, and not scored")
    parser.add_argument("--descriptors", type=names, metavar="WORD,...", help="what is scored (default: a short sheet)")
    parser.add_argument("--products", type=names, metavar="A,B", help="difference test: the two products")
    parser.add_argument("--trials", type=count, default=1, metavar="N", help="difference test: sets a taster (1)")
    parser.add_argument("--reference", choices=("balanced", "constant"), default="balanced", help="duo-trio: what is R")
    parser.add_argument("--session", metavar="NAME", help="name of the session, where there is one")
    parser.add_argument("--room", type=path, help="folder of the room whose room.xlsx takes the codes")
    parser.add_argument("--past", type=path, metavar="SOURCE", help="past sessions: how far a look may be off")
    options.seed(parser, "all draws")
    options.how_sure(parser)
    parser.add_argument(
        "--out", type=path, help="folder to write to (default: plan; of a change, the folder of the plan)"
    )
    options.overwriting(parser)
    parser.add_argument("--json", action="store_true", help="the plan for machines on standard output")


def room_folder(parser: argparse.ArgumentParser) -> None:
    """The folder that is the room, and how its desk is opened."""
    parser.add_argument(
        "folder", nargs="?", type=path, default=Path("tea-room"),
        help="the room's folder, made where it does not exist (default: tea-room)",
    )  # fmt: skip
    parser.add_argument("--port", type=count, default=0, metavar="N", help="port to listen on (default: a free one)")
    parser.add_argument("--no-browser", action="store_true", help="print the address, open no browser")
    parser.add_argument(
        "--launcher", type=path, metavar="FILE",
        help="write a file that opens this desk by a double click, and stop",
    )  # fmt: skip


def account(parser: argparse.ArgumentParser) -> None:
    """How the account is given."""
    parser.add_argument("--json", action="store_true", help="the account for machines")
    parser.add_argument(
        "--mark", action="store_true", help="leave a copy with every problem cell coloured and explained"
    )
    parser.add_argument("--out", type=path, help="folder for the marked copy (default: beside the sheet)")


def source_or_none(parser: argparse.ArgumentParser) -> None:
    """The sheets, or none for a blank starter."""
    parser.add_argument("source", nargs="?", type=path, help=f"{options.SOURCE_HELP}; none: a blank starter sheet")
    options.columns(parser)


def out_file(parser: argparse.ArgumentParser) -> None:
    """Which workbook to write."""
    parser.add_argument("--out", type=path, help="workbook to write (default: room.xlsx beside the sheets)")
    options.overwriting(parser)


def which(parser: argparse.ArgumentParser) -> None:
    """Which invented set."""
    sets = ("bench", "row", "season", "blends", "new-tasters")
    parser.add_argument("which", nargs="?", default="bench", choices=sets, help="which invented set (default: bench)")
    parser.add_argument("--out", type=path, help="folder to write to")
    options.overwriting(parser)
