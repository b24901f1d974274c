"""A small key beside a table names its tasters or descriptors; nothing of it is taken for scores."""

from __future__ import annotations

import pytest

import panelstats as pst
from tests.habits.answering import again
from tests.sheets.forms import LOTS, NAMES, WORDS, answered, book, cells, marks, met, questions

SHORTS = {
    "T1": ("T1", "T2", "T3", "T4"), "A": ("A", "B", "C", "D"), "1": (1, 2, 3, 4), "E": ("E", "Y", "L", "O"),
    "Taster 1": tuple(f"Taster {n}" for n in (1, 2, 3, 4)),
}  # fmt: skip


def across(shorts, lots=LOTS):
    rows = [(lot, word, *marks(len(shorts), f"{lot} {word}")) for lot in lots for word in WORDS]
    return [("Lot", "Descriptor", *shorts), *rows]


def below(rows, pairs):
    return [*rows, (), *pairs]


def above(rows, pairs):
    return [*pairs, (), *rows]


def beside(rows, pairs):
    width = max(map(len, rows))
    return [
        (*row, *[None] * (width - len(row) + 1), *pair)
        for row, pair in zip(rows, [*pairs, *[()] * len(rows)], strict=False)
    ]


def named_truth(shorts):
    return {
        (lot, name, word): float(mark)
        for lot, word, *line in across(shorts)[1:]
        for name, mark in zip(NAMES, line, strict=True)
    }


@pytest.mark.parametrize("place", [below, above, beside])
@pytest.mark.parametrize("form", ["pairs", "headed", "reversed", "equals", "line", "list"])
@pytest.mark.parametrize("short", ["T1", "A", "E", "Taster 1"])
def test_a_key_names_the_tasters(tmp_path, short, form, place):
    shorts = SHORTS[short]
    if (form, place) == ("line", beside):
        return  # nobody writes a line of pairs behind the headings
    pairs = [*zip(shorts, NAMES, strict=True)]
    key = {
        "pairs": pairs, "headed": [("No.", "Name"), *pairs], "reversed": [(n, s) for s, n in pairs],
        "equals": [(f"{s} = {n}",) for s, n in pairs], "line": [[x for pair in pairs for x in pair]],
        "list": [(", ".join(f"{s}: {n}" for s, n in pairs),)],
    }[form]  # fmt: skip
    source = book(tmp_path / "week.xlsx", Scores=place(across(shorts), key))
    if len(questions(source)):
        scores = answered(source, {"Are these headings": "tasters"})
    else:
        scores = pst.read_scores(source)
        assert form != "pairs" or not again(source, tmp_path)
    assert cells(scores) == named_truth(shorts)
    assert met(scores)["lot"] == [*LOTS]
    assert met(scores)["descriptor"] == sorted(WORDS)
    assert met(scores)["taster"] == sorted(NAMES)
    assert scores.inferred["why"].eq("a key beside the scores names it").sum() == len(NAMES)


def test_a_key_of_numbers_holds_once_the_headings_are_known_for_tasters(tmp_path):
    source = book(tmp_path / "week.xlsx", Scores=below(across((1, 2, 3, 4)), [*zip((1, 2, 3, 4), NAMES, strict=True)]))
    assert cells(answered(source, {})) == named_truth((1, 2, 3, 4))


@pytest.mark.parametrize("said", [("senior", "trainee", "head", "guest"), ("morning", "afternoon", "evening", "late")])
def test_what_may_be_no_names_is_asked(tmp_path, said):
    shorts = SHORTS["T1"]
    source = book(tmp_path / "week.xlsx", Scores=below(across(shorts), [*zip(shorts, said, strict=True)]))
    assert questions(source)["what"].str.startswith("Are these the names of the tasters").tolist() == [True]
    with pytest.raises(pst.SheetError, match="may name the tasters"):
        pst.read_scores(source)
    assert met(answered(source, {}))["taster"] == sorted(shorts)
    assert met(answered(source, {"names": "names"}))["taster"] == sorted(said)


def test_a_key_names_descriptors(tmp_path):
    shorts = ("Co", "Br", "St")
    rows = [("Lot", "Taster", *shorts), *((lot, name, *marks(3, lot + name)) for lot in LOTS for name in NAMES)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=below(rows, [*zip(shorts, WORDS, strict=True)])))
    assert met(scores)["descriptor"] == sorted(WORDS)
    assert met(scores)["lot"] == [*LOTS]


def test_tasters_in_a_column_are_named_on_the_sheet_that_holds_the_key(tmp_path):
    shorts = SHORTS["T1"]
    rows = [("Lot", "Taster", *WORDS), *((lot, short, *marks(3, lot + short)) for lot in LOTS for short in shorts)]
    pairs = [*zip(shorts, NAMES, strict=True)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=below(rows, pairs[:3])))
    assert met(scores)["taster"] == sorted([*NAMES[:3], "T4"])


def test_a_legend_of_numbers_is_no_key(tmp_path):
    legend = [(3, "poor"), (5, "fair"), (8, "good")]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=below(across(NAMES), legend)))
    assert cells(scores) == named_truth(NAMES)
    assert met(scores)["lot"] == [*LOTS]


def test_a_block_without_marks_leaves_no_labels_behind(tmp_path):
    source = book(tmp_path / "week.xlsx", Scores=below(across(NAMES), [("Z1", "stored dry"), ("Z2", "stored damp")]))
    scores = pst.read_scores(source)
    assert met(scores)["lot"] == [*LOTS]
    assert scores.inferred["why"].str.contains("a note or legend, no scores: Z1").any()


def test_lots_without_a_mark_are_told(tmp_path):
    empty = [("K105", word) for word in WORDS]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=[*across(NAMES), *empty]))
    assert scores.inferred.set_index("what").loc["lots without a mark", "value"] == "K105"


def test_rows_of_an_absent_first_taster_are_no_key(tmp_path):
    absent = [("K105", WORDS[0], None, 5, 6, 7), ("K106", WORDS[1], None, 6, 7, 8)]
    rest = [("K105", WORDS[1], 4, 4, 4, 4), ("K106", WORDS[0], 4, 4, 4, 4)]
    scores = pst.read_scores(book(tmp_path / "week.xlsx", Scores=[*across(NAMES), *absent, *rest]))
    said = {(lot, name, word): m for lot, word, *line in absent for name, m in zip(NAMES, line, strict=True) if m}
    assert cells(scores).items() >= (named_truth(NAMES) | said).items()
