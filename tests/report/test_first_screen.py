"""The first screen of the room's page: it answers alone, finds what was planted, accuses nothing else, and is short."""

import html
import re

import numpy as np
import pandas as pd
import pytest
from browser import at_width, needs_browser
from invented import assessment, review

import panelstats as pst
from panelstats.lots.compare.standing import marked_out, standings
from panelstats.report.pages.brief import brief
from panelstats.report.pages.firstscreen import alarms, read, trust, unsettled
from panelstats.report.pages.lotrows import classes
from panelstats.report.pages.page import page_of
from panelstats.report.pages.people import people
from panelstats.review import Review
from tests import known


@pytest.fixture(scope="module")
def bench():
    return known.session()


def first_screen(page):
    """What a reader sees before unfolding anything, the words of pictures left out."""
    head = page[page.index("<header>") : page.index("</header>")]
    answers = page[page.index('<div class="answers">') : page.index('<section class="picture"')]
    text = re.sub(r"<details.*?</details>|<svg.*?</svg>", " ", head + answers, flags=re.S)
    text = re.sub(r'<(h2|thead)[^>]*class="unseen".*?</\1>', " ", text, flags=re.S)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", text)).split())


def test_what_was_planted_in_the_room_is_found_and_nobody_else_is_accused(bench):
    planted = known.truth("bench")["planted"]
    text = first_screen(page_of(bench).decode())
    for each in planted:
        if each["about"] == "lot":
            assert f"{each['who']} is {each['descriptor']} ({', '.join(each['noticed_by'])}): “slight smoke" in text
        if each["about"] == "pot":
            assert re.search(rf"{each['who']}: its pots disagree \([^)]*{each['descriptor']} [12]\.\d", text)
        if each["about"] == "descriptor":
            assert each["who"] in text[text.index("Not settled") :]
    guilty = {each["who"] for each in planted if each["about"] == "taster"}
    accused = {each["who"] for each in planted if each["about"] in ("lot", "pot")}
    assert {name for alarm in alarms(bench) for name in re.findall(r"\b4\d\d\b", " ".join(alarm.sentences))} == accused
    assert {person.name for person in people(bench) if person.flagged} == guilty
    assert re.search(r"larch marks about 1\.[0-9] high on every word \(0\.5 allowed\)", text)
    assert "spruce spreads the marks too little on every word" in text


def test_it_is_short(bench):
    words = [word for word in first_screen(page_of(bench).decode()).split() if any(map(str.isalpha, word))]
    assert len(words) < 250


def test_the_best_of_a_class_lie_higher_on_what_is_wanted_than_the_weakest(bench):
    # by the truth of the invented room: the mean over the words wanted more or less, each in its direction
    truth = known.truth("bench")
    wanted = bench.scores.descriptors.set_index("descriptor")["wanted"].map({"more": 1.0, "less": -1.0}).fillna(0.0)
    signs = wanted[truth["descriptors"]].to_numpy()
    true = {lot: float(signs @ values) for lot, values in truth["lots"].items()}
    for found in classes(bench, {"418", "405"}):
        best, weakest = ([true[row.lot] for row in rows] for rows in (found.best, found.weakest))
        rest = [true[row.lot] for row in found.rest]
        assert min(best) > max(weakest)
        assert sum(best) / len(best) > sum(rest) / len(rest) > sum(weakest) / len(weakest)
        assert len(best) + len(weakest) + len(rest) == 11  # but the smoky lot and the one of the bad pot


def test_a_lot_is_marked_out_only_beyond_what_matters_and_where_its_class_differs(bench):
    lots = bench.find(pst.LotComparison)
    marks = marked_out(lots, bench.scores.descriptors)
    assert (marks["deviation"].abs() > 0.5).all()  # the tolerance of the register
    tests = lots.anova.query("source == 'lot'").set_index(["class", "descriptor"])["p_adjusted"]
    assert (tests[pd.MultiIndex.from_frame(marks[["class", "descriptor"]])] < 0.05).all()
    row = next(row for row in classes(bench, set())[0].best if row.lot == "411")
    assert row.marks == "brisk +3.3, coppery +2.1; even −1.7"
    register = bench.scores.lots.set_index("lot").loc["411"]
    assert row.origin == (register["garden"], str(register["made"])[:10])
    assert "brisk" in row.said


def test_where_nothing_is_wanted_the_farthest_stand_first_and_none_is_called_best(bench):
    register = bench.scores.descriptors.drop(columns=["wanted", "weight"])
    assert standings(bench.find(pst.LotComparison), register)["standing"].isna().all()
    made = review(lots=12, tasters=6, descriptors=6)
    (found,) = classes(made, set())
    assert not found.ordered
    assert "best" not in first_screen(page_of(made).decode())


def test_a_taster_apart_on_single_words_is_told_which_and_which_way():
    made = assessment(descriptors=("brisk", "colour", "body", "point"))
    made.table.loc[made.table["descriptor"].isin(["", "point"]), "call"] = "with the panel"
    found = people(Review("x", "?", (("Tasters", made),)))
    assert found[0].phrase.startswith("marks about 1.2 high on brisk, colour and 1 more (0.5 allowed)")
    assert found[1].phrase == "with the panel"
    assert [person.flagged for person in found] == [True, False]


def test_what_cannot_be_said_is_left_out_and_never_half_said():
    rows = {"lot": ["1"] * 3, "taster": list("abc"), "strength": [5, 6, 7]}
    made = pst.review_session(pst.read_scores(pd.DataFrame(rows)))
    sentences = [
        trust(made),
        unsettled(made),
        read(made),
        *(told for alarm in alarms(made) for told in alarm.sentences),
    ]
    text = " ".join(sentences) + first_screen(page_of(made).decode())
    assert not re.search(r"\bnan\b|–|\(\)|None| ,|: \.", text)
    assert "No fault noticed; that does not show that the lots are clean." in text


def test_every_fault_is_told_by_who_noticed_it_and_what_to_do():
    sheet = pd.DataFrame({
        "lot": ["7", "7", "8", "8"], "taster": ["elm", "yew"] * 2, "brisk": [6, 5, 4, 4],
        "remarks": ["musty", "slight smoke", "", ""],
    })  # fmt: skip
    (alarm,) = alarms(pst.review_session(pst.read_scores(sheet)))
    assert re.fullmatch(r"7 is (musty and smoky|smoky and musty) \(elm, yew\): “.*”\.", alarm.sentences[0])
    assert alarm.step


def test_many_alarms_that_ask_for_the_same_are_named_and_none_is_lost():
    made = review(lots=300, tasters=2, descriptors=2, faults=15)
    (alarm,) = alarms(made)
    lots = set(made.find(pst.FaultsNoticed).table["lot"])
    told = " ".join(alarm.sentences)
    assert {lot for lot in lots if re.search(rf"\b{lot}\b", told)} == lots
    assert first_screen(page_of(made).decode()).count(alarm.step) == 1


def test_a_session_without_a_name_is_titled_by_its_file_and_date(tmp_path):
    path = tmp_path / "day.csv"
    pd.DataFrame({"lot": ["1", "2"] * 2, "taster": list("aabb"), "brisk": [5, 6, 5, 7]}).to_csv(path, index=False)
    assert pst.review_session(pst.read_scores(path)).title == "day.csv"
    register = {"sessions": pd.DataFrame({"session": ["1"], "date": ["2026-03-02"]})}
    dated = pst.review_session(pst.read_scores(path, room=register))
    assert dated.title == "day.csv, 2026-03-02"
    assert ">2 lots, 2 tasters<" in page_of(dated).decode()


def test_a_session_named_by_its_day_says_of_which_room_and_one_with_a_name_keeps_it(bench, tmp_path):
    assert bench.title == "bench, 2026-03-02"
    assert known.session("bench.xlsx").title == "bench.xlsx, 2026-03-02"
    sheet = pd.DataFrame(
        {"session": "2026-03-02", "lot": ["1", "2"] * 2, "taster": list("aabb"), "brisk": [5, 6, 5, 7]}
    )
    assert pst.review_session(pst.read_scores(sheet)).title == "2026-03-02"
    sheet.to_csv(tmp_path / "2026-03-02.csv", index=False)
    assert pst.review_session(pst.read_scores(tmp_path / "2026-03-02.csv")).title == "2026-03-02.csv"
    sheet.assign(session="Sale 14").to_csv(tmp_path / "sale.csv", index=False)
    assert pst.review_session(pst.read_scores(tmp_path / "sale.csv")).title == "Sale 14"


def test_blends_and_their_tests_stand_first_in_a_line_each():
    made = known.blends()
    lines = {f"{line.subject} {line.sentence}" for line in brief(made)}
    assert "B1 matches S on all 16 words" in lines
    assert "B2 differs from S: strength −1.8, colour −1.6, body −1.6" in lines
    assert "S with B1 triangle: not settled. 23 of 54 right, 18 by luck; at most 33 % of tasters can tell" in lines
    assert "S with B2 triangle: they differ. 42 of 54 right, 18 by luck; about 67 % of tasters can tell" in lines
    page = page_of(made).decode()
    assert page.index("matches S on all 16 words") < page.index('id="picture"')


@pytest.mark.parametrize("lots", [24, 400])
def test_a_result_in_a_notebook_is_short_whatever_its_size(bench, lots):
    found = [result for _, result in (bench if lots == 24 else review(lots=lots, descriptors=16, faults=300)).results]
    for result in found:
        shown = result._repr_html_()
        assert len(shown.encode()) < 50_000
        assert all(f"<h4>{name}: {len(table):,} rows" in shown for name, table in result.tables().items())


@needs_browser
@pytest.mark.parametrize("paper", [(680, 1000), (700, 933)], ids=["A4", "Letter"])
def test_printed_it_is_page_one_alone(driver, tmp_path, bench, paper):
    """Between margins of 15 and 16 mm A4 is 680 by 1001 pixels of 96 an inch, Letter 703 by 935."""
    page = pst.write_report(bench, tmp_path / "room.html")
    at_width(driver, page, paper[0])
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "print"})
    foot = driver.execute_script("return document.getElementById('first-screen').getBoundingClientRect().bottom")
    after = driver.execute_script("return getComputedStyle(document.getElementById('first-screen')).breakAfter")
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": ""})
    assert foot <= paper[1]
    assert after == "page"


def room_of(y):
    """A reviewed room of marks (lot, taster, descriptor)."""
    lot, taster = (index.ravel() for index in np.indices(y.shape[:2]))
    sheet = pd.DataFrame({"lot": (100 + lot).astype(str), "taster": [f"t{i}" for i in taster]})
    for d in range(y.shape[2]):
        sheet[f"word {d + 1}"] = y[lot, taster, d].round(1)
    return pst.review_session(pst.read_scores(sheet))


def test_swapped_words_are_told_in_a_taster_s_row():
    rng = np.random.default_rng(1)
    y = 5 + 1.5 * rng.normal(size=(40, 1, 4)) + 0.4 * rng.normal(size=(40, 6, 4))
    y[:, 2, [0, 1]] = y[:, 2, [1, 0]]
    (flagged,) = [person for person in people(room_of(y)) if person.flagged]
    assert flagged.name == "t2"
    assert re.fullmatch(
        r"marks word (1|2) where the others mark word (2|1), and the reverse: swapped .*", flagged.phrase
    )


def test_marks_at_random_reassure_of_nobody():
    found = people(room_of(5 + 0.3 * np.random.default_rng(2).normal(size=(24, 4, 4))))
    assert {person.phrase for person in found} == {"cannot tell: the panel's marks follow no order of the lots"}


def test_a_lot_is_told_with_garden_grade_and_day_a_control_as_one_and_one_not_marked_out_is_not_left_empty():
    sheet = pd.DataFrame({"lot": list("123") * 3, "taster": list("aaabbbccc"), "brisk": [5, 6, 5, 6, 5, 5, 5, 5, 6]})
    register = {"lots": pd.DataFrame({
        "lot": ["1", "2", "3"], "role": ["control", None, None], "garden": [None, "Upper Brallow 9", None],
        "grade": [None, "broken", "dust"], "made": [None, "2026-01-26", None], "class": "black",
    })}  # fmt: skip
    (found,) = classes(pst.review_session(pst.read_scores(sheet, room=register)), set())
    assert {row.lot: row.origin for row in found.best} == {
        "1": ("control", ""), "2": ("Upper Brallow 9, broken", "2026-01-26"), "3": ("dust", "")
    }  # fmt: skip
    assert {row.marks for row in found.best} == {"not set apart"}
