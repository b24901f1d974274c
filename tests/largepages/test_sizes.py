"""The size of a large page; `python -m tests.largepages` tries all of them, in a browser."""

import panelstats as pst
from panelstats.report.pages.page import page_of
from tests.largepages.made import MOST, sheet


def grown(page, few, many, wanted):
    """Bytes of a page of so many, as it grows from a few to more."""
    one, other = page(few), page(many)
    return one + (other - one) / (many - few) * (wanted - few)


def test_a_page_of_two_thousand_lots_can_be_mailed():
    def page(lots):
        return len(page_of(pst.review_session(pst.read_scores(sheet(lots, 2, 2)))))

    assert grown(page, 100, 300, 2000) < MOST


def test_a_page_of_two_hundred_sessions_can_be_mailed():
    def page(sessions):
        return len(page_of(pst.review_season(pst.read_scores(sheet(4, 3, 2, sessions=sessions)))))

    assert grown(page, 9, 12, 200) < MOST
