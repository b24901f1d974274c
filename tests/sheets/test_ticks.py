"""Forms to tick: the score is the number over the tick; asked where the numbers may be something else."""

from __future__ import annotations

from random import Random

import pytest

import panelstats as pst
from tests.habits.answering import again
from tests.sheets.forms import LOTS, NAMES, WORDS, answered, book, cells, questions

SCALES = {"1-5": (1, 2, 3, 4, 5), "0-10": tuple(range(11)), "1-7": tuple(range(1, 8)), "9-1": tuple(range(9, 0, -1))}


def given(scale, *labels):
    return Random(" ".join(labels)).choice(scale)


def ticked(scale, sign, *labels):
    score = given(scale, *labels)
    return [sign if number == score else None for number in scale]


def truth(scale):
    return {(lot, name, word): float(given(scale, lot, name, word)) for lot in LOTS for name in NAMES for word in WORDS}


def tabs(scale, sign):
    return {
        name: [("Taster:", name), (), ("Lot", "Descriptor", *scale)]
        + [(lot, word, *ticked(scale, sign, lot, name, word)) for lot in LOTS for word in WORDS]
        for name in NAMES
    }


def columns(scale, sign):
    rows = [(t, lot, w, *ticked(scale, sign, lot, t, w)) for lot in LOTS for t in NAMES for w in WORDS]
    return {"Form": [("Taster", "Lot", "Descriptor", *scale), *rows]}


def blocks(scale, sign):
    made = {}
    for name in NAMES:
        made[name] = []
        for lot in LOTS:
            made[name] += [("Lot", lot, None, "Taster", name), ("", *scale)]
            made[name] += [*((word, *ticked(scale, sign, lot, name, word)) for word in WORDS), ()]
    return made


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize(("form", "sign"), [(tabs, "x"), (columns, "✓"), (blocks, "X"), (tabs, "•")])
def test_the_score_is_the_number_over_the_tick(tmp_path, form, sign, scale):
    source = book(tmp_path / "form.xlsx", **form(SCALES[scale], sign))
    assert cells(pst.read_scores(source)) == truth(SCALES[scale])
    assert not again(source, tmp_path)


def test_two_ticks_are_a_problem_and_none_is_no_score(tmp_path):
    form = columns((1, 2, 3, 4, 5), "x")
    rows = [[*row] for row in form["Form"]]
    rows[4][3:] = [None] * 5
    source = book(tmp_path / "none.xlsx", Form=rows)
    assert len(pst.read_scores(source).frame) == len(rows) - 2
    rows[7][3:5] = "xx"
    with pytest.raises(pst.SheetError, match=r"two ticks in one row(.|\n)*row 8"):
        pst.read_scores(book(tmp_path / "two.xlsx", Form=rows))


def test_numbers_that_may_be_lots_are_asked_about(tmp_path):
    rows = [("Taster", *range(1, 6)), *((name, *ticked((1, 2, 3, 4, 5), "x", name)) for name in NAMES)]
    source = book(tmp_path / "faults.xlsx", Faulty=rows)
    assert questions(source)["what"].str.startswith("What are the numbers over the ticks").any()
    with pytest.raises(pst.SheetError, match="ticks under numbers"):
        pst.read_scores(source)


def test_ticks_that_come_several_to_a_row_are_no_scale(tmp_path):
    rows = [("Lot", "Taster", 1, 2, 3, 4), *((lot, name, "x", "x", None, "x") for lot in LOTS for name in NAMES)]
    assert not questions(book(tmp_path / "words.xlsx", Scores=rows))["what"].str.contains("over the ticks").any()
    with pytest.raises(pst.SheetError):
        pst.read_scores(tmp_path / "words.xlsx")


def test_blocks_for_each_descriptor_are_named_by_the_line_above(tmp_path):
    scale = (1, 2, 3, 4, 5)
    rows = []
    for word in WORDS:
        rows += [(word,), ("Lot", "Taster", *scale)]
        rows += [*((lot, name, *ticked(scale, "x", lot, name, word)) for lot in LOTS for name in NAMES), ()]
    assert cells(answered(book(tmp_path / "form.xlsx", Form=rows), {})) == truth(scale)
