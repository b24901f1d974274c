"""Half a million scores dropped on a desk: until they are read, until the session's page is shown, and the memory.

Seconds are those of a clock, since the desk works in processes of its own; progress is asked for all the while.
"""

from __future__ import annotations

from tests.desk.large import MOST, measured

LATEST = 2.0  # seconds within which a page must hear how far the work is


def run() -> list[dict[str, object]]:
    """A row for reading, and one for the answer."""
    found = measured()
    held = bool(found["memory"] < MOST and found["slowest"] < LATEST and found["shown"])
    bound = f"peak < {MOST / 1e6:,.0f} MB, progress within {LATEST:g} s"
    return [
        {"name": "desk, 512,000 scores dropped: read", "seconds": found["read"]},
        {"name": "desk, the same: page of the session", "seconds": found["answered"],
         "peak_mb": found["memory"] / 1e6, "slowest progress": found["slowest"], "bound": bound, "held": held},
    ]  # fmt: skip
