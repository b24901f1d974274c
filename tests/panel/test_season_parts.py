"""The audit of folded cells is the audit of one pass; the command reads a folder of partitions one at a time."""

import numpy as np
import pandas as pd
import pytest

import panelstats as pst
from panelstats.cli import main
from tests.scores.test_parts import folded, tree

ROOM = {"tasters": pd.DataFrame({"taster": ["elm", "yew", "larch", "alder"]})}


@pytest.fixture(scope="module")
def season():
    """Twelve sessions of six lots, four tasters, one of whom jumps in the ninth."""
    rng = np.random.default_rng(11)
    keys = [range(12), range(6), ["elm", "yew", "larch", "alder"], ["brisk", "body"]]
    rows = pd.MultiIndex.from_product(keys, names=["session", "lot", "taster", "descriptor"]).to_frame(index=False)
    moved = 1.5 * ((rows["taster"] == "yew") & (rows["session"] >= 8) & (rows["descriptor"] == "brisk"))
    rows["score"] = (5 + rows["lot"] / 3 + moved + rng.normal(0, 0.4, len(rows))).round(1)
    rows["session"] = [f"2031-{month + 1:02d}-06" for month in rows["session"]]
    return rows


def tables(cells):
    return pst.audit_season(cells).tables()


def test_the_audit_of_folded_sessions_is_that_of_one_pass_to_the_last_bit(season):
    days = [pst.read_scores(part, room=ROOM).cells() for _, part in season.groupby("session")]
    found, wanted = tables(tree(days, np.random.default_rng(2))), tables(pst.read_scores(season, room=ROOM))
    for name, table in wanted.items():
        pd.testing.assert_frame_equal(found[name], table, check_exact=True)
    assert "jumped" in set(wanted["table"]["call"])


def test_the_audit_of_parts_that_cut_through_sessions_agrees_to_twelve_digits(season):
    dealt = np.random.default_rng(3).integers(0, 4, len(season))
    days = pd.DataFrame({"session": sorted(set(season["session"])), "pots": "own"})
    room = ROOM | {"sessions": days}
    parts = [pst.read_scores(season[dealt == n], room=room).cells() for n in range(4)]
    found, wanted = (
        pst.audit_season(cells).table.sort_values(["taster", "descriptor", "chart"], ignore_index=True)
        for cells in (folded(parts, np.random.default_rng(4)), pst.read_scores(season, room=room).cells())
    )
    pd.testing.assert_frame_equal(found, wanted, rtol=1e-12, atol=1e-12)


def test_the_command_reads_a_folder_of_partitions(season, tmp_path, capsys):
    for day, part in season.groupby("session"):
        part.to_parquet(tmp_path / f"{day}.parquet", index=False)
    assert main(["season", str(tmp_path)]) == 0
    assert "one partition at a time, 12 files" in " ".join(capsys.readouterr().out.split())
    (page,) = tmp_path.glob("*-season.html")
    assert "are not told here; for them review a session alone" in page.read_text("utf-8")
    assert "yew" in page.read_text("utf-8")
    broken = tmp_path / "2031-04-06.parquet"
    broken.write_bytes(b"PAR1 cut")
    assert main(["season", str(tmp_path)]) == 2
    assert broken.name in capsys.readouterr().err
    assert main(["season", str(tmp_path), "--set-aside"]) == 0
    assert broken.name in page.read_text("utf-8")


def test_every_kind_of_chart_is_told_before_it_is_made(season):
    told = []
    pst.review_season(pst.read_scores(season, room=ROOM), progress=told.append)
    kinds = ["cells", "level", "noise", "agreement", "words", "the row"]
    assert told == [f"season: {kind}" for kind in kinds]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_one_corrupt_sheet_in_a_folder_is_refused_with_its_problems_or_set_aside(season, kind, tmp_path, capsys):
    days = sorted(set(season["session"]))[:3]
    for day in days:
        part = season[season["session"] == day].astype({"score": object})
        if kind == "csv" and day == days[1]:
            part.loc[part.index[2:4], "score"] = ["seven", "x9"]
        part.to_csv(tmp_path / f"{day}.csv", index=False) if kind == "csv" else part.to_excel(
            tmp_path / f"{day}.xlsx", index=False
        )
    if kind == "xlsx":
        broken = tmp_path / f"{days[1]}.xlsx"
        broken.write_bytes(broken.read_bytes()[:1500])
    assert main(["season", str(tmp_path)]) == 2
    said = capsys.readouterr().err
    wanted = ["row 4", "'seven'", "row 5", "'x9'"] if kind == "csv" else ["damaged or cut short"]
    assert all(word in said for word in [f"{days[1]}.{kind}", "--set-aside", *wanted])
    assert not any(day in said for day in (days[0], days[2]))
    assert not list(tmp_path.glob("*season*"))
    assert main(["season", str(tmp_path), "--set-aside"]) == 0
    (page,) = tmp_path.glob("*-season.html")
    assert f"{days[1]}.{kind}" in page.read_text("utf-8")


def test_an_interrupted_run_leaves_what_was_there_and_may_be_made_again(season, tmp_path, monkeypatch):
    for day, part in list(season.groupby("session"))[:2]:
        part.to_parquet(tmp_path / f"{day}.parquet", index=False)
    again = ["season", str(tmp_path), "--baseline", "5", "--overwrite"]
    assert main(again[:2]) == 0
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    for step in ("partition 2 of 2", "season: noise", "page and workbook"):

        def stopped(_, told, step=step):
            if told.startswith(step):
                raise KeyboardInterrupt

        with monkeypatch.context() as patch:
            patch.setattr("panelstats.console.Progress.__call__", stopped)
            with pytest.raises(KeyboardInterrupt):
                main(again)
        assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before
    assert main(again) == 0
