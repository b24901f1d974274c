"""`python -m tests.kept [ROOM ...]`: the answers written anew, of all rooms or of some."""

import sys

from tests.kept.asked import ROOMS
from tests.kept.lines import keep, lines_of

for room in sys.argv[1:] or ROOMS:
    keep(room, {question: lines_of(asked) for question, asked in ROOMS[room]().items()})
    print(room, flush=True)
