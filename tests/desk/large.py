"""Half a million scores dropped on a desk: is the page alive, does progress move, how much memory is taken?"""

import os
import re
import sys
import tempfile
import threading
import time
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.request import HTTPCookieProcessor, Request, build_opener

sys.path[:0] = [str(Path(__file__).parent)]

from driving import desk_of  # noqa: E402

MOST = 1.5e9  # bytes
_TICKS = os.sysconf("SC_CLK_TCK") if hasattr(os, "sysconf") else 100
_EDGE = "----edge"


def sheet(lots=2000, tasters=8, pots=2, words=16):
    """Scores of a large sale, a row a serving: 512,000 of them."""
    lines = ["lot,taster,pot," + ",".join(f"word {word}" for word in range(words))]
    for lot in range(lots):
        for taster in range(tasters):
            for pot in range(1, pots + 1):
                marks = ((7 * lot + 3 * taster + 5 * pot + word * lot) % 13 / 2 + 2 for word in range(words))
                lines.append(f"{lot},taster {taster},{pot}," + ",".join(f"{mark:g}" for mark in marks))
    return "\n".join(lines).encode()


class Visitor:
    """A browser without a window: what it was told, how long the page was silent, what the desk took (Linux)."""

    def __init__(self, address, process):
        self.process, self.home = process, address.split("?")[0]
        self.opener = build_opener(HTTPCookieProcessor(CookieJar()))
        self.text = self._opened(address)
        self.slowest, self.steps = 0.0, []

    def drop(self, name, content):
        """Drop a sheet; seconds until it is read."""
        head = f'--{_EDGE}\r\nContent-Disposition: form-data; name="sheets"; filename="{name}"\r\n\r\n'
        body = head.encode() + content + f"\r\n--{_EDGE}--\r\n".encode()
        return self.ask("sheets", body, {"Content-Type": f"multipart/form-data; boundary={_EDGE}"})

    def ask(self, to, data=b"", kind=None):
        """Ask for something; seconds until it is there."""
        began = time.monotonic()
        self.text = self._opened(Request(self.home + to, data, kind or {}))  # noqa: S310 - this machine
        while waits := re.search(r'data-progress="([^"]+)"', self.text):
            time.sleep(0.1)
            asked = time.monotonic()
            now = self._opened(self.home + "progress")
            self.slowest = max(self.slowest, time.monotonic() - asked)
            step = re.findall(r'"step":"([^"]*)"', now)
            self.steps += step if step and step != self.steps[-1:] else []
            if '"done":true' in now:
                self.text = self._opened(self.home.rstrip("/") + waits[1])
        return time.monotonic() - began

    def _opened(self, what):
        with self.opener.open(what) as answer:
            return answer.read().decode()

    def taken(self):
        """Bytes in memory, and seconds of processor, of the desk and the processes it started."""
        mine, found = {self.process.pid}, {}
        for path in sorted(Path("/proc").glob("[0-9]*/stat"), key=lambda each: int(each.parent.name)):
            try:
                fields = path.read_text().rpartition(")")[2].split()
                if int(fields[1]) in mine or int(path.parent.name) in mine:
                    mine.add(int(path.parent.name))
                    found[path.parent.name] = (int(fields[21]) * 4096, sum(map(int, fields[11:15])) / _TICKS)
            except (OSError, IndexError):
                continue
        return tuple(map(sum, zip(*found.values(), strict=True))) if found else (0, 0.0)


def measured():
    """Drop, wait, ask; what was met on the way."""
    with tempfile.TemporaryDirectory() as folder, desk_of(Path(folder) / "room") as (address, process):
        visitor = Visitor(address, process)
        most, over = [0], threading.Event()

        def watch():
            while not over.wait(0.2):
                most[0] = max(most[0], visitor.taken()[0])

        threading.Thread(target=watch, daemon=True).start()
        told = {"read": visitor.drop("sale.csv", sheet())}
        line = re.search(r'class="line">([^<]*)', visitor.text)[1]
        told["read_processor"] = visitor.taken()[1]
        told["answered"] = visitor.ask("ask/session")
        told["answered_processor"] = visitor.taken()[1] - told["read_processor"]
        over.set()
        return {"line": line, **told, "slowest": visitor.slowest, "steps": visitor.steps, "memory": most[0],
                "shown": "<iframe" in visitor.text}  # fmt: skip


def main():
    """Measure, and hold to the limits."""
    found = measured()
    held = found["memory"] < MOST and found["slowest"] < 2 and found["shown"] and len(found["steps"]) > 1
    print(f"{'held' if held else 'FAILED':7}{found['line']}: read in {found['read']:.0f} s "
          f"({found['read_processor']:.0f} s of processor), answered in {found['answered']:.0f} s "
          f"({found['answered_processor']:.0f} s), {found['memory'] / 1e9:.2f} GB, progress told within "
          f"{found['slowest']:.2f} s; steps told: {', '.join(found['steps'])}")  # fmt: skip
    return int(not held)


if __name__ == "__main__":
    sys.exit(main())
