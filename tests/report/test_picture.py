import re
from dataclasses import replace

import numpy as np
import pytest
from invented import review

from panelstats.lots.compare.fit import LotComparison
from panelstats.lots.faults.fit import FaultsNoticed
from panelstats.report.charts.picture import lot_charts, picture
from panelstats.result import Act, Verdict


def drawn(made):
    return picture(made, lot_charts(made))


def names_in(svg):
    (group,) = re.findall(r'<g class="names".*?</g>', svg)
    return re.findall(r"<text[^>]*>([^<]*)</text>", group)


def test_the_descriptor_that_tells_the_lots_apart_most_comes_first():
    made = review(descriptors=6)
    shares = made.find(LotComparison).components.query("source == 'lot'").set_index("descriptor")["share"]
    order = [shares[panel.descriptor] for panel in drawn(made)]
    assert order == sorted(order, reverse=True)


def test_lots_stand_highest_first_and_faulty_ones_above_them():
    made = review(lots=12, descriptors=1, faults=2)
    (panel,) = drawn(made)
    means = made.find(LotComparison).means.sort_values("deviation", ascending=False)["lot"].tolist()
    faulty = made.find(FaultsNoticed).table["lot"].tolist()
    wanted = [x for x in means if x in faulty] + [x for x in means if x not in faulty]
    assert names_in(panel.drawing.svg)[:12] == wanted


def test_every_lot_has_a_dot_and_an_interval():
    (panel,) = drawn(review(lots=40, tasters=2, descriptors=1, faults=0))
    assert panel.drawing.svg.count('class="dot"') == panel.drawing.svg.count('class="interval unjudged"') == 40


def test_of_many_lots_only_the_ends_of_a_class_are_shown_and_the_rest_counted():
    made = review(lots=300, descriptors=1, faults=0)
    (panel,) = drawn(made)
    order = made.find(LotComparison).means.sort_values("deviation", ascending=False)["lot"].tolist()
    assert names_in(panel.drawing.svg) == [*order[:4], "292 between", *order[-4:]]
    assert panel.drawing.svg.count('class="dot"') == 8


def test_every_faulty_lot_stands_on_top_however_many_there_are():
    made = review(lots=300, descriptors=1, faults=30, classes=2)
    (panel,) = drawn(made)
    faulty = set(made.find(FaultsNoticed).table["lot"])
    assert set(names_in(panel.drawing.svg)[: len(faulty)]) == faulty
    assert panel.drawing.svg.count('class="fault"') == len(faulty) == 30


def test_a_lot_that_is_asked_for_is_shown_among_many():
    made = review(lots=300, descriptors=1, faults=0)
    lots = made.find(LotComparison)
    middle = lots.means.sort_values("deviation")["lot"].iloc[150]
    asked = Verdict("?", middle, "cannot tell", "...", {}, "Taste it again.", Act.TASTE_AGAIN)
    more = replace(lots, verdicts=(*lots.verdicts, asked))
    results = tuple((title, more if result is lots else result) for title, result in made.results)
    (panel,) = drawn(replace(made, results=results))
    assert middle in names_in(panel.drawing.svg)
    assert panel.drawing.svg.count('class="again"') == 1


def test_where_no_interval_is_known_none_is_drawn_and_it_is_said():
    (panel,) = drawn(review(lots=5, descriptors=1, unknown=True))
    assert "interval" not in re.findall(r'class="([^"]*)"', panel.drawing.svg)
    assert "interval not known" in panel.words


def test_the_words_and_the_drawing_come_from_the_same_rows():
    made = review(lots=12, descriptors=1, faults=1)
    (panel,) = drawn(made)
    best = made.find(LotComparison).means.loc[made.find(LotComparison).means["deviation"].idxmax(), "lot"]
    assert panel.words.split("Highest: ")[1].startswith(f"{best} +")
    assert f"A fault was noticed in {made.find(FaultsNoticed).table['lot'][0]}" in panel.words
    assert panel.words in panel.drawing.svg


def test_one_lot_is_not_drawn_but_told():
    (panel,) = drawn(review(lots=1, descriptors=1, faults=0))
    assert panel.drawing is None
    assert "nothing to compare it with" in panel.words


def test_a_call_on_one_class_is_not_spread_over_all():
    made = review(lots=12, descriptors=1, classes=2)
    (panel,) = drawn(made)
    calls = [text for _, text in panel.answers]
    assert calls in (["differ in 1 of 2 classes", "cannot tell in 1 of 2 classes"], ["cannot tell"])


def test_panels_on_one_scale_share_its_reach():
    made = review(lots=6, descriptors=3)
    zeros = [
        re.search(r'<text x="([\d.]+)" y="[\d.]+">\+1</text>', panel.drawing.svg).group(1) for panel in drawn(made)
    ]
    assert len(set(zeros)) == 1


@pytest.mark.parametrize("column", ["deviation"])
def test_a_lot_without_a_mean_is_left_out_of_the_drawing(column):
    made = review(lots=4, descriptors=1, faults=0)
    made.find(LotComparison).means.loc[0, column] = np.nan
    (panel,) = drawn(made)
    assert "3 lots" in panel.words
