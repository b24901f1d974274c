"""The command line: parse, review, write, print. Heavy libraries load only in the command that needs them."""

from __future__ import annotations

import argparse
import gc
import sys
import textwrap
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from panelstats import options
from panelstats.console import Progress, Unheard, prepare, say, settled
from panelstats.errors import IN_PYTHON, PanelError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from panelstats.result import Verdict
    from panelstats.review import Review
    from panelstats.scores.cells import Cells
    from panelstats.scores.table import Scores

    Tell = Callable[[str], None]

WIDTH = 80
# More answers of one kind than this are told by their subjects only; the page has them in full.
IN_FULL = 2
# Objects made between two searches for cycles: what a run leaves behind costs less memory than the search costs time.
SELDOM = 500_000
ABOUT = "What a tea room's scores prove, and which palates can be relied on. A panel of tasters, not panel data."


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; 0 done, 2 bad input or usage, or an answer that could not be printed."""
    if argv is None:
        prepare()
    try:
        return settled(_run(list(sys.argv[1:] if argv is None else argv)))
    except SystemExit as stop:  # how help and wrong usage end
        raise SystemExit(settled(stop.code if isinstance(stop.code, int) else 0)) from None


def _run(words: list[str]) -> int:
    if words and not words[0].startswith("-") and words[0] not in COMMANDS:
        words.insert(0, "session")  # a file or folder alone
    args = _parser().parse_args(words)
    try:
        return COMMANDS[args.command].run(args)
    except PanelError as error:
        say(str(error).replace(IN_PYTHON, ""), aside=True)
        return 2
    except Unheard as end:
        return end.code


# --- commands that review ---------------------------------------------------------------------------------------------


def _analyse(args: argparse.Namespace, *, review: Callable[[argparse.Namespace, Tell], Review], ending: str) -> int:
    """Parse, review, write, print: what every analysis does."""
    gc.set_threshold(SELDOM)
    with Progress() as tell:
        tell("reading")
        found = review(args, tell)
        tell("page and workbook")
        written = _write(args, found, ending)
    _answer(args, found, in_full=not written)
    _say_where(args, written)
    return 0


def _session(args: argparse.Namespace, tell: Tell) -> Review:
    from panelstats.questions.aboutlots import review_session

    scores = _read_source(args, tell)
    return review_session(
        scores, session=args.session, shortlist=args.shortlist, take=args.take, progress=tell, **_judging(args)
    )


def _garden(args: argparse.Namespace) -> int:
    """A letter to one garden beside its sheets, or to each in a folder."""
    from panelstats.filenames import file_names
    from panelstats.lots.garden.ownlots import gardens_of
    from panelstats.output import write_all
    from panelstats.questions.aboutlots import review_garden
    from panelstats.report.pages.page import page_of
    from panelstats.report.workbook import workbook_of

    with Progress() as tell:
        tell("reading")
        scores = _read_source(args, tell)
        asked = {"by": args.by or None, "tolerance": args.tolerance, "level": args.level}
        names = file_names(gardens_of(scores) if args.all else [args.garden])
        found = {file: review_garden(scores, name, progress=tell, **asked) for name, file in names.items()}
        tell("pages and workbooks")
        folder = _target(args, "gardens").with_suffix("") if args.all else None
        pages = {
            folder / f"{file}.html" if folder else _target(args, f"garden-{file}"): each for file, each in found.items()
        }
        files = {page: page_of(each) for page, each in pages.items()}
        files |= {page.with_suffix(".xlsx"): workbook_of(each) for page, each in pages.items()}
        write_all(files, folder=folder, overwrite=args.overwrite, read=scores.files)
    if folder is None:
        _answer(args, next(iter(found.values())), in_full=False)
        _say_where(args, list(files))
        return 0
    _answer_each(args, list(found.values()))
    say(f"letters:  {folder}", aside=args.json)
    return 0


def _answer_each(args: argparse.Namespace, reviews: list[Review]) -> None:
    """What each garden should look at first, in a line; everything for machines."""
    from panelstats.lots.garden.fit import GardenLetter

    if args.json:
        from panelstats.report.machine import as_json

        say(f"[{','.join(map(as_json, reviews))}]")
        return
    for review in reviews:
        letter = review.find(GardenLetter)
        if letter is not None:
            line = f"{review.title}: {letter.first.sentence}"
            say(textwrap.fill(line, WIDTH, initial_indent="- ", subsequent_indent="  "))


def _tasters(args: argparse.Namespace, tell: Tell) -> Review:
    from panelstats.questions.aboutpeople import review_tasters

    return review_tasters(_read_source(args, tell), progress=tell, **_judging(args))


def _trainees(args: argparse.Namespace, tell: Tell) -> Review:
    from panelstats.questions.aboutpeople import review_trainees

    who = {"trainees": args.trainee or None, "reference": args.reference}
    return review_trainees(_read_source(args, tell), progress=tell, **who, **_judging(args))


def _value(args: argparse.Namespace, tell: Tell) -> Review:
    from panelstats.questions.aboutsales import review_value

    return review_value(_read_source(args, tell), args.by, level=args.level, seed=args.seed, progress=tell)


def _pack(args: argparse.Namespace, _: Tell) -> Review:
    from panelstats.questions.aboutanswers import review_packs
    from panelstats.sheets.answers import read_densities
    from panelstats.sheets.files import input_files

    densities = read_densities(args.source, columns=dict(args.column) or None)
    asked = ("grams", "millilitres", "fill", "allowed", "state", "mix", "level", "seed")
    review = review_packs(densities, **{name: getattr(args, name) for name in asked})
    return replace(review, read=input_files(args.source))


def _summary(args: argparse.Namespace, tell: Tell) -> Review:
    from panelstats.questions.aboutsales import review_summary
    from panelstats.sheets.answers import read_densities
    from panelstats.sheets.files import input_files

    weighed = None if args.densities is None else read_densities(args.densities)
    asked = {name: getattr(args, name) for name in ("lots", "session", "grams", "millilitres", "level")}
    review = review_summary(_read_source(args, tell), densities=weighed, progress=tell, **asked)
    return replace(review, read=(*review.read, *(() if weighed is None else input_files([args.densities]))))


def _blend(args: argparse.Namespace, tell: Tell) -> Review:
    from panelstats.questions.aboutsales import review_recipes
    from panelstats.sheets.answers import read_densities, read_stock
    from panelstats.sheets.files import input_files

    beside = [path for path in (args.stock, args.densities) if path is not None]
    review = review_recipes(
        _read_source(args, tell), args.standard, batch=args.kilograms, grams=args.grams, millilitres=args.millilitres,
        stock=None if args.stock is None else read_stock(args.stock),
        densities=None if args.densities is None else read_densities(args.densities),
        level=args.level, tolerance=args.tolerance, seed=args.seed, progress=tell,
    )  # fmt: skip
    return replace(review, read=(*review.read, *(input_files(beside) if beside else ())))


def _season(args: argparse.Namespace, tell: Tell) -> Review:
    from panelstats.questions.aboutpeople import review_season

    asked = {name: getattr(args, name) for name in ("until", "baseline", "seed")}
    read = _read_partitions(args, tell) if _is_partitioned(args) else _read_source(args, tell)
    return replace(review_season(read, controls=args.control or None, progress=tell, **asked), read=_files_read(args))


def _is_partitioned(args: argparse.Namespace) -> bool:
    """Whether a source is a folder of Parquet, which is read one partition at a time."""
    from panelstats.sheets.files import is_partitioned

    return len(args.source) == 1 and not args.leave_out and is_partitioned(args.source[0])


def _read_partitions(args: argparse.Namespace, tell: Tell) -> Cells:
    from panelstats.sheets.stream import read_cells

    return read_cells(
        args.source[0],
        room=args.room,
        columns=dict(args.column) or None,
        set_aside=args.set_aside,
        progress=tell,
    )


def _files_read(args: argparse.Namespace) -> tuple[Path, ...]:
    from panelstats.sheets.files import files_read

    return files_read(args.source if len(args.source) > 1 else args.source[0], args.room)


def _match(args: argparse.Namespace, tell: Tell) -> Review:
    from panelstats.questions.aboutlots import review_blends
    from panelstats.sheets.answers import answers_in, read_answers
    from panelstats.sheets.files import input_files

    scores = _read_source(args, tell)
    answers = answers_in(args.source) if args.tests is None else read_answers(args.tests)
    review = review_blends(
        scores, args.standard, answers=answers, session=args.session, within_share=args.within_share, progress=tell,
        **_judging(args),
    )  # fmt: skip
    return replace(review, read=() if args.tests is None else input_files(args.tests))


def _map(args: argparse.Namespace, tell: Tell) -> Review:
    from panelstats.questions.aboutplaces import review_map

    names = ("session", "joined", "within", "scale", "standard", "pots", "level", "seed")
    asked = {name: getattr(args, name) for name in names}
    return review_map(_read_source(args, tell), lots=tuple(args.lot), facts=args.fact or None, progress=tell, **asked)


def _differ(args: argparse.Namespace, _: Tell) -> Review:
    from panelstats.models.kinds import KINDS
    from panelstats.questions.aboutanswers import review_answers
    from panelstats.sheets.answers import read_answers
    from panelstats.sheets.files import input_files

    if len(args.source) == 1 and args.source[0] in KINDS:
        return _from_counts(args)
    _check_answers(args, list(KINDS))
    sources = [Path(each) for each in args.source]
    answers = read_answers(sources, columns=dict(args.column) or None)
    tolerated = {name: getattr(args, name) for name in ("within_share", "within_d", "error", "match_error")}
    return replace(review_answers(answers, **tolerated), read=input_files(sources))


def _from_counts(args: argparse.Namespace) -> Review:
    """One test from the counts given; before it, where it is open, what so many answers can settle."""
    from panelstats.difference.counts.fit import difference_test, match_test
    from panelstats.difference.planning.fit import answers_needed
    from panelstats.models.kinds import SIGNAL
    from panelstats.review import as_review

    kind = args.source[0]
    counts = {name: getattr(args, name) for name in options.COUNTS}
    needed = options.COUNTS[3:] if kind in SIGNAL else options.COUNTS[:2]
    missing = [options.spelled(name) for name in needed if counts[name] is None]
    if missing:
        raise PanelError(
            "counts are missing", where=" ".join(missing), do=f"{kind} takes {', '.join(map(options.spelled, needed))}"
        )
    rates = {"error": args.error, "match_error": args.match_error}
    within = {"within_share": args.within_share, "within_d": args.within_d}
    if args.within_share is None and args.within_d is None:
        return as_review(difference_test(kind, **counts, **rates))
    test = match_test(kind, **counts, **rates, **within)
    review = as_review(test)
    if test.call != "cannot tell":
        return review
    given = args.n_a + args.n_not_a if kind in SIGNAL else args.answers
    plan = answers_needed(kind, **rates, **within, answers=given)
    return replace(review, results=(("Answers needed", plan), *review.results))


def _check_answers(args: argparse.Namespace, kinds: list[str]) -> None:
    missing = [each for each in args.source if not Path(each).exists()]
    if missing:
        raise PanelError(
            "no such kind of test, and no such file or folder", where=", ".join(missing),
            do=f"name a sheet of answers, or one kind with its counts: {', '.join(kinds)}",
        )  # fmt: skip
    given = [options.spelled(name) for name in options.COUNTS if getattr(args, name)]
    if given:
        raise PanelError(
            "a sheet of answers is counted as it is read", where=" ".join(given),
            do="leave the counts out, or name a kind of test in place of the sheet",
        )  # fmt: skip


def _read_source(args: argparse.Namespace, tell: Tell | None = None) -> Scores:
    from panelstats.sheets.read import read_scores

    return read_scores(
        args.source if len(args.source) > 1 else args.source[0],
        room=args.room,
        columns=dict(args.column) or None,
        leave_out=tuple(args.leave_out),
        set_aside=args.set_aside,
        progress=tell,
    )


def _judging(args: argparse.Namespace) -> dict[str, Any]:
    """What pots are, what matters, how sure: the same words for every analysis of scores."""
    return {name: getattr(args, name) for name in ("pots", "tolerance", "level")}


# --- files and lines that come of a review ----------------------------------------------------------------------------


def _write(args: argparse.Namespace, review: Review, ending: str) -> list[Path]:
    """Page, workbook, and a sheet a person where asked for: all of them or none; none where there is no place."""
    from panelstats.output import write_all
    from panelstats.report.pages.page import page_of
    from panelstats.report.workbook import workbook_of

    if args.out is None and not args.open and not Path(args.source[0]).exists():
        return []  # counts were typed in: there is no sheet to write beside
    page = _target(args, ending)
    files = {page: page_of(review), page.with_suffix(".xlsx"): workbook_of(review)}
    folder = _target(args, {"trainees": "trainees", "season": "season-tasters"}.get(ending, "tasters")).with_suffix("")
    people: dict[str, bytes] = {}
    if ending == "season":
        from panelstats.report.pages.seasontaster import season_sheets

        people = season_sheets(review) if args.taster_sheets else {}
    elif getattr(args, "taster_sheets", True):
        from panelstats.report.pages.taster import sheets_of

        people = sheets_of(review)
    files |= {folder / f"{name}.html": content for name, content in people.items()}
    write_all(files, folder=folder if people else None, overwrite=args.overwrite, read=review.files)
    return list(files)


def _target(args: argparse.Namespace, what: str) -> Path:
    """The page: beside a file, inside a folder, or where `--out` says."""
    from panelstats.filenames import source_name

    source = Path(args.source[0])
    if args.out is not None and args.out.suffix == ".html":
        return args.out
    return (args.out or (source if source.is_dir() else source.parent)) / f"{source_name(source)}-{what}.html"


def _say_where(args: argparse.Namespace, written: list[Path]) -> None:
    if not written:
        return
    page, book, *people = written
    lines = [f"page:     {page}", f"workbook: {book}", *{f"sheets:   {path.parent}" for path in people}]
    say("\n".join(lines), aside=args.json)
    if args.open:
        import webbrowser

        webbrowser.open(page.resolve().as_uri())


def _answer(args: argparse.Namespace, review: Review, *, in_full: bool) -> None:
    """The answer on standard output: for machines with `--json`, else a few lines for people."""
    if args.json:
        from panelstats.report.machine import as_json

        say(as_json(review))
    elif in_full:  # there is no page to say how it was worked out
        from panelstats.difference.terminal import differ_text

        say("\n\n".join(differ_text(result) for _, result in review.results))
    else:
        say(review.title)
        for line in [*review.said, *_in_short(review.verdicts)]:
            say(textwrap.fill(line, WIDTH, initial_indent="- ", subsequent_indent="  "))


def _in_short(verdicts: Iterable[Verdict]) -> list[str]:
    """A line per kind of answer: one or two verdicts in full, more of them by their subjects."""
    from panelstats.words import listing

    alike: dict[tuple[str, str], list[Verdict]] = {}
    for verdict in verdicts:
        alike.setdefault((verdict.question, verdict.call), []).append(verdict)
    lines = []
    for (question, call), some in alike.items():
        if len(some) <= IN_FULL:
            lines += [str(verdict) for verdict in some]
        else:
            subjects = listing(dict.fromkeys(verdict.subject or "the session" for verdict in some))
            lines.append(f"{question} {call.capitalize()}: {subjects}. The page says by how much and how sure.")
    return lines


# --- commands about sheets --------------------------------------------------------------------------------------------


def _read(args: argparse.Namespace) -> int:
    from panelstats.errors import SheetError
    from panelstats.sheets.account import account_facts, describe_account
    from panelstats.sheets.marked import write_marked_copies

    try:
        scores = _read_source(args)
    except SheetError as error:
        if args.mark and error.problems is not None:
            for copy in write_marked_copies(error.problems, args.source, args.out, room=args.room):
                say(f"marked copy: {copy}", aside=True)
        raise
    say(_json(account_facts(scores)) if args.json else describe_account(scores))
    return 0


def _start(args: argparse.Namespace) -> int:
    from panelstats.sheets.start import write_room, write_starter

    if args.source is None:
        out = write_starter(args.out or Path("starter.xlsx"), overwrite=args.overwrite)
        say(f"wrote {out}: fill it in, then run: panelstats {out}")
        return 0
    out = write_room(
        args.source, args.out, overwrite=args.overwrite, columns=dict(args.column) or None, leave_out=args.leave_out
    )
    say(f"wrote {out}: answer the questions on its first sheet, correct what is wrong, run again; it is obeyed")
    return 0


def _desk(args: argparse.Namespace) -> int:
    from panelstats.desk.serve import serve

    serve(args.folder, say=say, open_browser=not args.no_browser, port=args.port, launcher=args.launcher)
    return 0


def _example(args: argparse.Namespace) -> int:
    from panelstats.example import write_example

    folder = args.out or Path(f"ostrel-quay-{args.which}")
    write_example(folder, which=args.which, overwrite=args.overwrite)
    say(f"wrote the invented set {args.which!r} to {folder}; now run: panelstats {folder / args.which}")
    return 0


def _plan(args: argparse.Namespace) -> int:
    """Plan a tasting; write its sheets, lists and registers."""
    from panelstats.plan.blank.write import write_plan
    from panelstats.plan.session.fit import plan_session
    from panelstats.review import as_review
    from panelstats.sheets.answers import read_lots
    from panelstats.sheets.files import input_files

    counted = args.source.isdecimal() and not Path(args.source).exists()
    lots = [str(n + 1) for n in range(int(args.source))] if counted else read_lots(
        args.source, columns=dict(args.column) or None
    ).drop(columns=["file", "sheet", "row"])  # fmt: skip
    asked = ("service", "limit", "controls", "repeats", "sessions", "tasters_per_lot", "order", "every", "flight",
             "joining", "level", "seed")  # fmt: skip
    plan = plan_session(lots, args.tasters, pots_per_lot=args.pots, error=_past_error(args),
                        **{name: getattr(args, name) for name in asked})  # fmt: skip
    read = () if counted else input_files(args.source)
    write_plan(plan, args.out, descriptors=args.descriptors, interval=1.0, overwrite=args.overwrite, read=read)
    _answer(args, as_review(plan), in_full=False)
    say(f"plan:     {args.out}: keep room.xlsx and kitchen.html from the tasters", aside=args.json)
    say(f"sheets:   filled in, they are read by: panelstats {args.out}", aside=args.json)
    return 0


def _past_error(args: argparse.Namespace) -> object:
    """The room's record from past sessions, where they are named."""
    if args.past is None:
        return None
    from panelstats.lots.roomerror.fit import room_error
    from panelstats.sheets.read import read_scores

    return room_error(read_scores(args.past))


def _json(value: object) -> str:
    import json

    return json.dumps(value, ensure_ascii=False, indent=1, default=str)


# --- parsing ----------------------------------------------------------------------------------------------------------


class _Command(NamedTuple):
    """What a command does, in words, with which options."""

    run: Callable[[argparse.Namespace], int]
    about: str
    options: tuple[Callable[[argparse.ArgumentParser], None], ...]


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="panelstats",
        description=ABOUT,
        epilog="A file or folder alone means: session. Every command explains itself: panelstats COMMAND --help",
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="print the version and stop")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for name, command in COMMANDS.items():
        one = commands.add_parser(name, help=command.about, description=command.about)
        for add in command.options:
            add(one)
    return parser


class _Version(argparse.Action):
    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        say(f"panelstats {version('panelstats')}")
        parser.exit()


COMMANDS = {
    "session": _Command(
        partial(_analyse, review=_session, ending="room"),
        "analyse a session; write its page and workbook",
        (options.source, options.places, options.session, options.judging, options.sheets, options.output),
    ),
    "shortlist": _Command(
        partial(_analyse, review=_session, ending="shortlist"),
        "list the lots that are likely the best, and which to taste again",
        (options.source, options.listing, options.session, options.judging, options.output),
    ),
    "tasters": _Command(
        partial(_analyse, review=_tasters, ending="tasters"),
        "say who can be relied on, for what, over all sheets",
        (options.source, options.judging, options.sheets, options.output),
    ),
    "trainees": _Command(
        partial(_analyse, review=_trainees, ending="trainees"),
        "say which trainees' scores may count, and on what",
        (options.source, options.apprentices, options.judging, options.output),
    ),
    "season": _Command(
        partial(_analyse, review=_season, ending="season"),
        "say which tasters have moved over a season, and since when",
        (options.source, options.season, options.sheets, options.output),
    ),
    "garden": _Command(
        _garden,
        "write a letter to a garden: its lots beside their class",
        (options.source, options.gardens, options.sizes, options.output),
    ),
    "value": _Command(
        partial(_analyse, review=_value, ending="value"),
        "say if the scores carry the price of the lots, and which words do",
        (options.source, options.money, options.output),
    ),
    "summary": _Command(
        partial(_analyse, review=_summary, ending="summary"),
        "tell a buyer of lots: only what their intervals support",
        (options.source, options.told, options.session, options.output),
    ),
    "blend": _Command(
        partial(_analyse, review=_blend, ending="recipes"),
        "suggest trial recipes from the stock that come nearest to the standard",
        (options.source, options.recipe, options.output),
    ),
    "pack": _Command(
        partial(_analyse, review=_pack, ending="pack"),
        "say if a charge of leaf fits its pack, from weighings of its density",
        (options.weighings, options.pack, options.output),
    ),
    "differ": _Command(
        partial(_analyse, review=_differ, ending="differ"),
        "say if two products differ or match, from counts or answers",
        (options.kind_or_source, options.tolerated, options.output),
    ),
    "match": _Command(
        partial(_analyse, review=_match, ending="match"),
        "hold blends against their standard",
        (options.source, options.standard, options.session, options.judging, options.tolerated_share, options.output),
    ),
    "map": _Command(
        partial(_analyse, review=_map, ending="map"),
        "show which lots lie near one another, along which words they differ",
        (options.source, options.mapping, options.session, options.output),
    ),
    "plan": _Command(
        _plan, "plan a tasting: orders, blind codes, sheets to fill in, what it can prove", (options.plan,)
    ),
    "desk": _Command(
        _desk, "open a page in the browser: drop sheets, answer what is unclear, read the pages", (options.room_folder,)
    ),
    "read": _Command(_read, "read sheets and give the account of every cell", (options.source, options.account)),
    "start": _Command(_start, "write room.xlsx with all that was inferred", (options.source_or_none, options.out_file)),
    "example": _Command(_example, "write an invented set of sheets to try things on", (options.which,)),
}
