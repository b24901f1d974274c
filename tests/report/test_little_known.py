"""Rooms from which little can be known: no sentence and no page prints a number that does not exist."""

import html
import re

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.errors import PanelError
from panelstats.report.pages.page import page_of
from panelstats.report.pages.taster import sheets_of
from tests.report.intervals import faults_of

RNG = np.random.default_rng(5)
WORDS = ("brisk", "body")
HOLES = re.compile(r"\bnan\b|\bNone\b|\binf\b|[(≥=] ?–|\(\)|–[;:,)%]|\{|\}| –$|−?nan")


def room(lots, tasters, pots=1, session="2031-01-06", marks=None):
    """A sheet of marks; `marks` takes the shape (lot, taster, pot, word)."""
    shape = (lots, tasters, pots, len(WORDS))
    y = 5 + RNG.normal(size=(lots, 1, 1, 2)) + 0.5 * RNG.normal(size=shape) if marks is None else marks(shape)
    at = np.indices(shape[:3]).reshape(3, -1)
    sheet = pd.DataFrame({
        "session": session, "lot": [f"L{n}" for n in at[0]], "taster": [("elm", "yew", "ash", "oak")[n] for n in at[1]],
        "pot": at[2] + 1,
    })  # fmt: skip
    return sheet.assign(**{word: y[(*at, d)].round(1) for d, word in enumerate(WORDS)})


def one_left(shape):
    y = np.full(shape, np.nan)
    y[0, 0, 0, 0] = 5.0
    return y


def apart(days):
    """Sessions that have no lot in common."""
    sheets = [room(5, 3, session=f"2031-01-{6 + 7 * day:02d}") for day in range(days)]
    return pd.concat([sheet.assign(lot=f"{day}-" + sheet["lot"]) for day, sheet in enumerate(sheets)])


ROOMS = {
    "one mark": room(1, 1),
    "one lot": room(1, 4),
    "one lot, two pots": room(1, 3, 2),
    "two lots": room(2, 3, 2),
    "one taster": room(8, 1),
    "one taster, two pots": room(8, 1, 2),
    "two tasters": room(6, 2),
    "equal marks": room(6, 3, 2, marks=lambda shape: np.full(shape, 5.0)),
    "all missing but one": room(4, 3, marks=one_left),
    "two sessions without a lot in common": apart(2),
    "two sessions of one lot": pd.concat([room(1, 3), room(1, 3, session="2031-01-13")]),
    "thirty lots, one look": room(30, 2),
    "thirty lots, equal marks": room(30, 2, marks=lambda shape: np.full(shape, 5.0)),
}


def registers(sheet):
    """Registers of everybody and every lot; the second taster learns, the first lot is the standard."""
    lots, tasters = sheet["lot"].unique(), sheet["taster"].unique()
    return {
        "lots": pd.DataFrame({
            "lot": lots, "role": ["standard", "trial", *[""] * len(lots)][: len(lots)],
            "garden": [("Hill", "Flats")[at % 2] for at in range(len(lots))], "made": "2031-01-02",
            "rolling": [30 + 10 * (at % 3) for at in range(len(lots))],
        }),
        "tasters": pd.DataFrame({
            "taster": tasters, "role": ["senior", "trainee", *["senior"] * len(tasters)][: len(tasters)],
        }),
    }  # fmt: skip


ANALYSES = {
    "lots": pst.compare_lots,
    "pots": lambda scores: pst.check_pots(scores, pots="shared"),
    "faults": pst.faults_noticed,
    "short list": lambda scores: pst.shortlist_lots(scores, pots="shared"),
    "room error": lambda scores: pst.room_error(scores, pots="shared"),
    "standard": lambda scores: pst.match_standard(scores, "L0", tolerance=1.0),
    "weeks": lambda scores: pst.track_standard(scores, "L0", tolerance=1.0),
    "makes": lambda scores: pst.compare_makes(scores, "rolling"),
    "panel": pst.panel_agreement,
    "tasters": pst.assess_tasters,
    "trainees": lambda scores: pst.assess_trainees(scores, trainees="yew"),
    "season": pst.audit_season,
}
REVIEWS = {
    "session": pst.review_session,
    "day": lambda scores: pst.review_session(scores, shortlist=True),
    "blends": lambda scores: pst.review_blends(scores, standard="L0", tolerance=1.0),
    "trainees": lambda scores: pst.review_trainees(scores, trainees="yew"),
    "garden": lambda scores: pst.review_garden(scores, "Hill"),
    "season": pst.review_season,
}


@pytest.fixture(scope="module", params=ROOMS)
def scores(request):
    sheet = ROOMS[request.param]
    return pst.read_scores(sheet, room=registers(sheet))


def asked(way, scores):
    """What an analysis answers, or the error that says what to do."""
    try:
        return way(scores)
    except PanelError as error:
        told = str(error)
    assert not HOLES.search(told), told
    return None


@pytest.mark.parametrize("name", ANALYSES)
def test_no_sentence_prints_a_number_that_does_not_exist(scores, name):
    found = asked(ANALYSES[name], scores)
    for verdict in found.verdicts if found else ():
        assert not HOLES.search(str(verdict)), str(verdict)
        assert not [value for value in verdict.numbers.values() if value is None]
    assert found is None or not HOLES.search(found.method), found.method
    assert found is None or faults_of(found) == []


def sentences(page):
    """All that stands outside tables of results, drawings and styles."""
    text = re.sub(r'<style.*?</style>|<details class="table".*?</details>|<path[^>]*>', " ", page, flags=re.S)
    labels = " ".join(re.findall(r'aria-label="([^"]*)"', text))
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text) + labels).split())


@pytest.mark.parametrize("name", REVIEWS)
def test_no_page_prints_a_number_that_does_not_exist(scores, name):
    made = asked(REVIEWS[name], scores)
    if made is None:
        return
    pages = {"": page_of(made), **(sheets_of(made) if name in ("session", "trainees") else {})}
    for page in pages.values():
        found = HOLES.search(sentences(page.decode()))
        assert not found, sentences(page.decode())[max(found.start() - 120, 0) : found.end() + 60]
        assert not re.search(r'="[^"]*\b(nan|inf)\b', page.decode())  # a drawing's coordinates


def test_where_every_lot_was_noticed_for_a_fault_no_empty_list_of_lots_is_headed():
    rows = [(lot, taster, 5 + n % 3, "smoky") for n, lot in enumerate("abcd") for taster in ("elm", "yew", "larch")]
    sheet = pd.DataFrame(rows, columns=["lot", "taster", "brisk", "remarks"])
    page = page_of(pst.review_session(pst.read_scores(sheet), shortlist=False)).decode()
    assert page.count("smoky") >= 4
    assert 'id="lots"' not in page
    clean = page_of(pst.review_session(pst.read_scores(sheet.assign(remarks="")), shortlist=False)).decode()
    assert 'id="lots"' in clean
