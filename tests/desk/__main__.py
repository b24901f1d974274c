"""The desk driven over workbooks of rooms in known habits: `python -m tests.desk [HOW_MANY]`, twelve by default.

Each is dropped in headless Chromium on a desk of its own, its questions are answered by a click, and how the lots were
is asked. Then the same workbook with the room.xlsx that the desk wrote must give the command line the same scores, and
the same page. After it a desk is killed at every change of the file system while it answers and while it plans, and
half a million scores are dropped.
"""

import contextlib
import io
import shutil
import sys
import tempfile
from pathlib import Path
from time import perf_counter

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "report")]

from browser import browser  # noqa: E402
from driving import whole_way  # noqa: E402
from large import main as large  # noqa: E402
from test_killed import answer, dies, invent, plan  # noqa: E402

import panelstats as pst  # noqa: E402
from panelstats.cli import main as command  # noqa: E402
from tests.habits import ROOMS  # noqa: E402


def workbooks(many):
    """So many rooms, spread over the corpus, that are one workbook and no registers."""
    names = sorted(ROOMS)
    found = []
    for name in [*names[:: max(1, len(names) // many)], *names[3 :: max(1, len(names) // many)]]:
        with tempfile.TemporaryDirectory() as folder:
            source = ROOMS[name].made().write(Path(folder))
            if source.is_file() and source.suffix == ".xlsx" and len(list(Path(folder).rglob("*.*"))) == 1:
                found.append(name)
        if len(found) == many:
            break
    return found


def told_apart(name, driver):
    """What the desk and the command line tell apart of one room, and how many questions were answered."""
    with tempfile.TemporaryDirectory() as folder:
        source = ROOMS[name].made().write(Path(folder) / "sent")
        room, beside, pages = (Path(folder) / each for each in ("room", "beside", "out"))
        text, asked, aside = whole_way(driver, source, room)
        for each in (beside, pages):
            each.mkdir()
        shutil.copyfile(source, beside / source.name)
        if (room / "room.xlsx").exists():
            shutil.copyfile(room / "room.xlsx", beside / "room.xlsx")
        try:
            scores = pst.read_scores(beside, set_aside=aside)
        except pst.PanelError as error:
            return f"the command line refuses: {error}" if (room / "pages").glob("*.html") and not text else "", asked
        if not pst.read_scores(room, set_aside=aside).frame.equals(scores.frame):
            return "other scores", asked
        made = next((room / "pages").glob("*-room.html"), None)
        if made is None:
            return f"no page: {text[:300]}", asked
        with contextlib.redirect_stdout(io.StringIO()):
            command([str(room), "--out", str(pages), *(["--set-aside"] if aside else [])])
        same = next(pages.glob("*-room.html"))
        return ("" if same.read_bytes() == made.read_bytes() and text else "another page"), asked


def main():
    """Drive, and count."""
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    failed = 0
    with tempfile.TemporaryDirectory() as profile, browser(profile) as driver:
        for name in workbooks(many):
            began = perf_counter()
            why, asked = told_apart(name, driver)
            failed += bool(why)
            print(f"{'held' if not why else 'FAILED':7}{name}: {asked} answered, {perf_counter() - began:.1f} s {why}",
                  flush=True)  # fmt: skip
    for task in (answer, plan, invent):
        with tempfile.TemporaryDirectory() as folder:
            print(f"held   killed at each of {dies(Path(folder), task)} changes of {task.__name__}", flush=True)
    return int(failed > 0) | large()


if __name__ == "__main__":
    sys.exit(main())
