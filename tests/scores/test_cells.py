"""Cells are what pandas' grouped count, mean and sum of squares give; parts add up; rounding takes no digit."""

import dataclasses
from itertools import product

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import panelstats as pst
from panelstats.errors import DesignError
from panelstats.scores.cells import cells_from

CELL = ["session", "lot", "taster", "brew", "descriptor"]


def sheet(seed=0, *, looks=2, far=0.0):
    """Two sessions, two classes of lots, two stages; two pots a lot and several looks; some left out."""
    rng = np.random.default_rng(seed)
    rows = pd.MultiIndex.from_product(
        [["w1", "w2"], ["a", "b", "c", "d"], ["elm", "larch", "yew"], [1, 2], range(1, looks + 1)],
        names=["session", "lot", "taster", "pot", "look"],
    ).to_frame(index=False)
    rows["lot"] = rows["session"] + rows["lot"]
    for word in ("leaf", "brisk", "body"):
        rows[word] = far + np.round(rng.normal(5, 1, len(rows)), 1)
    rows.loc[rng.random(len(rows)) < 0.15, "brisk"] = np.nan
    return rows


ROOM = {
    "lots": pd.DataFrame({"lot": [w + k for w in ("w1", "w2") for k in "abcd"], "class": ["x", "x", "y", "y"] * 2}),
    "descriptors": pd.DataFrame({"descriptor": ["leaf", "brisk", "body"], "stage": ["dry leaf", "liquor", "liquor"]}),
    "tasters": pd.DataFrame({"taster": ["elm", "larch", "yew"], "role": ["senior", "senior", "trainee"]}),
}
POTS = {"dry leaf": "same", "liquor": "shared"}


def read(table, **rooms):
    return pst.read_scores(table, room=ROOM | rooms)


def grouped(table, shared=("brisk", "body")):
    long = table.melt(["session", "lot", "taster", "pot", "look"], var_name="descriptor", value_name="score").dropna()
    long["brew"] = long["pot"].where(long["descriptor"].isin(shared), 0)
    return long.groupby(CELL)["score"].agg(looks="size", mean="mean", within_ss=lambda y: ((y - y.mean()) ** 2).sum())


def of(cells):
    frame = cells.frame.astype({name: str for name in CELL if name != "brew"})
    return frame.set_index(CELL).sort_index()


def same(cells, wanted, rtol=1e-12):
    found = of(cells)
    assert found.index.tolist() == wanted.sort_index().index.tolist()
    for name in ("looks", "mean", "within_ss"):
        np.testing.assert_allclose(found[name], wanted.sort_index()[name], rtol=rtol, atol=1e-12)


def test_cells_are_pandas_grouped_counts_means_and_sums_of_squares():
    table = sheet()
    same(read(table).cells(pots=POTS), grouped(table))
    same(read(table).cells(pots="shared"), grouped(table, shared=("leaf", "brisk", "body")))
    same(read(table).cells(pots="own"), grouped(table, shared=()))


def test_brews_taken_together_are_the_cells_without_them():
    table = sheet(1)
    same(read(table).cells(pots="shared").over_brews(), grouped(table, shared=()))
    same(cells_from(read(table).cells(pots="shared"), "own"), grouped(table, shared=()))
    same(cells_from(read(table).cells(pots="shared"), POTS), grouped(table))
    with pytest.raises(DesignError, match="no longer know"):
        cells_from(read(table).cells(pots="own"), "shared")
    whole = read(table).cells(pots="shared")
    assert cells_from(whole, None) is whole


def test_cells_of_parts_add_to_the_cells_of_the_whole():
    table = sheet(2)
    first, second = table[table["look"] == 1], table[table["look"] == 2]
    pots = pd.DataFrame({"session": ["w1", "w2"], "pots": "shared"})
    parts = [read(part.drop(columns="look"), sessions=pots).cells() for part in (first, second)]
    added = parts[0] + parts[1]
    same(added, grouped(table, shared=("leaf", "brisk", "body")))
    assert len(added.lots) == 8
    assert len(added.tasters) == 3
    assert sorted(added.digest.split("+")) == sorted(part.digest for part in parts)


WHOLE = read(sheet(5)).cells()
DOUBLE = dataclasses.replace(WHOLE, frame=pd.concat([WHOLE.frame, WHOLE.frame.assign(mean=WHOLE.frame["mean"] + 1)]))


@settings(max_examples=6, deadline=None)  # each joins whole registers
@given(st.integers(0, 2**32 - 1))
def test_it_does_not_matter_in_which_order_parts_are_joined(seed):
    part = np.random.default_rng(seed).integers(0, 3, len(DOUBLE.frame))
    a, b, c = (dataclasses.replace(DOUBLE.where(part == n), digest=str(n)) for n in range(3))
    left, right = (a + b) + c, a + (b + c)
    same(left, of(right))
    same(left, of(WHOLE + dataclasses.replace(WHOLE, frame=DOUBLE.frame[len(WHOLE) :])))
    assert left.digest == right.digest
    for name in ("sessions", "lots", "descriptors", "tasters", "pots"):
        pd.testing.assert_frame_equal(getattr(left, name), getattr(right, name))


def test_whole_sessions_join_to_the_last_bit():
    by_day = [WHOLE.select(session=day) for day in ("w1", "w2")]
    pd.testing.assert_frame_equal(of(by_day[0] + by_day[1]), of(WHOLE), check_exact=True)


@pytest.mark.parametrize(("name", "key", "column"), [("lots", "lot", "role"), ("descriptors", "descriptor", "stage"),
                                                     ("tasters", "taster", "role")])  # fmt: skip
def test_registers_that_contradict_each_other_are_refused(name, key, column):
    register = getattr(WHOLE, name).copy()
    one, two, blank = (register.assign(**{column: [word, *register[column].astype(str)[1:]]})
                       for word in ("control", "standard", ""))  # fmt: skip
    first, second, silent = (dataclasses.replace(WHOLE, **{name: table}) for table in (one, two, blank))
    with pytest.raises(DesignError, match="registers contradict each other") as told:
        first + second
    assert str(register[key].iloc[0]) in str(told.value)
    assert len(first + silent) == len(WHOLE)


def test_scores_far_from_nought_lose_no_digit():
    """The idea of NIST StRD SmLs09: differences of a tenth beside a million."""
    near, far = sheet(3), sheet(3, far=1e6)
    a, b = of(read(near).cells(pots="own").over_brews()), of(read(far).cells(pots="own").over_brews())
    np.testing.assert_allclose(a["within_ss"], b["within_ss"], rtol=1e-6, atol=1e-8)
    grids = [next(iter(read(t).cells(pots="own").grids())) for t in (near, far)]
    away = [grid.centred - grid.centred[0, 0, 0] for grid in grids]
    np.testing.assert_allclose(away[0], away[1], atol=1e-8)


def test_equal_looks_have_no_spread_at_all():
    table = pd.DataFrame({"lot": "a", "taster": "elm", "pot": range(1, 7), "brisk": 0.1 + 0.2})
    table = pd.concat([table, table.assign(lot="b", brisk=0.7)])
    found = pst.read_scores(table).cells(pots="own").frame
    assert (found["within_ss"] == 0).all()
    assert found["looks"].tolist() == [6, 6]


def test_a_grid_holds_the_cells_of_one_session_and_class():
    table = sheet(4)
    cells = read(table).cells(pots=POTS)
    grids = list(cells.grids())
    assert [(grid.session, grid.lot_class) for grid in grids] == [("w1", "x"), ("w1", "y"), ("w2", "x"), ("w2", "y")]
    wanted = grouped(table)
    for grid in grids:
        assert list(grid.lots) == [grid.session + k for k in ("ab" if grid.lot_class == "x" else "cd")]
        words = dict(zip(grid.descriptors, grid.pots, strict=True))
        assert words == {"leaf": "same", "brisk": "shared", "body": "shared"}
        every = product(enumerate(grid.lots), enumerate(grid.tasters), enumerate(grid.descriptors))
        for (i, lot), (j, taster), (d, word) in every:
            mine = wanted.loc[(grid.session, lot, taster)].xs(word, level="descriptor")
            for brew, row in mine.iterrows():
                at = (i, j, brew, d)  # brews 0, 1 and 2 of each lot
                assert grid.looks[at] == row["looks"]
                assert grid.mean[at] == pytest.approx(row["mean"])
                assert grid.centred[at] == pytest.approx(row["mean"] - grid.offset[d])
            looks, mean, ss = (part[i, j, d] for part in grid.over_brews())
            marks = table[(table["lot"] == lot) & (table["taster"] == taster)][word].dropna()
            assert (looks, mean, ss) == pytest.approx((len(marks), marks.mean(), marks.var(ddof=0) * len(marks)))
        few = grid.take_descriptors(np.array([1]))
        assert list(few.descriptors) == [grid.descriptors[1]]
        np.testing.assert_array_equal(few.mean[..., 0], grid.mean[..., 1])


def test_a_pot_that_was_never_tasted_leaves_no_gap_in_the_grid():
    table = pd.DataFrame({"lot": list("aabb"), "taster": "elm", "pot": [3, 7, 2, 2], "brisk": [5.0, 6, 7, 8]})
    table.loc[3, "taster"] = "yew"
    (grid,) = pst.read_scores(table).cells(pots="shared").grids()
    assert grid.looks.shape == (2, 2, 2, 1)
    assert grid.looks[..., 0].tolist() == [[[1, 1], [0, 0]], [[1, 0], [1, 0]]]
    assert grid.mean[0, 0, :, 0].tolist() == [5, 6]


def test_what_is_selected_is_what_pandas_selects():
    table = sheet(5)
    scores = read(table)
    long = scores.frame.astype({"lot": str, "taster": str, "session": str, "descriptor": str})
    ends = long["lot"].str[-1]
    for options, mask in (
        ({"session": "w1"}, long["session"] == "w1"),
        ({"lot": ["w1a", "w2d"]}, long["lot"].isin(["w1a", "w2d"])),
        ({"taster": "elm", "descriptor": "body"}, (long["taster"] == "elm") & (long["descriptor"] == "body")),
        ({"lot_class": "y"}, ends.isin(["c", "d"])),
        ({"lot_class": "y", "lot": ["w1a", "w1c"]}, long["lot"] == "w1c"),
        ({"role": "trainee"}, long["taster"] == "yew"),
        ({"role": "senior", "taster": ["yew", "elm"]}, long["taster"] == "elm"),
    ):
        kept = scores.select(**options)
        assert kept.frame["score"].tolist() == long.loc[mask, "score"].tolist()
        assert len(kept.account) == len(scores.account)
    cells, frame = scores.cells(pots="own"), of(scores.cells(pots="own"))
    assert len(cells.select(session="w2")) == (frame.index.get_level_values("session") == "w2").sum()
    assert len(cells.select(lot_class="x")) == frame.index.get_level_values("lot").str[-1].isin(["a", "b"]).sum()
    assert len(cells.select(role="trainee")) == (frame.index.get_level_values("taster") == "yew").sum()


def test_pots_given_win_over_the_register_stage_by_stage():
    pots = pd.DataFrame({"session": ["w1", "w2"], "pots": "shared"})
    found = read(sheet(), sessions=pots).cells(pots={"liquor": "own"}).pots.set_index(["session", "stage"])
    assert found["pots"].to_dict() == {
        ("w1", "dry leaf"): "shared", ("w1", "liquor"): "own", ("w2", "dry leaf"): "shared", ("w2", "liquor"): "own",
    }  # fmt: skip
    assert found.loc[("w1", "liquor"), "reason"] == "given with pots="
    assert found["declared"].all()
    bare = pst.read_scores(sheet().drop(columns="leaf")).cells().pots
    assert not bare["declared"].any()


def test_sizes_are_said_in_words():
    assert repr(pst.read_scores(pd.DataFrame({"lot": ["a"], "taster": ["elm"], "brisk": [5]}))) == (
        "<Scores: 1 score, 1 lot, 1 taster, 1 descriptor, 1 session>"
    )
    scores = read(sheet())
    assert f"{len(scores):,} scores, 8 lots, 3 tasters, 3 descriptors, 2 sessions" in repr(scores)
    assert len(scores) == sheet()[["leaf", "brisk", "body"]].notna().sum().sum()
    cells = scores.cells(pots="own")
    assert repr(cells) == f"<Cells: {len(cells.frame):,} cells, 8 lots, 3 tasters>"


def test_written_scores_read_back_to_the_same_cells(tmp_path):
    scores = read(sheet(6))
    scores.to_csv(tmp_path / "long.csv")
    scores.to_parquet(tmp_path / "long.parquet")
    again = read(pd.read_parquet(tmp_path / "long.parquet"))
    for other in (read(pd.read_csv(tmp_path / "long.csv")), again):
        pd.testing.assert_frame_equal(of(other.cells(pots=POTS)), of(scores.cells(pots=POTS)))
    assert "position" not in pd.read_csv(tmp_path / "long.csv")
    placed = pst.read_scores(sheet(6).assign(position=range(len(sheet(6)))))
    placed.to_csv(tmp_path / "placed.csv")
    assert "position" in pd.read_csv(tmp_path / "placed.csv")


@pytest.mark.parametrize("looks", [1, 2])
def test_a_grid_over_its_brews_is_what_pandas_groups_without_pots(looks):
    table = sheet(3, looks=looks)
    wanted = grouped(table, shared=()).xs("brisk", level="descriptor").droplevel("brew").sort_index()
    for grid in read(table).cells(pots="shared").grids():
        n, mean, within_ss = grid.over_brews()
        d = list(grid.descriptors).index("brisk")
        for (at, lot), (to, taster) in product(enumerate(grid.lots), enumerate(grid.tasters)):
            if n[at, to, d]:
                found = (n[at, to, d], mean[at, to, d], within_ss[at, to, d])
                np.testing.assert_allclose(found, wanted.loc[(grid.session, lot, taster)], rtol=1e-12, atol=1e-12)


def test_a_grid_is_centred_about_a_mark_that_was_given():
    rows = [("1", "elm", np.nan, 7.0), ("1", "yew", 3.0, 7.0), ("2", "elm", 4.0, 6.0), ("2", "yew", 5.0, 8.0)]
    (grid,) = pst.read_scores(pd.DataFrame(rows, columns=["lot", "taster", "body", "brisk"])).cells().grids()
    assert dict(zip(grid.descriptors, grid.offset, strict=True)) == {"body": 3.0, "brisk": 7.0}  # the first given
