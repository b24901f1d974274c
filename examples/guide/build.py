"""Build the guide into examples/guide/_made/site: every command on its pages is run, every picture is made anew.

`python examples/guide/build.py --again` keeps the room and rebuilds only the pages that were changed.
"""

import re
import sys
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1])]

from room import MADE, ROOM, furnish  # noqa: E402
from sphinx.cmd.build import main  # noqa: E402

SITE = MADE / "site"
# What a browser fetches by itself: sources of scripts, styles and pictures, and what styles name.
_FETCHED = (
    re.compile(r"<(?:script|img|iframe|source|video)\b[^>]*\bsrc=[\"'](?:https?:)?//[^\"']*", re.IGNORECASE),
    re.compile(r"<link\b(?=[^>]*\brel=[\"'](?:stylesheet|icon|preload|preconnect)[^>]*)[^>]*\bhref=[\"'](?:https?:)?//[^\"']*",
               re.IGNORECASE),
    re.compile(r"(?:@import\s+|url\()\s*[\"']?(?:https?:)?//[^\"')]*", re.IGNORECASE),
)  # fmt: skip


def fetched(site: Path) -> list[str]:
    """Everything that the pages of a site would ask of the network."""
    files = [path for path in site.rglob("*") if path.suffix in (".html", ".css")]
    return [f"{path.name}: {found[0]}" for path in files for kind in _FETCHED
            for found in kind.finditer(path.read_text("utf-8"))]  # fmt: skip


def build(*, again: bool) -> int:
    """The site, strictly: any warning ends it; so does anything it would fetch."""
    if not (again and ROOM.exists()):
        furnish()
    ended = main(["-W", "--keep-going", "-q", "-b", "html", "-d", str(MADE / "read"), str(HERE), str(SITE)])
    asked = fetched(SITE)
    for each in asked:
        print(f"would be fetched: {each}", file=sys.stderr)
    if not (ended or asked):
        print(f"the guide: {SITE / 'index.html'}")
    return ended or int(bool(asked))


if __name__ == "__main__":
    sys.exit(build(again="--again" in sys.argv[1:]))
