"""Half a million scores dropped on a desk: is the page alive, does progress move, how much memory is taken?"""

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


def sheet(lots=2000, tasters=8, pots=2, words=16):
    """Scores of a large sale, a row a serving: 512,000 of them."""
    lines = ["lot,taster,pot," + ",".join(f"word {word}" for word in range(words))]
    for lot in range(lots):
        for taster in range(tasters):
            for pot in range(1, pots + 1):
                marks = ((7 * lot + 3 * taster + 5 * pot + word * lot) % 13 / 2 + 2 for word in range(words))
                lines.append(f"{lot},taster {taster},{pot}," + ",".join(f"{mark:g}" for mark in marks))
    return "\n".join(lines).encode()


def resident(process):
    """Bytes in memory of a desk and the processes it started (Linux)."""
    mine, sizes = {process}, 0
    for _ in range(3):
        for each in Path("/proc").glob("[0-9]*/stat"):
            try:
                parent = int(each.read_text().rpartition(")")[2].split()[1])
            except OSError:
                continue
            mine |= {int(each.parent.name)} if parent in mine else set()
    for each in mine:
        try:
            sizes += int(Path(f"/proc/{each}/statm").read_text().split()[1]) * 4096
        except OSError:
            continue
    return sizes


def measured():
    """Drop, wait, ask; what was met on the way."""
    content, edge = sheet(), "----edge"
    body = (f'--{edge}\r\nContent-Disposition: form-data; name="sheets"; filename="sale.csv"\r\n\r\n'.encode()
            + content + f"\r\n--{edge}--\r\n".encode())  # fmt: skip
    with tempfile.TemporaryDirectory() as folder, desk_of(Path(folder) / "room") as (address, process):
        most, over = [0], threading.Event()

        def watch():
            while not over.wait(0.2):
                most[0] = max(most[0], resident(process.pid))

        threading.Thread(target=watch, daemon=True).start()
        opener = build_opener(HTTPCookieProcessor(CookieJar()))
        opener.open(address).close()
        home = address.split("?")[0]
        told = {}
        slowest, steps = 0.0, []
        for what, to, data in (("read", "sheets", body), ("answered", "ask/session", b"")):
            began = time.monotonic()
            kind = {"Content-Type": f"multipart/form-data; boundary={edge}"} if data else {}
            request = Request(home + to, data, kind)  # noqa: S310 - this machine
            text = opener.open(request).read().decode()
            while waits := re.search(r'data-progress="([^"]+)"', text):
                asked = time.monotonic()
                now = opener.open(home + "progress").read().decode()
                slowest = max(slowest, time.monotonic() - asked)
                step = re.findall(r'"step":"([^"]*)"', now)
                steps += step if step and step != steps[-1:] else []
                if '"done":true' in now:
                    text = opener.open(home.rstrip("/") + waits[1]).read().decode()
                time.sleep(0.2)
            told[what] = time.monotonic() - began
            if what == "read":
                line = re.search(r'class="line">([^<]*)', text)[1]
        over.set()
        return {"line": line, **told, "slowest": slowest, "steps": steps, "memory": most[0], "shown": "<iframe" in text}


def main():
    """Measure, and hold to the limits."""
    found = measured()
    held = found["memory"] < MOST and found["slowest"] < 2 and found["shown"] and len(found["steps"]) > 1
    print(f"{'held' if held else 'FAILED':7}{found['line']}: read in {found['read']:.0f} s, answered in "
          f"{found['answered']:.0f} s, {found['memory'] / 1e9:.2f} GB, progress told within {found['slowest']:.2f} s; "
          f"steps told: {', '.join(found['steps'])}")  # fmt: skip
    return int(not held)


if __name__ == "__main__":
    sys.exit(main())
