"""What stands at the head of pages and sheets is counted from the tables: facts, trust, what is open, why, weeks."""

import re
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.report.charts.weeks import weeks_drawing
from panelstats.report.pages import firstscreen
from panelstats.report.pages.head import _account, _pots, facts, lede, provenance
from panelstats.report.pages.people import _apart, people
from panelstats.report.pages.sheet import _why, cell_words
from panelstats.report.pages.steps import steps
from panelstats.result import Act, Chart, Mark, Row, Verdict


def scores(**rooms):
    sheet = pd.DataFrame(
        [(s, f"{s}{lot}", t, 5 + k, "") for s in ("w1", "w2") for lot in "abc" for k, t in enumerate(("elm", "yew"))],
        columns=["session", "lot", "taster", "brisk", "colour"],
    )
    sheet["colour"] = [6, *[None] * 2, *range(1, 10)]
    lots = pd.DataFrame({"lot": [f"w1{k}" for k in "abc"] + [f"w2{k}" for k in "abc"], "class": ["x", "x", "y"] * 2})
    tasters = pd.DataFrame({"taster": ["elm", "yew"], "role": ["senior", "trainee"]})
    words = pd.DataFrame({"descriptor": ["brisk", "colour"], "stage": ["liquor", "infused leaf"]})
    return pst.read_scores(sheet, room={"lots": lots, "tasters": tasters, "descriptors": words} | rooms)


def test_facts_count_what_was_tasted_in_the_session():
    days = pd.DataFrame({"session": ["w1", "w2"], "blind": ["yes", "no"], "date": ["2031-03-01", "2031-03-08"]})
    told = {fact.name: fact.words for fact in facts(scores(sessions=days), "w1")}
    assert told["Lots"] == "3: 2 x and 1 y"
    assert told["Tasters"] == "2: elm and yew (1 trainee: yew)"
    assert told["Descriptors"] == "2, over liquor and infused leaf"
    assert (told["Blind"], told["Order"]) == ("yes", "not declared")
    both = {fact.name: fact.words for fact in facts(scores(sessions=days), "")}
    assert both["Lots"] == "6: 4 x and 2 y"
    assert both["Blind"] == "yes and no"
    review = SimpleNamespace(scores=scores(sessions=days), session="w2", title="Room", question="?")
    assert lede(review) == "3 lots, 2 tasters, 2031-03-08"
    assert provenance(review).endswith("session dated 2031-03-08")
    review.session = ""
    assert provenance(review).endswith("2 sessions, w1 to w2")


def test_the_head_says_when_a_key_was_opened_and_whether_that_was_too_early():
    days = pd.DataFrame({"session": ["w1", "w2"], "date": ["2031-03-01", "2031-03-08"]})
    assert "Key opened" not in {fact.name for fact in facts(scores(sessions=days), "w1")}
    opened = scores(sessions=days.assign(opened=["2031-03-01 16:00", "2031-03-07"]))
    told = [{fact.name: str(fact.words) for fact in facts(opened, name)}["Key opened"] for name in ("w1", "w2")]
    assert told == ["2031-03-01 16:00", "2031-03-07: before the day of the tasting"]
    coded = pst.read_scores(pd.DataFrame({"code": ["417", "526"], "taster": "elm", "brisk": [5, 6]}))
    (said,) = [str(fact.words) for fact in facts(coded, "") if fact.name == "Key opened"]
    assert said.startswith("nobody wrote down when")


def test_the_account_adds_up_in_words():
    table = pd.DataFrame({"file": ["a", "b"], "seen": [10, 4], "scores": [7, 3], "blanks": [1, 0], "faults": [0, 0],
                          "words": [0, 0], "facts": [1, 1], "set_aside": [1, 0]})  # fmt: skip
    assert _account(table) == "14 cells in 2 files = 10 scores + 1 blank + 2 facts + 1 set aside"
    assert _account(table.iloc[1:]) == "4 cells = 3 scores + 1 fact"


def test_pots_are_told_by_stage_only_where_stages_differ():
    rows = pd.DataFrame({"session": "w", "stage": ["dry leaf", "liquor", "infused leaf"],
                         "pots": ["same", "shared", "shared"], "declared": True, "reason": ""})  # fmt: skip
    told = _pots(rows)
    assert told.startswith("dry leaf one pot of each lot")
    assert "; liquor and infused leaf shared:" in told
    assert not _pots(rows.iloc[1:]).startswith("liquor")
    assert _pots(rows.iloc[1:].assign(declared=False, reason="so")).endswith("(taken so: so)")


def agreed(calls, people=4, far=0.66):
    table = pd.DataFrame({"descriptor": list("abcdefgh")[: len(calls)], "call": calls, "tasters": people,
                          "mark_reach": far})  # fmt: skip
    return review(PanelAgreement=SimpleNamespace(table=table))


def review(**results):
    """A review that holds some results by the names of their types."""
    return SimpleNamespace(find=lambda kind: results.get(kind.__name__), scores=None, session="w", verdicts=())


def test_trust_counts_the_words_agreed_on_and_names_the_others():
    told = firstscreen.trust(agreed(["agree", "agree", "apart", "cannot tell", "too alike to judge"]))
    assert told == (
        "The 4 tasters agree on 2 of 5 words; a mark of the panel may be 0.7 off. Not agreed: c. Unsettled: d. "
        "Not to be judged today: e."
    )
    assert firstscreen.trust(agreed(["agree"], people=1)) == ""
    assert firstscreen.trust(agreed(["agree"], people=2)).startswith("The 2 tasters agree on a; a mark")
    many = firstscreen.trust(agreed(["apart"] * 5))
    assert many.startswith("It is not shown on any word that the 4 tasters agree; a mark of the panel")
    assert many.endswith("Not agreed: a, b, c and 2 more.")
    assert firstscreen.trust(agreed(["agree"] * 3)).startswith("The 4 tasters agree on all 3 words; a mark")
    assert firstscreen.trust(agreed(["apart"] * 4)).endswith("Not agreed: a, b, c and d.")


def compared(*rows):
    anova = pd.DataFrame(rows, columns=["class", "descriptor", "p_adjusted"]).assign(source="lot")
    return review(LotComparison=SimpleNamespace(anova=anova, level=0.95))


def test_words_are_open_where_their_lots_were_not_told_apart():
    made = compared(("x", "a", 0.04), ("y", "a", 0.06), ("x", "b", 0.2), ("y", "b", 0.3), ("x", "c", np.nan),
                    ("y", "c", 0.01))  # fmt: skip
    assert firstscreen.open_words(made) == {"x": ["c"], "y": ["a"], "": ["b"]}
    assert firstscreen.unsettled(made) == (
        "Not settled: whether lots differ on b (nor are the tasters tested there); c (x); a (y)."
    )
    assert firstscreen.unsettled(compared(("x", "a", 0.04))) == ""
    assert firstscreen.open_words(review()) == {"": []}


def test_what_was_read_is_told_with_what_was_left_out():
    made = SimpleNamespace(scores=scores(), session="w2")
    told = firstscreen.read(made)
    assert told.startswith("Read: 22 marks, 2 blanks in 1 sheet; pots shared, not declared. This page")
    assert "This page is of w2 alone." in told
    assert "alone" not in firstscreen.read(SimpleNamespace(scores=scores(), session=""))
    assert "Set aside" not in told


def test_lots_that_no_taster_joins_are_told_by_who_scored_them_and_one_lot_is_not_compared():
    sheet = pd.DataFrame({"lot": list("12123434"), "taster": list("aabbccdd"), "brisk": [5, 6, 5, 7, 4, 6, 5, 8]})
    told = "2 groups of lots are joined by no taster (those of a, b; c, d): compare within a group only."
    assert told in firstscreen.read(pst.review_session(pst.read_scores(sheet)))
    joined = pd.concat([sheet, pd.DataFrame({"lot": ["2", "3"], "taster": "e", "brisk": 5})])
    assert not any("joined" in line for line in pst.read_scores(joined).said)


def test_lots_alone_in_their_class_are_neither_compared_nor_a_test_of_the_tasters():
    sheet = pd.DataFrame({"lot": list("12") * 3, "taster": list("aabbcc"), "brisk": [5, 6, 5, 7, 4, 6]})
    classes = {"lots": pd.DataFrame({"lot": ["1", "2"], "class": ["x", "y"]})}
    two = pst.review_session(pst.read_scores(sheet, room=classes))
    one = pst.review_session(pst.read_scores(sheet[sheet["lot"] == "1"]))
    assert firstscreen.unsettled(two).startswith("Not settled: each lot stands alone in its class.")
    assert firstscreen.unsettled(one).startswith("Not settled: there is one lot.")
    for made in (one, two):
        assert "agree" not in firstscreen.trust(made)
        told = [person.phrase for person in people(made)]
        assert told == ["cannot tell: too few lots of a class together"] * 3
        assert not any("marks" in verdict.sentence and "follow no" in verdict.sentence for verdict in made.verdicts)
    assert [bool(person.step) for person in people(one)] == [False, False, True]  # what would tell, once


def test_where_no_word_is_settled_the_step_that_would_settle_one_stands_beside_it():
    rng = np.random.default_rng(3)
    sheet = pd.DataFrame([(str(lot), who, pot) for lot in range(6) for who in "abc" for pot in (1, 2)],
                         columns=["lot", "taster", "pot"])  # fmt: skip
    told = firstscreen.unsettled(pst.review_session(pst.read_scores(sheet.assign(brisk=rng.integers(4, 7, 36)))))
    assert told.startswith("Not settled: whether lots differ on brisk")
    assert "8 cases of 10" in told


def test_a_cell_is_told_with_its_digits_its_tolerance_and_its_call():
    cell = Row("a", 1.234, 0.84, 1.61, floor=-0.5, ceiling=0.5, mark=Mark.HIGHER, note="apart")
    assert cell_words(cell) == "1.2 (0.8 to 1.6); tolerated from −0.50 to 0.50; apart"
    ratio = Row("a", 0.914, 0.905, 0.922, floor=-np.inf, ceiling=1.5)
    assert cell_words(ratio) == "0.914 (0.905 to 0.922); tolerated to 1.50; not judged"
    assert "tolerated all" in cell_words(Row("a", 0.9, 0.5, 1.2, floor=-np.inf, ceiling=np.inf, mark=Mark.OPEN))


def test_a_sheet_says_what_lies_outside_or_why_nothing_can_be_told():
    out, open_ = Row("w", 1.2, 0.8, 1.6, note="apart"), Row("w", 0.2, -0.2, 0.6, note="cannot tell")
    cells = [("level", out), ("repeats", open_), ("order", open_)]
    assert _why(Row("w", note="apart"), cells, ["few lots"]) == "level 1.2 (0.8 to 1.6)"
    assert _why(Row("w", note="cannot tell"), cells, ["few lots"]) == "on 2 of 3 columns"
    assert _why(Row("w", note="cannot tell"), cells[:2], ["few lots"]) == "on repeats: few lots"
    assert _why(Row("w", note="cannot tell"), cells[:2], ["few lots", "other"]) == "on repeats"
    assert _why(Row("w", note="with the panel"), cells, ["few lots"]) == ""


def test_the_farthest_from_its_tolerance_is_the_one_whose_size_is_told():
    names = ["aspect", "descriptor", "estimate", "floor", "ceiling", "call"]
    rows = [("level", "a", 1.0, -0.2, 0.2, "apart"), ("level", "b", 1.4, -1.0, 1.0, "apart")]
    assert _apart(pd.DataFrame(rows, columns=names)).startswith("marks about 1.0 high on a and b (0.2 allowed)")
    rows = [("level", "a", 1.0, -0.2, 0.2, "apart"), ("level", "b", -1.6, -1.0, 1.0, "apart")]
    assert _apart(pd.DataFrame(rows, columns=names)).startswith("marks about 1.0 off on a and b")


def verdict(subject, step, act=Act.NOW, **numbers):
    return Verdict("?", subject, "differ", f"{subject} it is.", numbers, step, act)


def test_alarms_are_gathered_by_what_to_do_and_no_more_than_five_are_told_in_full():
    made = review()
    made.verdicts = (*(verdict(f"L{k}", "Brew again.") for k in range(7)), verdict("x", "", Act.DECIDE))
    (alarm,) = firstscreen.alarms(made)
    assert alarm.sentences == [*(f"L{k} it is." for k in range(5)), "The same of L5 and L6."]
    assert firstscreen.suspect(made) == {f"L{k}" for k in range(7)}
    made.verdicts = made.verdicts[:5]
    assert len(firstscreen.alarms(made)[0].sentences) == 5
    pots = verdict("L9", "Brew again.", body=-0.4, brisk=1.26, colour=0.9, tip=0.1)
    made = review(PotCheck=SimpleNamespace(verdicts=(pots,)))
    made.verdicts = (pots,)
    assert firstscreen.alarms(made)[0].sentences == ["L9: its pots disagree (brisk 1.3, colour 0.9, body 0.4 apart)."]


def test_a_step_is_told_once_with_those_it_is_for():
    told = steps([verdict("a", "Taste."), verdict("b", "Brew."), verdict("c", "Taste."), verdict("d", "")])
    assert [(one.subjects, one.words) for one in told] == [("a and c", "Taste."), ("b", "Brew.")]
    assert steps([verdict("a", "Taste."), verdict("", "Taste.")])[0].subjects == ""


def test_weeks_run_from_left_to_right_and_a_higher_mark_stands_higher():
    rows = [Row(f"w{k}", value, value - 0.5, value + 0.5, floor=-1, ceiling=1, level=value / 2)
            for k, value in enumerate((0.0, 1.0, 2.0))]  # fmt: skip
    chart = Chart("brisk", "blend less S (points)", tuple(rows), zero=0.0, along="session")
    drawing = weeks_drawing([chart], key="w")
    drawn = str(drawing.svg)
    dots = [(float(x), float(y)) for x, y in re.findall(r'<circle cx="([^"]*)" cy="([^"]*)"', drawn)]
    xs, ys = zip(*dots, strict=True)
    assert xs[1] - xs[0] == pytest.approx(xs[2] - xs[1], abs=0.11)
    assert xs[0] < xs[1] < xs[2] <= 340
    assert ys[0] - ys[1] == pytest.approx(ys[1] - ys[2], abs=0.11)
    assert ys[0] > ys[2]
    (band,) = re.findall(r'<rect x="[^"]*" y="([^"]*)" width="[^"]*" height="([^"]*)"', drawn)
    one = ys[0] - ys[1]  # a point
    assert float(band[1]) == pytest.approx(2 * one, abs=0.3)
    assert float(band[0]) == pytest.approx(ys[1], abs=0.3)
    (level,) = re.findall(r'd="M([^"]*)" class="level', drawn)
    heights = [float(step.split(" ")[1]) for step in level.split("L")]
    assert heights[0] == pytest.approx(ys[0], abs=0.11)
    assert heights[2] == pytest.approx(ys[1], abs=0.3)
    assert re.search(r'text-anchor="start"[^>]*><text[^>]*>w0<', drawn)
    assert re.search(r'text-anchor="end"[^>]*><text[^>]*>w2<', drawn)
    lowest = max(float(y) for y in re.findall(r'<text[^>]* y="([^"]*)"', drawn))
    assert lowest < drawing.height
