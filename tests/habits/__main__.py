"""The habits of score sheets, counted: `python -m tests.habits [word ...]` reads every room whose name holds a word.

Prints a table by class of habit, and a line for every room that is not read right; fails where anything is read
wrong, before its questions are answered or after.
`--known` writes the rooms that fail into known.py, to be looked at before they are committed.
"""

from __future__ import annotations

import json
import sys
import tempfile
from collections import Counter
from pathlib import Path
from time import perf_counter

from tests.habits import ROOMS
from tests.habits.answering import after, again
from tests.habits.classes import CLASSES
from tests.habits.judge import ASKED, MUTE, OUTCOMES, REFUSED, RIGHT, TOLD, WRONG, Finding, judged
from tests.habits.room import Room

BAD = {MUTE, TOLD, WRONG}


def main() -> int:
    """Count and list."""
    wanted = [arg.casefold() for arg in sys.argv[1:] if arg != "--known"]
    started = perf_counter()
    then: dict[str, Finding] = {}
    found = {name: found_in(room, then) for name, room in ROOMS.items() if all(w in name.casefold() for w in wanted)}
    if "--known" in sys.argv:
        write_known([name for name in found if {of[name].outcome for of in (found, then) if name in of} & BAD])
    for name, finding in found.items():
        if finding.outcome != RIGHT or name in then:
            print(f"{finding.outcome:8}{'.'.join(map(str, ROOMS[name].classes)):6}{name}: {finding.reason}")
            if name in then:
                print(f"{'':14}answered: {then[name].outcome} {then[name].reason}")
    print(counted(found, then))
    print(f"{len(found)} rooms, {perf_counter() - started:.0f} s")
    return int(any(f.outcome in (WRONG, TOLD) for f in (*found.values(), *then.values())))


def found_in(room: Room, then: dict[str, Finding]) -> Finding:
    """Write a room, hold its truth to the files, and read it; answer what is asked, which `then` takes."""
    with tempfile.TemporaryDirectory() as folder:
        made = room.made()
        source = made.write(Path(folder))
        made.check(Path(folder))
        finding = judged(source, made.truth)
        if finding.outcome == RIGHT:
            with tempfile.TemporaryDirectory() as other:
                if changed := again(source, Path(other)):
                    then[room.name] = Finding(WRONG, f"read again with the room.xlsx started from it: {changed}")
        if finding.outcome in (ASKED, REFUSED):
            with tempfile.TemporaryDirectory() as other:
                then[room.name] = after(source, made, Path(other))
        return finding


def write_known(names: list[str]) -> None:
    """The list of known.py anew."""
    path = Path(__file__).with_name("known.py")
    head = path.read_text(encoding="utf-8").split("KNOWN:")[0]
    lines = "".join(f"        {json.dumps(name, ensure_ascii=False)},\n" for name in names)
    path.write_text(f"{head}KNOWN: frozenset[str] = frozenset(\n    {{\n{lines}    }}\n)\n", encoding="utf-8")


def counted(found: dict[str, Finding], then: dict[str, Finding]) -> str:
    """A line for each class, and one for all rooms; a room of two classes counts in both.

    The last columns count the rooms that are right once room.xlsx is answered, and those that are then wrong.
    """
    lines = [f"{'class':44}{'rooms':>6}" + "".join(f"{word:>8}" for word in (*OUTCOMES, "answered", "wrong"))]
    for number, title in [*CLASSES.items(), (0, "all rooms")]:
        here = [name for name in found if number in (0, *ROOMS[name].classes)]
        count, later = (Counter(of[name].outcome for name in here if name in of) for of in (found, then))
        figures = [*(count[word] for word in OUTCOMES), later[RIGHT], later[WRONG] + later[TOLD]]
        lines.append(f"{number or '':>2} {title:41}{len(here):>6}" + "".join(f"{n:>8}" for n in figures))
    return "\n".join(lines)


if __name__ == "__main__":
    sys.exit(main())
