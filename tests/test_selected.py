"""One session of several, selected, answers as its own sheet read alone."""

import pytest

import panelstats as pst
from tests.kept import rooms

TOLERANCE = 0.75  # a tolerance that nobody told is taken from all marks of the sheet
ASKED = {
    "faults": pst.faults_noticed,
    "pots": pst.check_pots,
    "lots": lambda scores: pst.compare_lots(scores, tolerance=TOLERANCE),
    "random lots": lambda scores: pst.compare_lots(scores, lots="random", tolerance=TOLERANCE),
    "match": lambda scores: pst.match_standard(scores, "401", tolerance=TOLERANCE),
    "agreement": pst.panel_agreement,
    "tasters": lambda scores: pst.assess_tasters(scores, tolerance=TOLERANCE),
    "trainees": lambda scores: pst.assess_trainees(scores, trainees="elm", tolerance=TOLERANCE),
    "map": lambda scores: pst.map_lots(scores, resamples=99),
    "short list": pst.shortlist_lots,
    "makes": lambda scores: pst.compare_makes(scores, "rolling", tolerance=TOLERANCE),
    "grades": lambda scores: pst.grade_trend(scores, ["leaf", "broken", "dust"]),
    "value": lambda scores: pst.explain_value(scores, "price", shuffles=99),
}


def said(ask, scores):
    try:
        return [(verdict.sentence, verdict.next_step) for verdict in ask(scores).verdicts]
    except pst.DesignError as refused:
        return str(refused)


@pytest.fixture(scope="module", params=[2, 3, 5])
def sessions(request):
    """Each session of a room, selected from all, and read from a sheet of its own."""
    sheet, registers = rooms.sheet_of(request.param, sessions=3)
    whole, pairs = pst.read_scores(sheet, room=registers), []
    for day in whole.sessions["session"].astype(str):
        mine = registers | {"sessions": registers["sessions"].query("session == @day")}
        pairs.append((whole.select(session=day), pst.read_scores(sheet[sheet["session"] == day], room=mine)))
    return pairs


@pytest.mark.parametrize("question", ASKED)
def test_a_session_selected_answers_as_its_own_sheet(sessions, question):
    for selected, alone in sessions:
        assert said(ASKED[question], selected) == said(ASKED[question], alone)
