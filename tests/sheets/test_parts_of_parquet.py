"""A season in partitions of Parquet: one at a time in memory, the same cells, every problem told with its place."""

import gc
import weakref

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.sheets.reading import stream
from tests.scores.test_parts import ROOM, alike, of, season, tree

DAYS = [f"2031-0{month}-06" for month in range(1, 5)]


def written(folder, table, name="{}.parquet"):
    for day, part in table.groupby("session"):
        path = folder / name.format(day)
        path.parent.mkdir(exist_ok=True)
        part.to_parquet(path, index=False)
    for register, rows in ROOM.items():
        rows.to_csv(folder / f"{register}.csv", index=False)
    return folder


def test_partitions_are_read_to_the_cells_of_reading_all(tmp_path):
    table = season(4)
    found, whole = pst.read_cells(written(tmp_path, table)), pst.read_scores(table, room=ROOM)
    pd.testing.assert_frame_equal(of(found), of(whole.cells()), check_exact=True)
    assert found.account["scores"].sum() == len(whole)
    assert set(found.account["file"]) == {f"{day}.parquet" for day in DAYS}
    parts = [pst.read_cells(path, room=ROOM) for path in sorted(tmp_path.glob("*.parquet"))]
    alike(found, tree(parts, np.random.default_rng(5)))


def test_what_scores_write_is_read_back(tmp_path):
    scores = pst.read_scores(season(5), room=ROOM)
    for day in DAYS:
        scores.select(session=day).to_parquet(tmp_path / f"{day}.parquet")
    room = {name: table for name, table in ROOM.items() if name != "lots"} | {"lots": scores.lots[["lot", "grade"]]}
    pd.testing.assert_frame_equal(of(pst.read_cells(tmp_path, room=room)), of(scores.cells()), check_exact=True)


def test_folders_that_name_the_session_tell_it(tmp_path):
    table = season(6)
    bare = table.assign(day=table["session"]).drop(columns="session").rename(columns={"day": "session"})
    for day, part in bare.groupby("session"):
        folder = tmp_path / f"session={day}"
        folder.mkdir()
        part.drop(columns="session").to_parquet(folder / "part-0.parquet", index=False)
    found = pst.read_cells(tmp_path, room=ROOM)
    pd.testing.assert_frame_equal(of(found), of(pst.read_scores(table, room=ROOM).cells()), check_exact=True)
    pd.testing.assert_frame_equal(of(pst.read_scores(tmp_path, room=ROOM).cells()), of(found), check_exact=True)


def test_never_more_than_one_partition_is_in_memory(tmp_path, monkeypatch):
    alive, read = [], stream.read_scores

    def watched(*args, **options):
        scores = read(*args, **options)
        alive.append(weakref.ref(scores.frame))
        return scores

    def look(_):
        gc.collect()
        there.append(sum(ref() is not None for ref in alive))

    there = []
    monkeypatch.setattr(stream, "read_scores", watched)
    pst.read_cells(written(tmp_path, season(7)), progress=look)
    assert len(there) == 4
    assert max(there) <= 1


def test_a_bad_partition_is_told_with_file_column_row_and_value(tmp_path):
    table = season(8).astype({"score": object})
    row = table.index[table["session"] == DAYS[2]][3]
    table["score"] = table["score"].astype(str)
    table.loc[row, "score"] = "seven"
    folder = written(tmp_path, table)
    with pytest.raises(pst.SheetError) as caught:
        pst.read_cells(folder)
    assert "2031-03-06.parquet, row 4, column score, value 'seven'" in str(caught.value)
    found = pst.read_cells(folder, set_aside=True)
    assert len(found.problems) == 1
    assert found.frame["looks"].sum() == len(table) - 1
    assert found.account["set_aside"].sum() == 1


def test_a_partition_cut_short_is_told_or_set_aside(tmp_path):
    folder = written(tmp_path, season(9))
    broken = folder / f"{DAYS[1]}.parquet"
    broken.write_bytes(broken.read_bytes()[:200])
    with pytest.raises(pst.SheetError, match="damaged or cut short") as caught:
        pst.read_cells(folder)
    assert broken.name in str(caught.value)
    found = pst.read_cells(folder, set_aside=True)
    assert list(found.sessions["session"]) == [DAYS[0], *DAYS[2:]]
    assert found.problems["file"].tolist() == [broken.name]
    assert broken.name in set(found.account.loc[found.account["set_aside"] > 0, "file"])
    for path in folder.glob("*.parquet"):
        path.write_bytes(b"PAR1")
    with pytest.raises(pst.SheetError, match="damaged or cut short"):
        pst.read_cells(folder, set_aside=True)


def test_a_partition_without_scores_column_is_told(tmp_path):
    folder = written(tmp_path, season(0))
    pd.DataFrame({"session": [DAYS[0]], "taster": ["elm"]}).to_parquet(folder / "odd.parquet")
    with pytest.raises(pst.SheetError, match=r"odd\.parquet"):
        pst.read_cells(folder)


def test_a_name_spelled_otherwise_in_another_partition_is_one_and_said(tmp_path):
    table = season(3)
    folder = written(tmp_path, table)
    plain = pst.read_cells(folder)
    new = {"elm": "Elm ", "brisk": "BRISK", "control": "Control"}
    at = table["session"] == DAYS[1]
    odd = table.assign(
        **{key: table[key].where(~at, table[key].replace(new)) for key in ("taster", "descriptor", "lot")}
    )
    found = pst.read_cells(written(tmp_path, odd))
    assert set(found.spelled) == {("lot", "control", "Control")}  # the registers list the others as they are spelled
    frame = of(found).rename(index={"Control": "control"}).sort_index()
    pd.testing.assert_frame_equal(frame, of(plain), check_exact=True)
    assert found.descriptors["tolerance"].tolist() == plain.descriptors["tolerance"].tolist()
    parts = [pst.read_cells(path, room=ROOM) for path in sorted(folder.glob("*.parquet"))]
    folds = [tree(parts, np.random.default_rng(seed)) for seed in range(3)]
    for each in folds:
        alike(each, found)
        assert each.spelled == found.spelled
