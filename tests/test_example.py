"""The invented room: the same from its seed, as committed under data/, and with its planted truth in the scores."""

from io import BytesIO
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from openpyxl import load_workbook

from panelstats.errors import DesignError, PanelError
from panelstats.example import bench, write_example
from panelstats.example.write import ROOMS, example_files
from panelstats.scores.cells import DESCRIPTOR, LOT, POT, TASTER

DATA = Path(__file__).parents[1] / "data"
COMMITTED = ["bench"]
KEEP_SMALL = 300_000  # bytes, a file


def values(content):
    """Cell values of every sheet of a workbook."""
    book = load_workbook(BytesIO(content), data_only=True)
    return {page.title: list(page.iter_rows(values_only=True)) for page in book}


@pytest.fixture(scope="module", params=ROOMS)
def room(request):
    return ROOMS[request.param]()


@pytest.fixture(scope="module")
def scored():
    """The bench as (lot, taster, pot, descriptor), NaN where not scored, with its truth."""
    made = bench()
    names, truth = list(made.truth["descriptors"]), made.truth
    keys = [sorted(set(made.frame[key])) for key in (LOT, TASTER, POT)]
    table = made.frame.set_index([LOT, TASTER, POT])[names].reindex(pd.MultiIndex.from_product(keys))
    return keys, names, table.to_numpy().reshape(*map(len, keys), len(names)), truth


@pytest.mark.parametrize("name", COMMITTED)
def test_what_is_committed_is_what_the_seed_gives(name):
    for path, content in example_files(ROOMS[name]()).items():
        committed = (DATA / path).read_bytes()
        assert len(committed) < KEEP_SMALL, path
        if path.endswith(".xlsx"):
            assert values(committed) == values(content), path
        else:
            assert committed == content, path


def test_no_sheet_is_committed_that_the_seed_does_not_give():
    made = {path for name in COMMITTED for path in example_files(ROOMS[name]())}
    assert {
        str(path.relative_to(DATA)) for path in DATA.rglob("*") if path.is_file() and "-room." not in path.name
    } == made


def test_the_same_seed_gives_the_same_bytes_and_another_seed_does_not(room):
    assert example_files(room) == example_files(ROOMS[room.name](seed=room.seed))
    other = ROOMS[room.name](seed=room.seed + 1)
    assert not other.frame.equals(room.frame)


def test_scores_are_half_points_from_0_to_10(room):
    scores = room.frame[room.truth["descriptors"]].to_numpy()
    seen = scores[~np.isnan(scores)]
    assert np.isin(seen, np.arange(21) / 2).all()
    assert np.isin([0, 10], seen).sum() < 2 or (np.isin(seen, [0, 10]).mean() < 0.02)


def test_every_sheet_and_register_names_only_what_is_declared(room):
    sheet, registers = room.frame, room.registers
    assert set(sheet[TASTER]) == set(registers["tasters"][TASTER])
    assert set(sheet["session"]) == set(registers["sessions"]["session"])
    assert set(room.truth["descriptors"]) < set(registers["descriptors"][DESCRIPTOR])


def test_csv_and_workbook_hold_the_same_sheets():
    room = bench()
    files = example_files(room)
    header, *rows = values(files["bench.xlsx"])["scores"]
    book = pd.DataFrame(rows, columns=header).astype({LOT: str})
    parts = [pd.read_csv(BytesIO(files[f"bench/{name}.csv"]), dtype={LOT: str}) for name in room.sheets]
    pd.testing.assert_frame_equal(book, pd.concat(parts, ignore_index=True), check_dtype=False)


def test_the_biased_taster_stands_above_the_others_by_what_was_planted(scored):
    (_, tasters, _), _, y, truth = scored
    fault = next(f for f in truth["planted"] if f["what"] == "level")
    level = np.nanmean(y, axis=(0, 2, 3))
    who = tasters.index(fault["who"])
    others = np.delete(level, who)
    assert level[who] - others.mean() == pytest.approx(fault["size"], abs=0.15)
    assert np.ptp(others) < 0.3  # nobody else is off by what the room calls a difference, 0.5


def test_the_narrow_taster_uses_the_planted_share_of_the_scale(scored):
    (lots, tasters, _), names, y, truth = scored
    fault = next(f for f in truth["planted"] if f["what"] == "scale_use")
    value = np.array([truth["lots"][lot] for lot in lots]).reshape(2, 12, len(names))
    x = (value - value.mean(axis=1, keepdims=True))[:, :, None, None]
    y = y.reshape(2, 12, len(tasters), 2, len(names))  # (class, lot, taster, pot, descriptor)
    d = y - np.nanmean(y, axis=(1, 3), keepdims=True)
    slope = np.nansum(x * d, axis=(0, 1, 3, 4)) / np.sum(x**2 * ~np.isnan(d), axis=(0, 1, 3, 4))
    who = tasters.index(fault["who"])
    assert slope[who] == pytest.approx(fault["size"], abs=0.1)
    assert np.abs(np.delete(slope, who) - 1).max() < 0.15


def test_only_the_weak_pot_is_far_from_its_sister(scored):
    (lots, _, _), names, y, truth = scored
    weak = [f for f in truth["planted"] if f["about"] == "pot"]
    apart = np.diff(np.nanmean(y, axis=1), axis=1)[:, 0]  # pot 2 less pot 1: (lot, descriptor)
    off = apart[:, [names.index(f["descriptor"]) for f in weak]].sum(axis=1)
    at = lots.index(weak[0]["who"])
    assert weak[0]["pot"] == 2
    assert off[at] == pytest.approx(sum(f["size"] for f in weak), abs=1.5)
    assert np.abs(np.delete(off, at)).max() < 0.5 * np.abs(off[at])


def test_lots_of_a_class_differ_clearly_on_some_descriptors_and_not_at_all_on_others(scored):
    (lots, _, _), names, _, truth = scored
    value = np.array([truth["lots"][lot] for lot in lots]).reshape(2, 12, len(names))
    spread = dict(zip(names, value.std(axis=1, ddof=1).T, strict=True))
    alike = [f["who"] for f in truth["planted"] if f["what"] == "lots of a class alike"]
    assert all((spread[name] == 0).all() for name in alike)
    assert (spread["strength"] > 0.5).all()  # more than the room calls a difference
    assert (np.abs(np.diff(value.mean(axis=1), axis=0))[0] > 1.5).sum() >= 4  # the classes are far apart


def test_the_taint_is_marked_by_those_who_noticed_and_nobody_else():
    made = bench()
    fault = next(f for f in made.truth["planted"] if f["what"] == "taint")
    marked = made.frame[made.frame["smoky"].notna()]
    assert set(marked[LOT]) == {fault["who"]}
    assert sorted(set(marked[TASTER])) == fault["noticed_by"]
    said = made.frame[made.frame["remarks"].str.contains("smok")]
    assert set(said.index) == set(marked.index)


def test_nothing_is_overwritten_unless_it_is_allowed(tmp_path):
    write_example(tmp_path)
    write_example(tmp_path)  # the same again stands in nobody's way
    sheet = tmp_path / "bench" / "alder.csv"
    sheet.write_text("somebody's own\n")
    (tmp_path / "README.md").unlink()
    with pytest.raises(PanelError, match="stand where the example should go"):
        write_example(tmp_path)
    assert sheet.read_text() == "somebody's own\n"
    assert not (tmp_path / "README.md").exists()  # refused before the first file was written
    write_example(tmp_path, overwrite=True)
    assert sheet.read_bytes() == (DATA / "bench" / "alder.csv").read_bytes()


def test_an_unknown_example_is_told_what_there_is():
    with pytest.raises(DesignError, match="bench"):
        write_example("unused", which="bank")
