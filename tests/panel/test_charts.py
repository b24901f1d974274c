"""Charts of tasters and trainees carry the numbers of the tables, and point the way the estimates lie."""

import numpy as np
import pytest

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.panel.training.traineecharts import progress_chart
from panelstats.result import Mark, mark_by_limits
from tests.panel.sheets import NAMES, scores_of
from tests.panel.test_columns import one, room, trained

ASPECTS = {"level": "level", "repeats": "repeatability", "telling lots apart": "discrimination",
           "order of the lots": "agreement", "use of the scale": "scale_use", "straying": "scatter"}  # fmt: skip
ENDS = ("low", "high", "floor", "ceiling")


def assess(beech):
    """Beech lies so far from the others on word 1."""
    y = room(25, 6, 2, 2, noise=0.4, seed=3)
    y[:, 1, :, 0] += beech
    return pst.assess_tasters(scores_of(y), tolerance=0.5)


@pytest.fixture(scope="module")
def assessed():
    return assess(2.0)


def same(row, line):
    assert [row.value, *(getattr(row, k) for k in ENDS)] == pytest.approx(
        [line["estimate"], *(line[k] for k in ENDS)], nan_ok=True
    )


def shape(line):
    if not line["call"]:
        return None
    if line["call"] != "apart":
        return Mark.WITHIN if line["call"] == "with the panel" else Mark.OPEN
    if line["aspect"] == "level" and not line["descriptor"]:
        return Mark.APART
    return Mark.HIGHER if line["estimate"] > line["ceiling"] else Mark.LOWER


@pytest.mark.parametrize("word", [None, "word 1", "word 2"])
def test_the_tasters_stand_in_a_row_each_with_a_column_for_each_aspect(assessed, word):
    chart = assessed.chart(word)
    assert [row.label for row in chart.rows] == list(NAMES[:6])
    for column in chart.columns:
        for row, name in zip(column.rows, NAMES, strict=False):
            line = one(assessed.table, taster=name, aspect=ASPECTS[column.title], descriptor=word or "")
            same(row, line)
            assert row.mark == shape(line)
            assert row.note == line["call"]
    calls = [[column.rows[at].note for column in chart.columns] for at in range(6)]
    for row, some in zip(chart.rows, calls, strict=True):
        assert row.note == next(call for call in ("apart", "cannot tell", "with the panel") if call in some)
    assert [column.zero for column in chart.columns[:2]] == [0, 1]


def test_a_taster_who_is_apart_on_one_aspect_points_its_way(assessed):
    for found, way in ((assessed, 1), (assess(-2.0), -1)):
        words = found.chart(taster="beech")
        assert [row.label for row in words.rows] == ["over all descriptors", "word 1", "word 2"]
        level = words.columns[0]
        assert level.title == "level"
        assert level.rows[1].mark == (Mark.HIGHER if way > 0 else Mark.LOWER)
        assert level.rows[1].value * way > 1.5
        assert (words.rows[1].mark, words.rows[1].note) == (level.rows[1].mark, "apart")
        sole = found.chart("word 2", taster="beech")
        assert [row.label for row in sole.rows] == ["word 2"]


def test_trainees_have_their_levels_slopes_and_spreads_with_tolerances():
    y = room(24, 4, 2, 2, seed=5, noise=0.4)
    y[:, 0, :, 1] += 2
    found = trained(y, 3)
    chart = found.chart()
    table = found.table
    level, slope, spread, reach = chart.columns
    for at, line in enumerate(table.to_dict("records")):
        for column, names, floor, ceiling in (
            (level, ("difference", "low", "high"), -0.5, 0.5),
            (slope, ("slope", "slope_low", "slope_high"), 2 / 3, 3 / 2),
            (spread, ("spread", "spread_low", "spread_high"), -np.inf, 1.5),
        ):
            row = column.rows[at]
            assert [row.value, row.low, row.high] == pytest.approx([line[k] for k in names])
            assert (row.floor, row.ceiling) == pytest.approx((floor, ceiling))
            assert row.mark == mark_by_limits(row.low, row.high, floor, ceiling)
        limits = one(found.limits, descriptor=line["descriptor"])
        row = reach.rows[at]
        assert [row.value, row.low, row.high, row.ceiling, row.floor] == pytest.approx(
            [limits[k] for k in ("difference", "limit_low", "limit_high", "seniors_reach")] + [-limits["seniors_reach"]]
        )
        assert row.mark is None
    assert level.rows[1].mark == Mark.HIGHER
    assert [row.note for row in chart.rows] == table["call"].tolist()
    line = progress_chart(found, NAMES[0])
    assert [row.value for row in line.rows] == pytest.approx(found.curve["ratio"].tolist())
    for name in ("low", "high"):
        assert [getattr(row, name) for row in line.rows] == pytest.approx(found.curve[name].tolist())
    assert progress_chart(trained(y, 1), NAMES[0]) is None


@pytest.mark.parametrize(("low", "high", "mark"), [
    (-0.4, 0.4, Mark.WITHIN), (0.6, 0.9, Mark.HIGHER), (-0.9, -0.6, Mark.LOWER), (-0.6, 0.4, Mark.OPEN),
    (-0.4, 0.6, Mark.OPEN), (np.nan, np.nan, Mark.OPEN)])  # fmt: skip
def test_a_mark_by_limits_says_where_the_interval_lies(low, high, mark):
    assert mark_by_limits(low, high, -0.5, 0.5) == mark


def test_agreement_is_drawn_by_the_share_of_the_mean_from_none_to_all():
    found = pst.panel_agreement(scores_of(room(15, 5, 2, 2)))
    chart = found.chart()
    assert chart.ends == (0.0, 1.0)
    for row, line in zip(chart.rows, found.table.to_dict("records"), strict=True):
        assert row.label == line["descriptor"]
        assert [row.value, row.low, row.high] == pytest.approx(
            [line["icc_mean"], line["icc_mean_low"], line["icc_mean_high"]]
        )
        assert row.mark == {"agree": Mark.WITHIN, "apart": Mark.LOWER}.get(line["call"], Mark.OPEN)
    with pytest.raises(DesignError, match="no such descriptor"):
        found.chart("word 9")
