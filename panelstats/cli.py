"""The command line: parse, call, print. Heavy libraries load only in the command that needs them."""

from __future__ import annotations

import argparse
import os
import sys
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats import options
from panelstats.errors import PanelError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from panelstats.panel.tasters.fit import TasterAssessment
    from panelstats.panel.training.fit import TraineeAssessment
    from panelstats.result import Result, Verdict
    from panelstats.scores.table import Scores

WIDTH = 80
# More answers of one kind than this are told by their subjects only; the page has them in full.
IN_FULL = 2
ABOUT = "What a tea room's scores prove, and which palates can be relied on. A panel of tasters, not panel data."


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; 0 done, 2 bad input or usage."""
    words = list(sys.argv[1:] if argv is None else argv)
    if words and not words[0].startswith("-") and words[0] not in COMMANDS:
        words.insert(0, "session")  # a file or folder alone
    args = _parser().parse_args(words)
    try:
        return COMMANDS[args.command].run(args)
    except PanelError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:  # whoever reads our output has seen enough; nothing may be flushed to him at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0


# --- commands ---------------------------------------------------------------------------------------------------------


def _session(args: argparse.Namespace) -> int:
    from panelstats.report.pages.room import write_report
    from panelstats.report.workbook import write_workbook
    from panelstats.review import review_session

    with _progress() as tell:
        tell("reading")
        scores = _read_source(args)
        review = review_session(
            scores, session=args.session, pots=args.pots, tolerance=args.tolerance, level=args.level, progress=tell
        )
        tell("page and workbook")
        page, book = _targets(args, "room")
        _check_writable(args, [page, book], scores.files)
        names = [str(name) for name in review.tasters.summary["taster"]] if args.taster_sheets else []
        sheets = _sheet_paths(args, names, scores)
        write_report(review, page, overwrite=args.overwrite)
        write_workbook(review, book, overwrite=args.overwrite)
        tell("taster sheets")
        _write_sheets(args, review.tasters, sheets, review.scores)
    _answer(args, dict(review.results), review.verdicts, title=f"Session {review.session}")
    _say_where(args, page, book)
    return 0


def _trainees(args: argparse.Namespace) -> int:
    from panelstats.panel.training.fit import assess_trainees

    with _progress() as tell:
        tell("reading")
        scores = _read_source(args)
        tell("trainees")
        found = assess_trainees(
            scores,
            trainees=args.trainee or None,
            reference=args.reference,
            pots=args.pots,
            tolerance=args.tolerance,
            level=args.level,
        )
        names = [str(name) for name in found.summary["trainee"]]
        _write_sheets(args, found, _sheet_paths(args, names, scores), scores)
    _answer(args, {"Trainees": found}, found.verdicts, title="Trainees")
    if names:
        print(f"sheets: {_sheet_folder(args)}", file=sys.stderr if args.json else sys.stdout)
    return 0


def _differ(args: argparse.Namespace) -> int:
    from panelstats.difference.counts.told import differ_text
    from panelstats.models.kinds import KINDS
    from panelstats.report.pages.differ import titled, write_differ_page
    from panelstats.report.workbook import write_tables
    from panelstats.sheets.files import input_files

    counted = len(args.source) == 1 and args.source[0] in KINDS
    results, made_from = _from_counts(args) if counted else _from_answers(args, list(KINDS))
    listed = [(title, result) for title, result, _ in titled(results)]
    if counted and not args.json:  # there may be no page to say how it was worked out
        print("\n\n".join(map(differ_text, results)))
    else:
        _answer(
            args, dict(listed), [verdict for result in results for verdict in result.verdicts], title="Difference tests"
        )
    if not counted or args.out is not None or args.open:
        page, book = _targets(args, "differ")
        _check_writable(args, [page, book], () if counted else input_files([Path(each) for each in args.source]))
        write_differ_page(results, page, source=made_from, overwrite=args.overwrite)
        write_tables(listed, book, made_from=made_from, overwrite=args.overwrite)
        _say_where(args, page, book)
    return 0


def _from_counts(args: argparse.Namespace) -> tuple[list[Result], str]:
    """One test from the counts given; before it, where it is open, what so many answers can settle."""
    from panelstats.difference.counts.fit import difference_test, match_test
    from panelstats.difference.counts.planning import answers_needed
    from panelstats.models.kinds import SIGNAL

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
        return [difference_test(kind, **counts, **rates)], "counts as given"
    test = match_test(kind, **counts, **rates, **within)
    given = args.n_a + args.n_not_a if kind in SIGNAL else args.answers
    plans = [answers_needed(kind, **rates, **within, answers=given)] if test.call == "cannot tell" else []
    return [*plans, test], "counts as given"


def _from_answers(args: argparse.Namespace, kinds: list[str]) -> tuple[list[Result], str]:
    """Every test of a sheet of answers, and what was read."""
    import hashlib

    from panelstats.difference.answers.fit import judge_answers
    from panelstats.sheets.answers import read_answers

    _check_answers(args, kinds)
    answers = read_answers([Path(each) for each in args.source], columns=dict(args.column) or None)
    rates = {"error": args.error, "match_error": args.match_error}
    judged = judge_answers(answers, within_share=args.within_share, within_d=args.within_d, **rates)
    digest = hashlib.sha256(answers.to_csv(index=False).encode()).hexdigest()[:16]
    return [judged], f"{digest} ({', '.join(dict.fromkeys(answers['file']))})"


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


def _match(args: argparse.Namespace) -> int:
    from panelstats.difference.answers.fit import judge_answers
    from panelstats.report.pages.blend import write_blend_page
    from panelstats.report.pages.facts import provenance
    from panelstats.report.pages.steps import said_first
    from panelstats.report.workbook import write_tables
    from panelstats.review import review_blends
    from panelstats.sheets.answers import read_answers
    from panelstats.sheets.files import input_files

    with _progress() as tell:
        tell("reading")
        scores = _read_source(args)
        tests = [] if args.tests is None else [judge_answers(read_answers(args.tests), within_share=args.within_share)]
        review = review_blends(
            scores, args.standard, session=args.session, pots=args.pots, tolerance=args.tolerance,
            within_share=args.within_share, answered=bool(tests), level=args.level, progress=tell,
        )  # fmt: skip
        tell("page and workbook")
        page, book = _targets(args, "match")
        answers = () if args.tests is None else input_files(args.tests)
        _check_writable(args, [page, book], scores.files + answers)
        write_blend_page(
            review.match, page, scores=review.scores, tracking=review.tracking, faults=review.faults,
            tests=tests if review.plan is None else [review.plan], overwrite=args.overwrite,
        )  # fmt: skip
        results = dict([*review.results, *(("Tests", test) for test in tests)])
        made_from = provenance(review)
        write_tables(list(results.items()), book, scores=review.scores, made_from=made_from, overwrite=args.overwrite)
    verdicts = said_first(results.values())
    _answer(args, results, verdicts, title=f"Against {review.match.standard}, session {review.session}")
    _say_where(args, page, book)
    return 0


def _read(args: argparse.Namespace) -> int:
    from panelstats.errors import SheetError
    from panelstats.sheets.account import account_facts, describe_account
    from panelstats.sheets.marked import write_marked_copies

    try:
        scores = _read_source(args)
    except SheetError as error:
        if args.mark and error.problems is not None:
            for copy in write_marked_copies(error.problems, args.source, args.out, room=args.room):
                print(f"marked copy: {copy}", file=sys.stderr)
        raise
    print(_json(account_facts(scores)) if args.json else describe_account(scores))
    return 0


def _start(args: argparse.Namespace) -> int:
    from panelstats.sheets.start import write_room, write_starter

    if args.source is None:
        out = write_starter(args.out or Path("starter.xlsx"), overwrite=args.overwrite)
        print(f"wrote {out}: fill it in, then run: panelstats {out}")
        return 0
    out = write_room(args.source, args.out, overwrite=args.overwrite, columns=args.column, leave_out=args.leave_out)
    print(f"wrote {out}: correct what is wrong there and run again; it is obeyed")
    return 0


def _example(args: argparse.Namespace) -> int:
    from panelstats.example import write_example

    folder = args.out or Path(f"ostrel-quay-{args.which}")
    write_example(folder, which=args.which, overwrite=args.overwrite)
    print(f"wrote the invented set {args.which!r} to {folder}; now run: panelstats {folder / args.which}")
    return 0


# --- what the commands share ------------------------------------------------------------------------------------------


def _read_source(args: argparse.Namespace) -> Scores:
    from panelstats.sheets.read import read_scores

    return read_scores(
        args.source if len(args.source) > 1 else args.source[0],
        room=args.room,
        columns=dict(args.column) or None,
        leave_out=tuple(args.leave_out),
        set_aside=args.set_aside,
    )


def _targets(args: argparse.Namespace, what: str) -> tuple[Path, Path]:
    """Page and workbook: beside a file, inside a folder, or where `--out` says."""
    source = Path(args.source[0])
    if args.out is not None and args.out.suffix == ".html":
        return args.out, args.out.with_suffix(".xlsx")
    folder = args.out or (source if source.is_dir() else source.parent)
    stem = source.resolve().name if source.is_dir() else source.stem
    return folder / f"{stem}-{what}.html", folder / f"{stem}-{what}.xlsx"


def _check_writable(args: argparse.Namespace, paths: Iterable[Path], read: tuple[Path, ...]) -> None:
    """Refuse a run before its first file is written, not halfway through."""
    from panelstats.output import check_writable

    for path in paths:
        check_writable(path, overwrite=args.overwrite, read=read)


def _sheet_folder(args: argparse.Namespace) -> Path:
    """Where the pages of persons go: a folder of their own beside the sheets."""
    page, _ = _targets(args, "tasters")
    return page.with_suffix("")


def _sheet_paths(args: argparse.Namespace, names: list[str], scores: Scores) -> dict[str, Path]:
    """Who gets which page; the folder made, all pages found writable."""
    from panelstats.output import file_names, make_folder

    folder = _sheet_folder(args)
    paths = {name: folder / f"{file}.html" for name, file in file_names(names).items()}
    if paths:
        make_folder(folder)
        _check_writable(args, paths.values(), scores.files)
    return paths


def _write_sheets(
    args: argparse.Namespace,
    found: TasterAssessment | TraineeAssessment,
    sheets: dict[str, Path],
    scores: Scores,
) -> None:
    from panelstats.report.pages.taster import write_taster_page

    for name, path in sheets.items():
        write_taster_page(found, name, path, scores=scores, overwrite=args.overwrite)


def _answer(args: argparse.Namespace, results: dict[str, Result], verdicts: Iterable[Verdict], *, title: str) -> None:
    """Results on standard output: for machines with `--json`, else a few lines for people."""
    if args.json:
        from panelstats.report.machine import as_json

        print(as_json(results))
        return
    print(title)
    for line in _in_short(verdicts):
        print(textwrap.fill(line, WIDTH, initial_indent="- ", subsequent_indent="  "))


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


def _say_where(args: argparse.Namespace, page: Path, book: Path) -> None:
    print(f"page:     {page}\nworkbook: {book}", file=sys.stderr if args.json else sys.stdout)
    if args.open:
        import webbrowser

        webbrowser.open(page.resolve().as_uri())


def _json(value: object) -> str:
    import json

    return json.dumps(value, ensure_ascii=False, indent=1, default=str)


class _progress:  # noqa: N801 - reads as a phrase: with _progress() as tell
    """A line on a terminal that says what is being done; silent elsewhere."""

    def __enter__(self) -> Callable[[str], None]:
        if not sys.stderr.isatty():
            return lambda _: None
        from rich.console import Console

        self.status = Console(stderr=True).status("starting")
        self.status.start()
        return lambda step: self.status.update(f"{step} ...")

    def __exit__(self, *_: object) -> None:
        if hasattr(self, "status"):
            self.status.stop()


# --- parsing ----------------------------------------------------------------------------------------------------------


class _Command:
    def __init__(
        self, run: Callable[[argparse.Namespace], int], about: str, *options: Callable[[argparse.ArgumentParser], None]
    ) -> None:
        self.run, self.about, self.options = run, about, options


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

        print(f"panelstats {version('panelstats')}")
        parser.exit()


COMMANDS = {
    "session": _Command(
        _session,
        "analyse a session; write its page and workbook",
        options.source,
        options.analysis,
        options.sheets,
        options.output,
    ),
    "trainees": _Command(
        _trainees,
        "say which trainees' scores may count, and on what",
        options.source,
        options.apprentices,
        options.output,
    ),
    "differ": _Command(
        _differ,
        "say if two products differ or match, from counts or answers",
        options.kind_or_source,
        options.tolerated,
        options.output,
    ),
    "match": _Command(
        _match,
        "hold blends against their standard",
        options.source,
        options.standard,
        options.analysis,
        options.tolerated_share,
        options.output,
    ),
    "read": _Command(_read, "read sheets and give the account of every cell", options.source, options.account),
    "start": _Command(_start, "write room.xlsx with all that was inferred", options.source_or_none, options.out_file),
    "example": _Command(_example, "write an invented set of sheets to try things on", options.which),
}
