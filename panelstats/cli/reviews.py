"""What each command asks of its sheets: from the arguments to the review."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import panelstats as pst

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    import pandas as pd

    from panelstats.review import Review
    from panelstats.scores.table import Scores

    Tell = Callable[[str], None]

# What pots are, what matters, how sure: the same words for every analysis of scores.
_JUDGING = ("pots", "tolerance", "level")


def given(args: argparse.Namespace, *names: str) -> dict[str, Any]:
    """Some of the arguments, by their names."""
    return {name: getattr(args, name) for name in names}


def read_source(args: argparse.Namespace, tell: Tell | None = None) -> Scores:
    """The scores of the sheets that were named."""
    return pst.read_scores(
        args.source if len(args.source) > 1 else args.source[0],
        room=args.room,
        columns=dict(args.column) or None,
        leave_out=tuple(args.leave_out),
        set_aside=args.set_aside,
        progress=tell,
    )


def session(args: argparse.Namespace, tell: Tell) -> Review:
    """What a session shows."""
    asked = given(args, "session", "shortlist", "take", *_JUDGING)
    return pst.review_session(read_source(args, tell), progress=tell, **asked)


def tasters(args: argparse.Namespace, tell: Tell) -> Review:
    """Who can be relied on."""
    return pst.review_tasters(read_source(args, tell), progress=tell, **given(args, *_JUDGING))


def trainees(args: argparse.Namespace, tell: Tell) -> Review:
    """Whose scores may count."""
    asked = given(args, "reference", *_JUDGING)
    return pst.review_trainees(read_source(args, tell), trainees=args.trainee or None, progress=tell, **asked)


def value(args: argparse.Namespace, tell: Tell) -> Review:
    """What the price went with."""
    return pst.review_value(read_source(args, tell), progress=tell, **given(args, "by", "level", "seed"))


def lot_map(args: argparse.Namespace, tell: Tell) -> Review:
    """Where the lots lie."""
    asked = given(args, "session", "joined", "within", "scale", "standard", "fill_in", "pots", "level", "seed")
    return pst.review_map(
        read_source(args, tell), lots=tuple(args.lot), facts=args.fact or None, progress=tell, **asked
    )


def pack(args: argparse.Namespace, _: Tell) -> Review:
    """Whether the leaf fits its pack."""
    densities = pst.read_densities(args.source, columns=dict(args.column) or None)
    asked = given(
        args, "grams", "millilitres", "fill", "allowed", "state", "mix", "charge_cv", "capacity_cv", "level", "seed"
    )
    return _having_read(pst.review_packs(densities, **asked), *args.source)


def summary(args: argparse.Namespace, tell: Tell) -> Review:
    """What a buyer may be told."""
    asked = given(args, "session", "grams", "millilitres", "level")
    scores = read_source(args, tell)
    lots = args.lots and _apart(args.lots, set(scores.lots["lot"].astype(str)))
    review = pst.review_summary(scores, lots=lots, densities=_weighed(args), progress=tell, **asked)
    return _having_read(review, args.densities)


def _apart(names: list[str], known: set[str]) -> list[str]:
    """Lots as they were typed, with spaces or commas between them; a lot may have a comma in its name."""
    return [part for name in names for part in ([name] if name in known else filter(None, name.split(",")))]


def blend(args: argparse.Namespace, tell: Tell) -> Review:
    """Which blend comes nearest."""
    asked = given(args, "standard", "grams", "millilitres", "level", "tolerance", "seed")
    review = pst.review_recipes(
        read_source(args, tell),
        batch=args.kilograms,
        stock=None if args.stock is None else pst.read_stock(args.stock),
        densities=_weighed(args),
        progress=tell,
        **asked,
    )
    return _having_read(review, args.stock, args.densities)


def _weighed(args: argparse.Namespace) -> pd.DataFrame | None:
    return None if args.densities is None else pst.read_densities(args.densities)


def match(args: argparse.Namespace, tell: Tell) -> Review:
    """Whether blends match their standard."""
    scores = read_source(args, tell)
    answers = pst.answers_in(args.source) if args.tests is None else pst.read_answers(args.tests)
    asked = given(args, "standard", "session", "within_share", *_JUDGING)
    return _having_read(pst.review_blends(scores, answers=answers, progress=tell, **asked), args.tests)


def _having_read(review: Review, *sources: object) -> Review:
    """The review, which knows what was read besides its scores: nothing is written over it."""
    from panelstats.sheets.files.sources import input_files

    named = [each for each in sources if each is not None]
    return replace(review, read=input_files(named)) if named else review


def season(args: argparse.Namespace, tell: Tell) -> Review:
    """Who has moved; a folder of Parquet is read one partition at a time."""
    from panelstats.sheets.files.sources import files_read, is_partitioned

    where = args.source if len(args.source) > 1 else args.source[0]
    partitioned = len(args.source) == 1 and not args.leave_out and is_partitioned(where)
    read = (
        pst.read_cells(where, columns=dict(args.column) or None, progress=tell, **given(args, "room", "set_aside"))
        if partitioned
        else read_source(args, tell)
    )
    asked = given(args, "until", "baseline", "seed")
    review = pst.review_season(read, controls=args.control or None, progress=tell, **asked)
    return replace(review, read=files_read(where, args.room))
