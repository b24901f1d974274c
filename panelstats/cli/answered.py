"""`differ`: a difference test from its counts, or the sheets of answers."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import panelstats as pst
from panelstats.cli.asked import COUNTS
from panelstats.cli.reviews import given
from panelstats.cli.values import spelled
from panelstats.errors import PanelError

if TYPE_CHECKING:
    import argparse

    from panelstats.cli.reviews import Tell
    from panelstats.review import Review


def differ(args: argparse.Namespace, _: Tell) -> Review:
    """Whether two products differ, or match."""
    from panelstats.models.kinds import KINDS
    from panelstats.sheets.files.sources import input_files

    if len(args.source) == 1 and args.source[0] in KINDS:
        return _from_counts(args)
    _check_answers(args, list(KINDS))
    sources = [Path(each) for each in args.source]
    answers = pst.read_answers(sources, columns=dict(args.column) or None)
    review = pst.review_answers(answers, **given(args, "within_share", "within_d", "error", "match_error"))
    return replace(review, read=input_files(sources))


def _from_counts(args: argparse.Namespace) -> Review:
    """One test from the counts given; before it, where it is open, what so many answers can settle."""
    from panelstats.models.kinds import SIGNAL
    from panelstats.review import as_review

    kind = args.source[0]
    counts = given(args, *COUNTS)
    needed = list(COUNTS)[3:] if kind in SIGNAL else list(COUNTS)[:2]
    missing = [spelled(name) for name in needed if counts[name] is None]
    if missing:
        raise PanelError(
            "counts are missing", where=" ".join(missing), do=f"{kind} takes {', '.join(map(spelled, needed))}"
        )
    rates, within = given(args, "error", "match_error"), given(args, "within_share", "within_d")
    if args.within_share is None and args.within_d is None:
        return as_review(pst.difference_test(kind, **counts, **rates))
    test = pst.match_test(kind, **counts, **rates, **within)
    review = as_review(test)
    if test.call != "cannot tell":
        return review
    answers = args.n_a + args.n_not_a if kind in SIGNAL else args.answers
    plan = pst.answers_needed(kind, **rates, **within, answers=answers)
    return replace(review, results=(("Answers needed", plan), *review.results))


def _check_answers(args: argparse.Namespace, kinds: list[str]) -> None:
    missing = [each for each in args.source if not Path(each).exists()]
    if missing:
        raise PanelError(
            "no such kind of test, and no such file or folder", where=", ".join(missing),
            do=f"name a sheet of answers, or one kind with its counts: {', '.join(kinds)}",
        )  # fmt: skip
    counted = [spelled(name) for name in COUNTS if getattr(args, name)]
    if counted:
        raise PanelError(
            "a sheet of answers is counted as it is read", where=" ".join(counted),
            do="leave the counts out, or name a kind of test in place of the sheet",
        )  # fmt: skip
