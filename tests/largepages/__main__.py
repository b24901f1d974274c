"""`python -m tests.largepages [NAME ...]`: large pages in a browser: size, accessibility checker, width of a phone.

Each is held to 3 MB; what is folded away is left out of the checker, as on small pages, where it is looked at open.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path
from time import perf_counter

sys.path[:0] = [str(Path(__file__).parents[1] / "report")]

import axe_core_python  # noqa: E402
from browser import at_width, browser  # noqa: E402
from test_every_page import CHECK  # noqa: E402

from tests.largepages.made import MADE, MOST, pages_of  # noqa: E402

AXE = Path(axe_core_python.__file__).parent / "axe.min.js"
WIDTHS = ((1280, False), (390, True))  # a screen by day, a phone by night


def broken(driver: object, path: Path) -> list[str]:
    """What the browser objects to."""
    found = []
    for width, dark in WIDTHS:
        at_width(driver, path, width, dark=dark)
        wide = driver.execute_script("return document.documentElement.scrollWidth")  # type: ignore[attr-defined]
        found += [f"{wide} pixels wide on {width}"] if wide > width else []
        driver.execute_script(AXE.read_text())  # type: ignore[attr-defined]
        for each in driver.execute_async_script(CHECK):  # type: ignore[attr-defined]
            found.append(f"{each['id']} on {width}: {each['nodes'][0]['html'][:200]}")
    return found


def main(*names: str) -> int:
    """Make, measure, check; 1 where a page does not hold."""
    failed = 0
    with tempfile.TemporaryDirectory() as folder, browser(Path(folder) / "profile") as driver:
        driver.set_script_timeout(600)
        for name in names or MADE:
            began = perf_counter()
            for title, page in pages_of(name).items():
                path = Path(folder) / "page.html"
                path.write_bytes(page)
                faults = broken(driver, path) + ([f"{len(page):,} bytes"] if len(page) > MOST else [])
                failed += bool(faults)
                print(f"{'FAILED' if faults else 'held':7}{title}: {len(page) / 1e6:.2f} MB, made and checked in "
                      f"{perf_counter() - began:.0f} s", *faults, sep="\n       ", flush=True)  # fmt: skip
    return int(failed > 0)


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
