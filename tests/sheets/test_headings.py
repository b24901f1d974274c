"""Headings are read as products of what they name, in any order, or asked about."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from openpyxl import Workbook

import panelstats as pst
from panelstats.sheets.content.labels import near_misses, same
from panelstats.sheets.tables.headings import factored

from .messy import DESCRIPTORS, LOTS, TASTERS, TRUE, delimited
from .test_messy import found

AXES = {"lot": LOTS, "taster": TASTERS, "descriptor": DESCRIPTORS}


def score(**at):
    return TRUE[at["lot"], at["taster"], at["descriptor"]]


@pytest.mark.parametrize("down", list(AXES))
@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("once", [False, True])
def test_two_rows_of_headings_over_any_key(down, turned, once, tmp_path):
    upper, lower = [a for a in AXES if a != down][:: -1 if turned else 1]
    heads = list(itertools.product(AXES[upper], AXES[lower]))
    top = [u if not once or n == 0 or heads[n - 1][0] != u else "" for n, (u, _) in enumerate(heads)]
    rows = [["", *top], [down, *(low for _, low in heads)]]
    rows += [[x, *(score(**{down: x, upper: u, lower: low}) for u, low in heads)] for x in AXES[down]]
    path = tmp_path / "sheet.csv"
    path.write_bytes(delimited(rows))
    assert found(pst.read_scores(path)) == TRUE


@pytest.mark.parametrize("pattern", ["{d} {t}", "{t}-{d}", "{d} ({t})", "{t}: {d}", "{d}/{t}", "{d}_{t}"])
def test_two_things_in_one_heading(pattern, tmp_path):
    heads = list(itertools.product(DESCRIPTORS, TASTERS))
    rows = [["lot", *(pattern.format(d=d, t=t) for d, t in heads)]]
    rows += [[x, *(TRUE[x, t, d] for d, t in heads)] for x in LOTS]
    path = tmp_path / "sheet.csv"
    path.write_bytes(delimited(rows))
    assert found(pst.read_scores(path)) == TRUE


names = st.lists(st.text("abcdefgh", min_size=2, max_size=6), min_size=2, max_size=4, unique=True)


@given(names, names, st.sampled_from([" ", "-", ": ", "/", "_"]))
def test_every_full_product_of_words_factors(left, right, sign):
    labels = [f"{a}{sign}{b}" for a in left for b in right]
    pairs = [(tuple(x.labels), tuple(y.labels)) for x, y in factored(labels)]
    assert (tuple(a for a in left for _ in right), tuple(b for _ in left for b in right)) in pairs or set(left) & set(
        right
    )


@pytest.mark.parametrize(
    ("a", "b", "one"),
    [
        ("Upper\u2011Brallow", "upper-brallow", True), ("\uff14\uff11\uff12", "412", True),
        ("O\u2019Elm", "o'elm", True),
        ("el\u200bm", "elm", True), ("\u0664\u0661\u0662", "412", True), ("elm-a", "elm a", False),
        ("412\u00b2", "4122", False),
    ],
)  # fmt: skip
def test_one_name_so_spelt_is_one_person(a, b, one):
    assert (same(a) == same(b)) == one


@pytest.mark.parametrize(
    ("a", "b", "near"),
    [
        ("alder", "aldr", True), ("411", "41l", True), ("402", "4O2", True), ("elm-a", "elm/a", True),
        ("brisk", "briks", True),
        ("alder", "\u0430lder", True), ("411", "412", False), ("T1", "T2", False), ("AB", "AC", False),
        ("0412", "412", True),
        ("beech", "larch", False), ("jose", "jos\u00e9", True),
    ],
)  # fmt: skip
def test_near_misses_are_found_and_names_that_differ_in_digits_are_not(a, b, near):
    assert bool(near_misses([a, b])) == near


@pytest.mark.parametrize(
    ("labels", "product"),
    [
        (["Brisk AB", "Body AB", "Brisk CD", "Body CD"], True),
        (["Brisk AB", "Body AB", "Brisk CD"], True),  # three of four
        (["Brisk AB", "Body AB", "Brisk CD", "Dull EF"], False),  # four of nine
        (["Brisk AB", "Body CD"], False),  # two of four
    ],
)
def test_joined_headings_are_a_product_where_three_in_four_of_it_are_there(labels, product):
    assert bool(factored(labels)) == product


def test_blocks_without_a_gap_are_told_by_the_line_over_each_heading(tmp_path):
    heads, panel = ["Lot", "Brisk", "Body"], ("alder", "elm")
    book = Workbook()
    for m, who in enumerate(panel):
        for row in (["Taster:", who], heads, *([f"L{n}", n + m, 5 + m] for n in range(1, 5))):
            book.active.append(row)
    book.save(tmp_path / "week.xlsx")
    frame = pst.read_scores(tmp_path / "week.xlsx").frame
    mean = frame[frame["descriptor"] == "Brisk"].groupby("taster", observed=True)["score"].mean()
    assert mean.to_dict() == {"alder": 2.5, "elm": 3.5}


def over_facts(tmp_path, labels):
    """Lots across, their grade over them, and over that a row of labels without a name."""
    path = tmp_path / "week.csv"
    path.write_text(f",{labels}\nGrade,BOP,BOP,PD,PD\nLot,411,412,413,414\nbrisk,5,7,6,6\nbody,6,7,6,5\n")
    return path


def test_labels_over_rows_of_facts_are_headings_like_others(tmp_path):
    scores = pst.read_scores(over_facts(tmp_path, "week 1,week 1,week 2,week 2"))
    of = dict(zip(scores.frame["lot"].astype(str), scores.frame["session"].astype(str), strict=True))
    assert of == {"411": "week 1", "412": "week 1", "413": "week 2", "414": "week 2"}
    assert scores.lots["grade"].tolist() == ["BOP", "BOP", "PD", "PD"]
    with pytest.raises(pst.SheetError, match="headings over groups of lots, and nothing tells what they name"):
        pst.read_scores(over_facts(tmp_path, "north,south,north,south"))


def test_a_row_of_labels_that_goes_with_no_heading_is_told(tmp_path):
    path = tmp_path / "week.csv"
    path.write_text(",red,red,blue\nStage,liquor,liquor,liquor\nLot,411,412,413\nbrisk,5,7,6\nbody,6,7,6\n")
    scores = pst.read_scores(path)
    assert len(scores) == 6
    told = "a row of labels over the headings, and nothing tells what they name"
    assert f"headings red, blue of week.csv left out: {told}." in scores.said
