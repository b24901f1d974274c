"""Every command: what runs it, what it does in words, which options it takes."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from functools import partial
from typing import NamedTuple

from panelstats.cli import answered, asked, gardenletters, jobs, options, outcome, reviews


class Command(NamedTuple):
    """What a command does, in words, with which options."""

    run: Callable[[argparse.Namespace], int]
    about: str
    options: tuple[Callable[[argparse.ArgumentParser], None], ...]


def _review(
    review: outcome.Reviewing, ending: str, about: str, *of: Callable[[argparse.ArgumentParser], None]
) -> Command:
    """A command that ends in a review: a page and a workbook whose names end so."""
    return Command(partial(outcome.analyse, review=review, ending=ending), about, (*of, options.output))


COMMANDS = {
    "session": _review(
        reviews.session, "room", "analyse a session; write its page and workbook",
        options.source, asked.places, options.session, options.judging, options.sheets,
    ),
    "shortlist": _review(
        reviews.session, "shortlist", "list the lots that are likely the best, and which to taste again",
        options.source, asked.listing, options.session, options.judging,
    ),
    "tasters": _review(
        reviews.tasters, "tasters", "say who can be relied on, for what, over all sheets",
        options.source, options.judging, options.sheets,
    ),
    "trainees": _review(
        reviews.trainees, "trainees", "say which trainees' scores may count, and on what",
        options.source, asked.apprentices, options.judging,
    ),
    "season": _review(
        reviews.season, "season", "say which tasters have moved over a season, and since when",
        options.source, asked.season, options.sheets,
    ),
    "garden": Command(
        gardenletters.garden, "write a letter to a garden: its lots beside their class",
        (options.source, asked.gardens, options.sizes, options.output),
    ),
    "value": _review(
        reviews.value, "value", "say if the scores carry the price of the lots, and which words do",
        options.source, asked.money,
    ),
    "summary": _review(
        reviews.summary, "summary", "tell a buyer of lots: only what their intervals support",
        options.source, asked.told, options.session,
    ),
    "blend": _review(
        reviews.blend, "recipes", "suggest trial recipes from the stock that come nearest to the standard",
        options.source, asked.recipe,
    ),
    "pack": _review(
        reviews.pack, "pack", "say if a charge of leaf fits its pack, from weighings of its density",
        asked.weighings, asked.pack,
    ),
    "differ": _review(
        answered.differ, "differ", "say if two products differ or match, from counts or answers",
        asked.kind_or_source, asked.tolerated,
    ),
    "match": _review(
        reviews.match, "match", "hold blends against their standard",
        options.source, asked.standard, options.session, options.judging, asked.tolerated_share,
    ),
    "map": _review(
        reviews.lot_map, "map", "show which lots lie near one another, along which words they differ",
        options.source, asked.mapping, options.session,
    ),
    "plan": Command(
        jobs.plan, "plan a tasting or a difference test: orders, codes, sheets, what it can prove", (asked.plan,)
    ),
    "desk": Command(
        jobs.desk, "open a page in the browser: drop sheets, answer what is unclear, read the pages",
        (asked.room_folder,),
    ),
    "read": Command(jobs.read, "read sheets and give the account of every cell", (options.source, asked.account)),
    "start": Command(
        jobs.start, "write room.xlsx with all that was inferred", (asked.source_or_none, asked.out_file)
    ),
    "example": Command(jobs.example, "write an invented set of sheets to try things on", (asked.which,)),
}  # fmt: skip
