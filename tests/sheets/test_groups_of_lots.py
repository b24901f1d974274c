"""Rows of labels over groups of lots: a fact of the lots, or a key; asked where nothing tells."""

from __future__ import annotations

import pytest

import panelstats as pst
from tests.habits.answering import again
from tests.sheets.forms import NAMES, WORDS, answered, book, cells, marks, met, questions

GRADES, GARDENS = ("BOP", "BOPF", "PD"), ("Upper Hill", "Lower Hill", "Ford")
TWO = [f"{name} {word}" for name in NAMES[:2] for word in WORDS]
LOTS = ("101", "102", "103")


def lots_of(n):
    return [str(int(lot) + 10 * n) for lot in LOTS]


def sections(labels, heads=TWO, side=(), seed=""):
    rows = [("Lot", *heads)]
    for n, label in enumerate(labels):
        rows.append((label,))
        for lot in lots_of(n):
            if side:
                rows += [(lot, name, *marks(len(heads) - 1, lot + name)) for name in side]
            else:
                rows.append((lot, *marks(len(heads), lot + seed)))
    return rows


def truth(labels, heads=TWO):
    pairs = [tuple(head.split(" ")) for head in heads]
    return {
        (lot, *pair): float(mark)
        for n, _ in enumerate(labels)
        for lot in lots_of(n)
        for pair, mark in zip(pairs, marks(len(heads), lot), strict=True)
    }


def fact(scores, name):
    return dict(zip(scores.lots["lot"], scores.lots[name], strict=True))


def test_grades_over_groups_are_the_grades_of_their_lots(tmp_path):
    source = book(tmp_path / "week.xlsx", Scores=sections(GRADES))
    scores = pst.read_scores(source)
    assert cells(scores) == truth(GRADES)
    assert fact(scores, "grade") == {lot: grade for n, grade in enumerate(GRADES) for lot in lots_of(n)}
    assert met(scores)["taster"] == sorted(NAMES[:2])
    assert scores.inferred["why"].eq("each heads a group of lots").sum() == 1
    assert not again(source, tmp_path)


@pytest.mark.parametrize("answer", ["garden", "class", "left out"])
def test_other_labels_over_groups_are_asked_about(tmp_path, answer):
    source = book(tmp_path / "week.xlsx", Scores=sections(GARDENS))
    with pytest.raises(pst.SheetError, match="rows of one label over groups of lots"):
        pst.read_scores(source)
    assert "tasters" not in pst.examine_sheets(source).places["allowed"].iloc[0]
    scores = answered(source, {"groups": answer})
    assert cells(scores) == truth(GARDENS)
    said = {lot: garden for n, garden in enumerate(GARDENS) for lot in lots_of(n)}
    assert (fact(scores, answer) == said) if answer != "left out" else (met(scores)["taster"] == sorted(NAMES[:2]))


@pytest.mark.parametrize("labels", [("BP", "PD", "OP"), GARDENS, ("Ash", "Beech", "Cedar")])
def test_where_nothing_names_the_tasters_a_label_may_be_one(tmp_path, labels):
    source = book(tmp_path / "week.xlsx", Scores=sections(labels, WORDS))
    assert questions(source)["guess"].tolist() == ["grade" if "PD" in labels else "tasters"]
    scores = answered(source, {"groups": "tasters"})
    assert met(scores)["taster"] == sorted(labels)
    assert met(answered(source, {"groups": "class"}))["taster"] == ["one taster"]


@pytest.mark.parametrize("labels", [GRADES, GARDENS])
def test_tasters_in_a_column_or_on_tabs_leave_groups_to_be_facts(tmp_path, labels):
    column = book(tmp_path / "column.xlsx", Scores=sections(labels, ("Taster", *WORDS), NAMES))
    tabs = book(tmp_path / "tabs.xlsx", **{name: sections(labels, WORDS, seed=name) for name in NAMES})
    for source in (column, tabs):
        scores = answered(source, {"groups": "grade"})
        assert fact(scores, "grade") == {lot: label for n, label in enumerate(labels) for lot in lots_of(n)}
        assert met(scores)["taster"] == sorted(NAMES)
        assert len(questions(source)) == 0 or labels == GARDENS


def test_days_over_groups_are_sessions(tmp_path):
    days = ("2026-06-01", "2026-06-08")
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=sections(days)))
    assert met(scores)["session"] == list(days)
    assert met(scores)["taster"] == sorted(NAMES[:2])


def test_the_same_lots_under_every_label_are_scored_by_tasters(tmp_path):
    rows = [("Lot", *WORDS)]
    for name in NAMES[:2]:
        rows += [(name,), *((lot, *marks(3, lot + name)) for lot in LOTS)]
    assert met(pst.read_scores(book(tmp_path / "week.xlsx", Scores=rows)))["taster"] == sorted(NAMES[:2])
