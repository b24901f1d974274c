"""No result is lost, whatever its name; and a run leaves all it writes or nothing, whenever it is stopped."""

import os
import random
import signal
import subprocess
import sys
import time

import pandas as pd
import pytest
from openpyxl import load_workbook

import panelstats as pst
from panelstats import ourfiles, output
from panelstats.cli import main
from panelstats.errors import PanelError

SCORES = pd.DataFrame({"lot": ["1", "2"] * 3, "taster": list("aabbcc"), "brisk": [5, 6, 5, 7, 4, 6.5]})
BAD = pd.DataFrame({"lot": ["1", "2"], "taster": ["a", "a"], "brisk": [5, "six"]})


def results(folder):
    return {path.name for path in folder.rglob("*") if ourfiles.is_ours(path)}


def rests(folder):
    return [path for path in folder.rglob("*") if path.name.startswith(".")]


def test_sheets_of_one_name_get_pages_of_their_own(tmp_path):
    for name in ("week.csv", "week.csv.csv", "Week.tsv"):
        SCORES.to_csv(tmp_path / name, index=False)
    sources = [path for path in tmp_path.iterdir() if path.is_file()]
    for path in sources:
        assert main([str(path)]) == 0
    made = results(tmp_path)
    assert len({name.casefold() for name in made}) == 2 * len(sources)
    for path in sources:
        assert main([str(path)]) == 0
    assert results(tmp_path) == made, "results do not change their names from run to run"


def test_a_folder_and_a_sheet_of_its_name_in_it_get_pages_of_their_own(tmp_path):
    folder = tmp_path / "week"
    folder.mkdir()
    SCORES.to_csv(folder / "week.csv", index=False)
    for source in (folder, folder / "week.csv"):
        assert main([str(source)]) == 0
    assert len(results(folder)) == 4


def test_sheets_for_tasters_and_for_trainees_do_not_replace_each_other(tmp_path):
    rows = SCORES.assign(pot=1)
    with pd.ExcelWriter(tmp_path / "week.xlsx") as book:
        rows.to_excel(book, sheet_name="scores", index=False)
        pd.DataFrame({"taster": list("abc"), "role": ["trainee", "senior", "senior"]}).to_excel(
            book, sheet_name="tasters", index=False
        )
    assert main([str(tmp_path / "week.xlsx"), "--taster-sheets"]) == 0
    before = {path: path.read_bytes() for path in (tmp_path / "week-tasters").iterdir()}
    assert before
    assert main(["trainees", str(tmp_path / "week.xlsx")]) == 0
    assert {path: path.read_bytes() for path in before} == before
    assert (tmp_path / "week-trainees" / "a.html").exists()


@pytest.mark.parametrize("stem", ["con", "nul.", "...", "x" * 240, "茶" * 80, "a\x1b[31mb", "-out", " ", "\udcff"])
def test_a_sheet_of_any_name_gets_its_page(stem, tmp_path):
    SCORES.to_csv(tmp_path / f"{stem}.csv", index=False)
    assert main([str(tmp_path / f"{stem}.csv")]) == 0
    assert len(results(tmp_path)) == 2


def test_marked_copies_of_sheets_of_one_name_stay_apart(tmp_path):
    (tmp_path / "early").mkdir()
    (tmp_path / "late").mkdir()
    (tmp_path / "copies").mkdir()
    for at, path in enumerate(["early/week.csv", "late/week.csv", "early/week.tsv"]):
        BAD.assign(taster=f"t{at}").to_csv(tmp_path / path, index=False)
    sources = [str(tmp_path / name) for name in ("early", "late")]
    assert main(["read", *sources, "--mark", "--out", str(tmp_path / "copies")]) == 2
    assert len(list((tmp_path / "copies").iterdir())) == 3


def test_a_marked_copy_that_was_corrected_by_hand_is_not_replaced(tmp_path, capsys):
    BAD.to_csv(tmp_path / "week.csv", index=False)
    words = ["read", str(tmp_path / "week.csv"), "--mark"]
    copy = tmp_path / "week-marked.xlsx"
    for _ in range(2):  # as it was written it may be replaced
        assert main(words) == 2
        assert "not a number" in capsys.readouterr().err
    book = load_workbook(copy)
    book.worksheets[0]["C3"] = "6"
    book.save(copy)
    corrected = copy.read_bytes()
    assert main(words) == 2
    assert "changed by hand" in capsys.readouterr().err
    assert copy.read_bytes() == corrected


def test_a_marked_copy_holds_no_sign_that_steers(tmp_path):
    BAD.assign(lot=["\x1b[31mred", "b"], brisk=[5, "\x07six"]).to_csv(tmp_path / "week.tsv", index=False)
    assert main(["read", str(tmp_path / "week.tsv"), "--mark"]) == 2
    cells = [str(cell.value) for row in load_workbook(tmp_path / "week-marked.xlsx").active for cell in row]
    assert "\\u001b[31mred" in cells


def test_scores_written_as_csv_hold_no_formula_and_read_back(tmp_path):
    names = ["=1+1", "+1", "-x", "@a", "'=q", "''+w", "'plain", "=HYPERLINK(1)"]
    frame = pd.DataFrame({"lot": names * 2, "taster": ["-t"] * 8 + ["=u"] * 8, "brisk": range(16)})
    scores = pst.read_scores(frame)
    scores.to_csv(tmp_path / "long.csv")
    cells = [cell for line in (tmp_path / "long.csv").read_text().splitlines() for cell in line.split(",")]
    assert not [cell for cell in cells if cell[:1] in "=+-@\t\r" and cell]
    again = pst.read_scores(tmp_path / "long.csv")
    assert set(again.lots["lot"]) == set(names)
    assert set(again.tasters["taster"]) == {"-t", "=u"}


def test_scores_are_not_written_over_the_sheet_they_came_from(tmp_path):
    path = tmp_path / "week.csv"
    SCORES.to_csv(path, index=False)
    before = path.read_bytes()
    scores = pst.read_scores(path)
    for write in (scores.to_csv, scores.to_parquet):
        with pytest.raises(PanelError, match="never replaced"):
            write(path)
    assert path.read_bytes() == before


def test_two_outputs_that_a_link_makes_one_are_refused(tmp_path):
    page = output.write_whole(tmp_path / "a.html", ourfiles.PAGE_MARK.encode())
    (tmp_path / "b.html").symlink_to(page)
    with pytest.raises(PanelError, match="fall together"):
        output.write_all({page: b"one", tmp_path / "b.html": b"two"}, overwrite=True)
    assert page.read_bytes() == ourfiles.PAGE_MARK.encode()
    assert not rests(tmp_path)


# What starts the tests may have told its children to ignore Ctrl-C.
HEARS = "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
WRITER = (
    HEARS
    + """
import sys, pathlib
from panelstats import ourfiles, output
folder = pathlib.Path(sys.argv[1])
print("ready", flush=True)
for turn in range(10 ** 6):
    pages = {folder / f"{n}.html": ourfiles.PAGE_MARK.encode() + b"%d" % turn for n in range(8)}
    output.write_all(pages, overwrite=True)
"""
)


@pytest.mark.parametrize("kind", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("seed", range(4))
def test_a_run_stopped_while_it_writes_leaves_all_files_of_one_turn(kind, seed, tmp_path):
    with subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path)], stdout=subprocess.PIPE,
                          stderr=subprocess.DEVNULL) as run:  # fmt: skip
        run.stdout.readline()
        time.sleep(0.05 + random.Random(seed).random() / 4)
        run.send_signal(kind)
        try:
            run.wait(30)
        finally:
            run.kill()
    contents = {path.read_bytes() for path in tmp_path.glob("*.html")}
    assert len(contents) == 1
    assert len(list(tmp_path.iterdir())) == 8
    assert not rests(tmp_path)


STARTER = HEARS + "import runpy; print('begun', flush=True); runpy.run_module('panelstats', run_name='__main__')"


@pytest.mark.parametrize(("kind", "delay"), [(signal.SIGINT, 0.4), (signal.SIGINT, 1.2), (signal.SIGTERM, 0.8)])
def test_a_run_stopped_at_any_moment_leaves_no_rest_and_no_traceback(kind, delay, tmp_path):
    path = tmp_path / "week.csv"
    SCORES.to_csv(path, index=False)
    run = subprocess.Popen([sys.executable, "-c", STARTER, str(path)], stdout=subprocess.PIPE, text=True,
                           stderr=subprocess.PIPE, env=os.environ | {"PYTHONUNBUFFERED": "1"})  # fmt: skip
    run.stdout.readline()
    time.sleep(delay)
    run.send_signal(kind)
    told = "".join(run.communicate(timeout=60))
    assert run.returncode in (0, -kind)  # 128 + kind, as a shell counts it
    assert "Traceback" not in told
    assert not rests(tmp_path)
    assert results(tmp_path) in (set(), {"week-room.html", "week-room.xlsx"})
