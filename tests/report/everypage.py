"""A page of every kind, of small rooms and the committed data."""

from functools import cache

import numpy as np
import pandas as pd

import panelstats as pst
from panelstats.report.pages.page import page_of
from panelstats.report.pages.seasontaster import season_taster_page
from panelstats.report.pages.taster import sheets_of
from panelstats.review import as_review
from tests import known
from tests.lots.test_recipes import tasted
from tests.lots.test_value import room as priced


@cache
def season():
    """A short season of which one taster jumps."""
    rng = np.random.default_rng(4)
    rows = [
        (f"2031-{1 + week // 4:02d}-{1 + 7 * (week % 4):02d}", f"{week}-{lot}", taster,
         tea + rng.normal(0, 0.4) + 2.0 * (at == 0 and week >= 12))
        for week in range(20) for lot in range(6) for tea in [5 + rng.normal()]
        for at, taster in enumerate(("elm", "yew", "larch", "beech"))
    ]  # fmt: skip
    return pst.read_scores(pd.DataFrame(rows, columns=["session", "lot", "taster", "strength"]).round(1))


@known.reviewed
def followed():
    return pst.review_season(season())


# What each page is about: a review, made anew in every language.
REVIEWS = {
    "session": known.session,
    "day": lambda: known.session("row.xlsx"),
    "trainees": known.trainees,
    "blends": known.blends,
    "answers": known.answered,
    "differ": lambda: as_review(pst.difference_test("triangle", correct=19, answers=36)),
    "garden": lambda: pst.review_garden(known.scores("row.xlsx"), "Upper Brallow 1"),
    "value": lambda: pst.review_value(priced(60)),
    "packs": lambda: pst.review_packs(pst.read_densities(known.DATA / "row"), grams=250, millilitres=900),
    "recipes": lambda: pst.review_recipes(tasted({"S": (5.0, 6.0), "1": (4.0, 6.0), "2": (6.2, 6.1)}), "S"),
    "summary": lambda: pst.review_summary(known.scores("bench"), lots=["411", "418"]),
    "catalogue": lambda: pst.review_summary(known.scores("bench")),
    "season": followed,
    "season-taster": followed,
    "map": lambda: pst.review_map(known.scores("bench")),
    "tasters": lambda: pst.review_tasters(known.scores("bench")),
    "taster": known.session,
    "trainee": known.trainees,
}
# Pages for one person, of the review of all.
_HANDED = {
    "season-taster": lambda review: season_taster_page(review, "elm"),
    "taster": lambda review: sheets_of(review)["larch"],
    "trainee": lambda review: sheets_of(review)["spindle"],
}


def page(kind: str) -> bytes:
    """The page of one kind, in the language in use."""
    return _HANDED.get(kind, page_of)(REVIEWS[kind]())
