"""The picture of a map, on a page, in a notebook and in words; names that never lie on one another."""

import re
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.collections import PathCollection, PolyCollection
from matplotlib.patches import Ellipse
from openpyxl import load_workbook

import panelstats as pst
from panelstats.cli import main
from panelstats.lots.maps.plane import Oval, Plane, Side, Spot, Way
from panelstats.lots.maps.stageplanes import StagePlanes
from panelstats.report.charts.mapplane import bars_drawing, plane_drawing
from panelstats.report.charts.nudging import Name, stands
from panelstats.report.charts.stagerow import stage_row
from panelstats.report.pages.mapfigures import map_figures
from panelstats.report.pages.page import page_of
from panelstats.review import as_review
from tests import known
from tests.bench.made import cells_from_array


@pytest.fixture(scope="module")
def bench():
    return known.scores("bench")


@pytest.fixture(scope="module")
def found(bench):
    return pst.map_lots(bench, resamples=39, besides=False)


def plane(spots, ovals=(), **more):
    side = Side("60 %", "less brisk", "more brisk")
    told = {"name": "", "unit": ("point", "points"), "across": side, "up": side, "bars": (("brisk", 1.0, 0.0),),
            "dense": False, "notes": (), "footer": "", "words": "in words"}  # fmt: skip
    return Plane(spots=tuple(spots), ovals=tuple(ovals), **(told | more))


def spot(label, x, y, **more):
    return Spot(label, x, y, **({"named": True, "role": "", "group": 0, "asked": False} | more))


def circles(svg, kind="lot"):
    pattern = rf'<circle cx="([\d.-]+)" cy="([\d.-]+)" r="[\d.]+" class="{kind}"'
    return np.array(re.findall(pattern, str(svg)), float)


# --- the drawing


def test_one_unit_is_as_long_up_as_across_and_up_is_up():
    drawn = circles(plane_drawing(plane([spot("a", 0, 0), spot("b", 4, 0), spot("c", 0, 1)]), key="k").svg)
    a, b, c = drawn
    assert b[0] - a[0] == pytest.approx(4 * (a[1] - c[1]), abs=0.5)
    assert b[1] == a[1]
    assert c[1] < a[1]


def test_the_scale_bar_is_as_long_as_it_says():
    svg = str(plane_drawing(plane([spot("a", 0, 0), spot("b", 4, 0)]), key="k").svg)
    a, b = circles(svg)
    (length,) = re.findall(r"(\d[\d.]*) points?</text>", svg)
    (bar,) = re.findall(r"h-([\d.]+)m0 -3v6", svg)
    assert float(bar) / float(length) == pytest.approx((b[0] - a[0]) / 4, abs=0.2)


def test_a_region_stands_about_its_lot_and_turns_as_it_should():
    svg = str(plane_drawing(plane([spot("a", 0, 0), spot("b", 4, 0)], [Oval(0, 0, 1, 0.5, 30)]), key="k").svg)
    pattern = "<ellipse " + " ".join(rf'{name}="([\d.]+)"' for name in ("cx", "cy", "rx", "ry"))
    x, y, rx, ry, turn = map(float, re.findall(pattern + r' transform="rotate\(([\d.-]+)', svg)[0])
    a, b = circles(svg)
    assert [x, y] == pytest.approx(list(a))
    assert rx == pytest.approx((b[0] - a[0]) / 4, abs=0.1)
    assert ry == pytest.approx(rx / 2, abs=0.1)
    assert turn == -30  # a page counts down: a turn from axis 1 up to axis 2 is against the clock


def test_controls_the_standard_and_groups_differ_in_shape_and_all_are_read_out():
    spots = [spot("c", 0, 0, role="control"), spot("S", 1, 1, role="standard")]
    spots += [spot(f"g{n}", n, -n, group=n) for n in range(1, 7)]
    svg = str(plane_drawing(plane(spots), key="k").svg)
    assert 'class="ring"' in svg
    assert 'class="target"' in svg
    shapes = re.findall(r'd="M[\d. L-]+z" class="lot group-(\d)"', svg)
    assert shapes == ["2", "3", "4", "5", "6"]
    for label in ("c, control", "S, standard", "g1", "g6"):
        assert f"<title>{label}</title>" in svg
    assert '<desc id="kd">in words</desc>' in svg


def test_many_lots_are_density_and_only_those_named_are_drawn():
    rng = np.random.default_rng(0)
    spots = [spot(f"l{n}", *rng.normal(size=2), named=n < 3) for n in range(600)]
    svg = str(plane_drawing(plane(spots, dense=True), key="k").svg)
    assert len(circles(svg)) == 3
    darkest = [float(x) for x in re.findall(r'fill-opacity="([\d.]+)"', svg)]
    assert max(darkest) == 0.8
    assert 20 < len(darkest) < 600


def test_names_are_escaped_and_bars_point_the_way_of_their_sign():
    svg = str(plane_drawing(plane([spot("<b>5 & 6</b>", 0, 0), spot("b", 1, 1)]), key="k").svg)
    assert "&lt;b&gt;5 &amp; 6&lt;/b&gt;" in svg
    drawn = bars_drawing(plane([spot("a", 0, 0)], bars=(("up", 0.5, -1.0), ("down", -0.25, 0.0))), key="k")
    bars = re.findall(
        r'<rect x="([\d.]+)" y="[\d.]+" width="([\d.]+)" height="5" class="(loading[ a-z]*)"', str(drawn.svg)
    )
    middle = float(re.findall(r'd="M([\d.]+) 2V', str(drawn.svg))[0])
    (x1, w1, _), (x2, w2, kind), (x3, w3, _), _ = [(float(x), float(w), k) for x, w, k in bars]
    assert (x1, kind) == (middle, "loading second")
    assert x2 + w2 == pytest.approx(middle, abs=0.11)
    assert x3 + w3 == pytest.approx(middle, abs=0.11)
    assert (w2 / w1, w3 / w1) == pytest.approx((2, 0.5), abs=0.01)
    assert "up +0.50 and −1.00" in str(drawn.svg)


# --- names


points = st.lists(st.tuples(st.floats(0, 300), st.floats(0, 300), st.integers(5, 60)), min_size=1, max_size=40)


@given(points)
@settings(max_examples=60, deadline=None)
def test_names_never_lie_on_one_another_on_a_point_or_beyond_the_frame(some):
    names = [Name(x, y, w, first=False) for x, y, w in some]
    found = stands(names, [], radius=3, tall=11, bounds=(0, 0, 300, 300))
    assert found == stands(names, [], radius=3, tall=11, bounds=(0, 0, 300, 300))
    boxes = [(at.x, at.y - 5.5, at.x + n.width, at.y + 5.5) for n, at in zip(names, found, strict=True) if at]
    for k, (left, top, right, foot) in enumerate(boxes):
        assert min(left, top) >= 0
        assert max(right, foot) <= 300
        for a, b, c, d in boxes[k + 1 :]:
            assert right <= a or c <= left or foot <= b or d <= top
    for at, n in zip(found, names, strict=True):
        for other in names:
            if at and other is not n:
                clear = at.x >= other.x + 3 or at.x + n.width <= other.x - 3
                assert clear or at.y - 5.5 >= other.y + 3 or at.y + 5.5 <= other.y - 3


def test_where_names_would_collide_controls_come_first_and_then_the_outermost():
    names = [Name(100, 100, 90, first=False), Name(104, 100, 90, first=True), Name(100, 104, 90, first=False)]
    tight = stands(names, [], radius=3, tall=11, bounds=(0, 90, 200, 115))
    assert tight[1] is not None
    assert sum(each is None for each in tight) >= 1


# --- pages, notebook, command


def test_the_rooms_page_shows_a_map_of_each_class_and_its_words(bench):
    review = pst.review_session(bench)
    page = page_of(review).decode()
    assert page.count("Map of the lots, black") == 2
    assert "Which lots lie near one another" in page
    assert "map of black broken" in page
    assert "regions: 95 %, other tasters like these and other pots" in page


def test_a_room_in_which_nothing_differs_has_no_map_on_its_page():
    rng = np.random.default_rng(1)
    sheet = pst.example.bench().frame.copy()
    words = [name for name in sheet if sheet[name].dtype.kind == "f"]
    sheet[words] = np.clip(np.round(2 * rng.normal(5, 1, (len(sheet), len(words)))) / 2, 0, 10)
    review = pst.review_session(pst.read_scores(sheet))
    assert "Map" not in dict(review.results)


def test_a_map_is_drawn_in_a_notebook_with_one_unit_both_ways(found):
    ax = pst.draw(found)
    assert ax.get_aspect() == 1
    assert "black broken" in ax.get_title(loc="left")
    assert "more" in ax.get_xlabel()
    ellipses = [patch for patch in ax.patches if isinstance(patch, Ellipse)]
    mine = found.regions[found.regions["class"] == "black broken"]
    assert [e.width / 2 for e in ellipses] == pytest.approx(list(mine["long"]))
    drawn = next(c for c in ax.collections if isinstance(c, PathCollection) and len(c.get_offsets()) == 12)
    places = found.lots[found.lots["class"] == "black broken"][["axis_1", "axis_2"]].to_numpy()
    assert np.asarray(drawn.get_offsets()) == pytest.approx(places)
    assert {text.get_text() for text in ax.texts} <= set(found.lots["lot"])
    assert len(ax.texts) >= 10
    with pytest.raises(pst.DesignError, match="all descriptors at once"):
        pst.draw(found, "brisk")


def test_thousands_of_lots_are_drawn_as_density():
    rng = np.random.default_rng(0)
    marks = 5 + rng.normal(size=(520, 1, 3)) * 2 + 0.4 * rng.normal(size=(520, 4, 3))
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False)
    many = pst.map_lots(cells, resamples=19, besides=False, lots=["00007"])
    ax = pst.draw(many)
    assert any(isinstance(c, PolyCollection) for c in ax.collections)
    assert "00007" in {text.get_text() for text in ax.texts}
    assert page_of(as_review(many)).decode().count('class="density"') > 20


def test_one_axis_is_drawn_as_rows_with_intervals_and_on_a_page_too():
    rng = np.random.default_rng(2)
    marks = 5 + rng.normal(size=(8, 1, 1)) * 2 * np.ones(4) + 0.4 * rng.normal(size=(8, 6, 4))
    cells = cells_from_array(marks[:, :, None], np.isfinite(marks)[:, :, None], shared=False)
    line = pst.map_lots(cells, resamples=199, besides=False)
    ax = pst.draw(line)
    order = line.lots.sort_values("axis_1", ascending=False)["lot"]
    assert [text.get_text() for text in ax.get_yticklabels()] == list(order)
    assert "Lots along one axis" in page_of(as_review(line)).decode()


def test_a_control_is_joined_by_a_line_and_other_axes_are_named():
    way = Way("S", ((0.0, 0.0), (2.0, 1.0), (4.0, 0.0)))
    svg = str(plane_drawing(plane([spot("a", 0, 0), spot("b", 4, 0)], ways=(way,), axes=(1, 3)), key="k").svg)
    a, b = circles(svg)
    line = re.search(r'd="M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)" class="way"', svg)
    x0, y0, x1, y1, x2, y2 = map(float, line.groups())
    assert (x0, y0, x2, y2) == pytest.approx((*a, *b), abs=0.1)
    assert (x1 - x0, y0 - y1) == pytest.approx(((x2 - x0) / 2, (x2 - x0) / 4), abs=0.2)
    assert "S, session by session" in svg
    assert "axis 3 (60 %), up" in svg


def test_stages_stand_side_by_side_in_one_unit():
    places = (("dry leaf", ((0.0, 0.0), (3.0, 0.0))), ("liquor", ((0.0, 0.0), (1.0, 2.0))))
    svg = stage_row(StagePlanes("", ("a", "b"), places, "in words"), key="k").svg
    dots = circles(svg)
    assert len(dots) == 4
    unit = (dots[1] - dots[0])[0] / 3
    assert dots[3] - dots[2] == pytest.approx([unit, -2 * unit], abs=0.3)
    assert "dry leaf" in str(svg)
    assert "in words" in str(svg)


@pytest.fixture(scope="module")
def guessed_sheet(tmp_path_factory):
    rng = np.random.default_rng(2)
    marks = 5 + rng.normal(size=(12, 1, 2)) * 2 @ rng.normal(size=(2, 5)) + 0.3 * rng.normal(size=(12, 6, 5))
    lot, taster = np.indices((12, 6)).reshape(2, -1)
    sheet = pd.DataFrame({"lot": lot + 401, "taster": np.array(["elm", "yew", "fir", "ash", "oak", "bay"])[taster]})
    words = ["brisk", "bright", "body", "dull", "even"]
    sheet = sheet.join(pd.DataFrame(np.clip(marks[lot, taster], 0, 10).round(1), columns=words))
    sheet.loc[sheet["lot"] == 405, "body"] = np.nan
    path = tmp_path_factory.mktemp("guessed") / "week.csv"
    sheet.to_csv(path, index=False)
    return path


def test_a_place_that_is_a_guess_is_dashed_on_the_page_and_in_a_notebook(guessed_sheet):
    found = pst.map_lots(pst.read_scores(guessed_sheet), fill_in=True, resamples=39)
    page = page_of(as_review(found)).decode()
    assert page.count('class="region guessed"') == len(found.planes) > 0
    assert "405, in part filled in</title>" in page
    assert "in part filled in, as asked: a guess, which no region covers" in page
    plain = page_of(as_review(pst.map_lots(pst.read_scores(guessed_sheet), resamples=39))).decode()
    assert "in part filled in" not in plain
    assert "405, left out, put where its other marks would have it</title>" in plain
    assert 'class="region guessed"' not in plain
    assert "a lot left out, where the descriptors it was scored on would put it" in plain
    whole = page_of(as_review(pst.map_lots(known.scores("blends"), besides=False, resamples=39))).decode()
    assert "guessed" not in whole.split("</style>")[1]
    ax = pst.draw(found)
    assert [patch.get_linestyle() for patch in ax.patches].count("--") == 1
    hollow = [c for c in ax.collections if isinstance(c, PathCollection) and len(c.get_offsets()) == 1]
    place = found.lots.loc[found.lots["lot"] == "405", ["axis_1", "axis_2"]].to_numpy()
    assert any(np.asarray(c.get_offsets()) == pytest.approx(place) and c.get_facecolor()[0][0] == 1 for c in hollow)


def test_the_command_fills_in_only_when_asked(guessed_sheet, tmp_path, capsys):
    for name in ("one", "two"):
        (tmp_path / name).mkdir()
    assert main(["map", str(guessed_sheet), "--out", str(tmp_path / "one")]) == 0
    assert "Left out, a descriptor without any mark: 405" in (tmp_path / "one" / "week-map.html").read_text()
    assert main(["map", str(guessed_sheet), "--fill-in", "--out", str(tmp_path / "two")]) == 0
    assert "Filled in, as asked: 1 of 60 places (2 %)" in (tmp_path / "two" / "week-map.html").read_text()
    assert "filled" in " ".join(load_workbook(tmp_path / "two" / "week-map.xlsx").sheetnames).lower()
    capsys.readouterr()


def test_the_page_of_maps_shows_stages_that_the_room_s_page_leaves_out(bench):
    found = pst.map_lots(bench, resamples=39)
    assert found.stage_planes
    assert {"black broken, stage by stage"} <= {figure.name for figure in map_figures(found)}
    assert not any("stage" in figure.name for figure in map_figures(found, besides=False))


def test_the_command_writes_page_and_workbook_and_says_it_short(tmp_path, capsys):
    sheet = Path(__file__).parents[2] / "data" / "blends.xlsx"
    assert main(["map", str(sheet), "--standard", "S", "--lot", "B1", "--out", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert (tmp_path / "blends-map.html").exists()
    assert (tmp_path / "blends-map.xlsx").exists()
    assert "From S, the nearest first: B1" in out
    assert max(len(line) for line in out.splitlines() if str(tmp_path) not in line) <= 80
    page = (tmp_path / "blends-map.html").read_text()
    assert "Lots along one axis" in page
    assert main(["map", str(sheet), "--standard", "nothing"]) == 2
