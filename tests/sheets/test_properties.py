"""What holds for every sheet: it reads back exactly or names the planted cell, and the account adds up."""

import csv
import io
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

import panelstats as pst

from .messy import workbook

DESCRIPTORS = ["colour", "brightness", "strength", "briskness", "aroma"]
TASTERS = ["alder", "beech", "hornbeam", "larch"]
# A score in halves, or None where nothing was scored; what a blank looks like on the sheet is drawn apart.
marks = st.one_of(st.none(), st.integers(0, 20).map(lambda n: n / 2))
PROBLEMS = {
    "good": "not a number",
    "7-8": "a range, or two numbers in one cell",
    "7+": "not a number",
    "TRUE": "TRUE or FALSE where a score belongs",
    "#REF!": "an error cell",
    "5-Jul": "a date or time where a score belongs",
    "1E2": "a number in scientific notation",
}


@st.composite
def truths(draw):
    """A true table: {(lot, taster, descriptor): score or None}, at least two scores different from None."""
    lots = [str(100 + n) for n in sorted(draw(st.sets(st.integers(1, 99), min_size=3, max_size=5)))]
    tasters = TASTERS[: draw(st.integers(2, 4))]
    names = DESCRIPTORS[: draw(st.integers(2, 5))]
    keys = [(x, t, d) for x in lots for t in tasters for d in names]
    values = draw(st.lists(marks, min_size=len(keys), max_size=len(keys)))
    values[0] = values[0] or 5.0
    return lots, tasters, names, dict(zip(keys, values, strict=True))


def wide(lots, tasters, names, cell):
    return [["lot", "taster", *names], *([x, t, *(cell(x, t, d) for d in names)] for x in lots for t in tasters)]


def long(lots, tasters, names, cell):
    return [
        ["Lot No", "Assessor", "Attribute", "Score"],
        *([x, t, d, cell(x, t, d)] for x in lots for t in tasters for d in names),
    ]


def lots_across(lots, tasters, names, cell):
    return [["taster", "descriptor", *lots], *([t, d, *(cell(x, t, d) for x in lots)] for t in tasters for d in names)]


def tasters_across(lots, tasters, names, cell):
    return [["lot", "descriptor", *tasters], *([x, d, *(cell(x, t, d) for t in tasters)] for x in lots for d in names)]


def lots_over_tasters(lots, tasters, names, cell):
    top = ["Lot", *(x if i == 0 else "" for x in lots for i in range(len(tasters)))]
    low = ["Descriptor", *(t for _ in lots for t in tasters)]
    return [top, low, *([d, *(cell(x, t, d) for x in lots for t in tasters)] for d in names)]


LAYOUTS = [wide, long, lots_across, tasters_across, lots_over_tasters]


@st.composite
def styles(draw):
    """How the file is written: layout, encoding, delimiter, decimal sign, blanks, workbook or text."""
    decimal = draw(st.sampled_from(".,"))
    return {
        "layout": draw(st.sampled_from(LAYOUTS)),
        "book": draw(st.booleans()),
        "encoding": draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"])),
        "delimiter": draw(st.sampled_from(",;\t|" if decimal == "." else ";\t|")),
        "decimal": decimal,
        "end": draw(st.sampled_from(["\n", "\r\n", "\r"])),
        "blank": draw(st.sampled_from(["", "-", "n/a", "abs", "–"])),
        "title": draw(st.booleans()),
    }


def written(table, style, planted=None):
    """The bytes of a sheet, and its name; `planted` is (key, text) of one cell that is no score."""
    lots, tasters, names, truth = table

    def cell(*key):
        if planted and key == planted[0]:
            return planted[1]
        value = truth[key]
        if value is None:
            return style["blank"]
        return value if style["book"] else f"{value:g}".replace(".", style["decimal"])

    rows = style["layout"](lots, tasters, names, cell)
    rows = [["Tasting room"], [], *rows] if style["title"] else rows
    if style["book"]:
        return "sheet.xlsx", workbook({"s": rows})
    out = io.StringIO()
    csv.writer(out, delimiter=style["delimiter"], lineterminator=style["end"]).writerows(rows)
    return "sheet.csv", out.getvalue().encode(style["encoding"])


def read(name, data, **kwargs):
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        return pst.read_scores(path, **kwargs)


def scores_of(scores):
    labels = [scores.frame[k].astype(str) for k in ("lot", "taster", "descriptor")]
    return dict(zip(zip(*labels, strict=True), scores.frame["score"], strict=True))


def adds_up(scores):
    parts = scores.account.drop(columns=["file", "sheet", "seen"])
    assert (scores.account["seen"] == parts.sum(axis=1)).all()
    assert scores.account["scores"].sum() == len(scores)


SLOW = settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    phases=[Phase.explicit, Phase.reuse, Phase.generate],
)


@SLOW
@given(truths(), styles())
def test_any_table_in_any_style_reads_back_exactly(table, style):
    scores = read(*written(table, style))
    truth = {key: value for key, value in table[3].items() if value is not None}
    assert scores_of(scores) == truth
    adds_up(scores)
    assert scores.account["seen"].sum() == len(table[3])
    assert scores.account["blanks"].sum() == len(table[3]) - len(truth)


@SLOW
@given(truths(), styles(), st.sampled_from(sorted(PROBLEMS)), st.integers(0, 10_000))
def test_a_planted_problem_is_named_and_nothing_else_is_lost(table, style, text, which):
    # The first score stays, so that something is left to read; many words in few rows would make a column of words.
    keys = list(table[3])[1:]
    full = {k: (5.0 if v is None else v) for k, v in table[3].items()}
    table = (*table[:3], full)
    key = keys[which % len(keys)]
    name, data = written(table, style, (key, text))
    with pytest.raises(pst.SheetError) as caught:
        read(name, data)
    (found,) = caught.value.problems.to_dict("records")
    shown = "" if style["book"] and text == "#REF!" else text  # the reader of workbooks shows error cells as empty
    assert (found["value"], found["reason"]) == (shown, PROBLEMS[text])
    scores = read(name, data, set_aside=True)
    assert scores_of(scores) == {k: v for k, v in full.items() if k != key}
    assert scores.account["set_aside"].sum() == 1
    adds_up(scores)


@SLOW
@given(truths(), st.randoms(use_true_random=False))
def test_the_order_of_rows_and_columns_changes_no_score(table, random):
    rows = wide(*table[:3], lambda *key: table[3][key])
    body = rows[1:]
    random.shuffle(body)
    order = list(range(len(rows[0])))
    random.shuffle(order)
    frame = pd.DataFrame(body, columns=rows[0]).iloc[:, order]
    assert scores_of(pst.read_scores(frame)) == {k: v for k, v in table[3].items() if v is not None}


@settings(SLOW, max_examples=8)
@given(truths())
def test_written_scores_read_back(table):
    rows = wide(*table[:3], lambda *key: table[3][key])
    scores = pst.read_scores(pd.DataFrame(rows[1:], columns=rows[0]))
    with tempfile.TemporaryDirectory() as folder:
        scores.to_csv(Path(folder) / "long.csv")
        again = pst.read_scores(Path(folder) / "long.csv")
    assert scores_of(again) == scores_of(scores)


@settings(SLOW, max_examples=5)
@given(st.integers(1, 4), st.integers(0, 2**32 - 1))
def test_cells_of_files_add_to_the_cells_of_the_folder(files, seed):
    rng = np.random.default_rng(seed)
    with tempfile.TemporaryDirectory() as folder:
        for n in range(files):
            lots = [*rng.choice(np.arange(100, 120), 4, replace=False).astype(str), "control"]
            frame = pd.DataFrame(
                [(x, t, p) for x in lots for t in TASTERS for p in (1, 2)], columns=["lot", "taster", "pot"]
            )
            frame[["colour", "strength"]] = rng.integers(0, 21, (len(frame), 2)) / 2
            frame.to_csv(Path(folder) / f"week {n + 1}.csv", index=False)
        whole, stream = pst.read_scores(folder).cells(), pst.read_cells(folder)
    keys = ["session", "lot", "taster", "brew", "descriptor"]
    tables = [
        c.frame.astype(dict.fromkeys(set(keys) - {"brew"}, str)).sort_values(keys, ignore_index=True)
        for c in (whole, stream)
    ]
    pd.testing.assert_frame_equal(*tables)
    assert sorted(whole.lots["lot"]) == sorted(stream.lots["lot"])
