import json
import subprocess
import sys
from pathlib import Path

import pandas as pd
import pytest

from panelstats.cli import main
from panelstats.filenames import file_names

BENCH = Path(__file__).parents[1] / "data" / "bench"


def run(*words, **options):
    return subprocess.run(
        [sys.executable, "-m", "panelstats", *map(str, words)], capture_output=True, text=True, check=False, **options
    )


def write(path, rows):
    pd.DataFrame(rows).to_csv(path, index=False)
    return path


def test_help_loads_no_heavy_library():
    code = "import sys; from panelstats.cli import main\ntry: main(['--help'])\nexcept SystemExit: pass\n"
    done = subprocess.run(
        [sys.executable, "-c", code + "print([m for m in ('numpy', 'pandas', 'scipy') if m in sys.modules])"],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.strip().endswith("[]")
    assert "session" in done.stdout


def test_a_session_loads_no_library_and_no_analysis_it_does_not_use(tmp_path):
    day = [
        {"lot": n, "taster": who, "brisk": n % 7, "bright": n % 5} for n in range(401, 461) for who in ("elm", "yew")
    ]
    code = (
        "import sys; from panelstats.cli import main; main(sys.argv[1:])\n"
        "slow = {f'scipy.{name}' for name in ('interpolate', 'optimize', 'sparse', 'stats')}\n"
        "slow |= {f'panelstats.panel.{name}.fit' for name in ('season', 'training')} | {'urllib.request'}\n"
        "print((slow | {'matplotlib', 'openpyxl', 'statsmodels'}) & set(sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(write(tmp_path / "day.csv", day))],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.splitlines()[-1] == "set()"


def test_a_source_alone_means_session_and_says_where_it_wrote(tmp_path, capsys):
    assert main([str(BENCH), "--out", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "bench-room.html" in out
    assert "418: smoky" in out
    assert max(len(line) for line in out.splitlines() if str(tmp_path) not in line) <= 80
    assert (tmp_path / "bench-room.html").stat().st_size < 1_000_000
    assert (tmp_path / "bench-room.xlsx").exists()


def test_json_is_for_machines(tmp_path, capsys):
    lots = [{"lot": n, "taster": who, "pot": p, "brisk": (n + p) % 4 + len(who), "fault": "smoky" if n == 2 else ""}
            for n in range(1, 6) for who in ("elm", "yew", "larch") for p in (1, 2)]  # fmt: skip
    assert main([str(write(tmp_path / "day.csv", lots)), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert set(answer) >= {"Faults", "Lots", "Panel", "Tasters"}
    first = answer["Faults"]["verdicts"][0]
    assert (first["act"], first["subject"]) == ("now", "2")


def test_our_own_page_is_replaced_and_another_file_is_not(tmp_path, capsys):
    sheet = write(
        tmp_path / "day.csv", {"lot": ["1", "2"] * 3, "taster": list("aabbcc"), "strength": [5, 6, 5, 7, 4, 6]}
    )
    assert main([str(sheet)]) == 0
    assert main([str(sheet)]) == 0
    (tmp_path / "day-room.html").write_text("a letter")
    assert main([str(sheet)]) == 2
    assert "day-room.html" in capsys.readouterr().err
    assert main([str(sheet), "--overwrite"]) == 0


def test_a_hostile_name_stays_text_in_page_and_workbook(tmp_path):
    lots, tasters = ["=1+1", "7"] * 3, ["<script>alert(1)</script>"] * 2 + ["b"] * 2 + ["c"] * 2
    sheet = write(tmp_path / "day.csv", {"lot": lots, "taster": tasters, "strength": [5, 6, 5, 7, 4, 6.5]})
    assert main([str(sheet)]) == 0
    page = (tmp_path / "day-room.html").read_text()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page
    import openpyxl

    book = openpyxl.load_workbook(tmp_path / "day-room.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value == "=1+1"]
    assert cells
    assert {cell.data_type for cell in cells} == {"s"}


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ({"lot": ["1"] * 3, "taster": list("abc"), "strength": [5, 6, 7]}, "one lot"),
        ({"lot": ["1", "2", "3"], "taster": list("aaa"), "strength": [5, 6, 7]}, "one look by one taster"),
        ({"lot": ["1", "2"] * 3, "taster": list("aabbcc"), "strength": [5] * 6}, "every score is one value"),
        ({"lot": ["1", "2", "3"], "taster": list("abc"), "strength": [5, 6, 7]}, "cannot tell"),
    ],
)
def test_small_and_flat_sessions_get_a_page_with_a_defined_answer(tmp_path, capsys, rows, words):
    sheet = write(tmp_path / "day.csv", rows)
    assert main([str(sheet)]) == 0
    assert words in capsys.readouterr().out.replace("\n  ", " ").lower()
    assert "cannot tell" in (tmp_path / "day-room.html").read_text().lower()


def test_bad_input_is_one_clear_message_and_no_traceback(tmp_path):
    sheet = write(tmp_path / "day.csv", {"lot": ["1", "2"], "taster": ["a", "a"], "strength": [5, "six"]})
    done = run(sheet)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "day.csv" in done.stderr
    assert "six" in done.stderr
    assert "strength" in done.stderr
    missing = run(tmp_path / "nowhere.csv")
    assert missing.returncode == 2
    assert "nowhere.csv" in missing.stderr
    assert "Traceback" not in missing.stderr


def test_an_impossible_option_is_refused_before_anything_is_read(capsys):
    with pytest.raises(SystemExit) as stop:
        main([str(BENCH), "--level", "95"])
    assert stop.value.code == 2
    assert "between 0 and 1" in capsys.readouterr().err


def test_sheets_that_cannot_be_written_beside_say_so(tmp_path, capsys):
    sheet = write(tmp_path / "day.csv", {"lot": ["1", "2"] * 2, "taster": list("aabb"), "strength": [5, 6, 5, 7]})
    assert main([str(sheet), "--out", str(tmp_path / "day.csv" / "deeper")]) == 2
    assert "do:" in capsys.readouterr().err


def test_inputs_are_left_untouched(tmp_path):
    sheet = write(tmp_path / "day.csv", {"lot": ["1", "2"] * 2, "taster": list("aabb"), "strength": [5, 6, 5, 7]})
    before = sheet.read_bytes(), sheet.stat().st_mtime_ns
    assert main([str(sheet)]) == 0
    assert (sheet.read_bytes(), sheet.stat().st_mtime_ns) == before


def test_example_writes_a_set_that_reads(tmp_path, capsys):
    assert main(["example", "bench", "--out", str(tmp_path / "room")]) == 0
    assert "invented" in capsys.readouterr().out
    assert any((tmp_path / "room").rglob("*.csv"))


def test_trainees_get_a_verdict_and_a_sheet_each(tmp_path, capsys):
    folder = BENCH.parent / "new-tasters"
    assert main(["trainees", str(folder), "--out", str(tmp_path)]) == 0
    out = capsys.readouterr().out
    assert "spindle: not yet" in out
    assert "whitebeam: ready overall" in out
    sheets = tmp_path / "new-tasters-trainees"
    assert {path.name for path in sheets.iterdir()} == {"spindle.html", "whitebeam.html"}


def test_taster_sheets_are_named_for_people_whatever_they_are_called(tmp_path):
    rows = {"lot": ["1", "2", "3"] * 3, "taster": ["../x"] * 3 + ["b/c"] * 3 + ["d"] * 3}
    sheet = write(tmp_path / "day.csv", rows | {"strength": [5, 6, 7, 5, 7, 4, 6, 5, 5.5]})
    assert main([str(sheet), "--taster-sheets"]) == 0
    named = {path.stem for path in (tmp_path / "day-tasters").iterdir()}
    assert named == set(file_names(["../x", "b/c", "d"]).values())
    assert not any("/" in name for name in named)


def test_start_writes_a_room_that_is_obeyed(tmp_path, capsys):
    import openpyxl

    rows = {"lot": ["1", "2", "3"] * 2, "taster": list("aaabbb"), "strength": [5, 6, 7, 5, 7, 4]}
    sheet = write(tmp_path / "day.csv", rows)
    assert main(["start", str(sheet)]) == 0
    room = tmp_path / "room.xlsx"
    book = openpyxl.load_workbook(room)
    page = book["tasters"]
    header = [cell.value for cell in page[1]]
    page.cell(3, header.index("role") + 1).value = "trainee"
    book.save(room)
    capsys.readouterr()
    assert main(["read", str(sheet), "--room", str(room), "--json"]) == 0
    import panelstats as pst

    roles = pst.read_scores(sheet, room=room).tasters.set_index("taster")["role"].to_dict()
    assert sorted(roles.values()) == ["senior", "trainee"]


def test_read_leaves_a_marked_copy_and_the_command_to_go_on(tmp_path, capsys):
    sheet = write(tmp_path / "day.csv", {"lot": ["1", "2"], "taster": ["a", "a"], "strength": [5, "six"]})
    assert main(["read", str(sheet), "--mark"]) == 2
    err = capsys.readouterr().err
    assert "marked copy" in err
    assert "--set-aside" in err
    assert main(["read", str(sheet), "--set-aside"]) == 0
    assert "1" in capsys.readouterr().out


def test_a_command_misspelt_is_told_from_a_file_that_is_not_there(capsys):
    for typed, said in (("sumary", "did you mean summary?"), ("week14.xlsx", "check the name")):
        assert main([typed]) == 2
        assert said in capsys.readouterr().err


def test_without_a_word_the_commands_are_told(capsys):
    with pytest.raises(SystemExit) as ended:
        main([])
    assert not ended.value.code
    assert "a file or folder alone" in capsys.readouterr().out.casefold()


def test_the_beginning_of_an_option_is_not_taken_for_another(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["session", "data/bench", "--to", "0.5"])
    assert ended.value.code == 2
    assert "--to" in capsys.readouterr().err
