"""`python -m tests.kept [ROOM ...]`: the answers written anew, of all rooms or of some."""

import sys
from concurrent.futures import ProcessPoolExecutor

from tests.kept.asked import ROOMS
from tests.kept.lines import keep, lines_of


def kept_anew(room: str) -> str:
    """Ask one room its questions and write the answers."""
    keep(room, {question: lines_of(asked) for question, asked in ROOMS[room]().items()})
    return room


if __name__ == "__main__":
    with ProcessPoolExecutor() as pool:
        for room in pool.map(kept_anew, sys.argv[1:] or ROOMS):
            print(room, flush=True)
