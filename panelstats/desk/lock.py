"""Who holds a room: one desk writes, a second one reads; the lock goes with the process that held it."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path
    from typing import IO

_NAME = ".panelstats-desk.lock"
_AT = 4096  # the byte that is locked: beyond what is written, so that others can read who holds it


_TAKEN = "Another desk holds this room ({holder}). This one only reads: close the other one to change anything."
_CLOSED = (
    "This folder cannot be written ({why}), so the desk only reads. Copy it where you may write, and open the copy."
)


class Lock:
    """A lock on a folder, held until it is let go or the process ends, however it ends.

    Attributes
    ----------
    held : bool
        Whether this desk may write.
    holder : str
        Where another desk holds the folder: its process, in words; "" otherwise.
    why : str
        Why this desk may not write, as a sentence with the next step; "" where it may.
    """

    def __init__(self, folder: Path) -> None:
        self.holder = self.why = ""
        self.held = False
        try:
            # Never through a link: a folder from elsewhere must not have us write outside it.
            handle = os.open(folder / _NAME, os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0), 0o644)
        except OSError as error:
            self.why = _CLOSED.format(why=error.strerror)
            return
        self._file: IO[str] = os.fdopen(handle, "r+", encoding="utf-8", errors="replace")
        self.held = _taken(handle)
        if self.held:
            self._file.truncate()
            self._file.write(f"process {os.getpid()}")
            self._file.flush()
        else:
            self.holder = self._file.read(200).strip() or "another process"
            self.why = _TAKEN.format(holder=self.holder)
            self._file.close()

    def release(self) -> None:
        """Let go."""
        if self.held:
            self._file.close()
        self.held = False


def _taken(file: int) -> bool:
    """Whether the system gave us the lock; it takes it back when our process is gone."""
    try:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(file, _AT, os.SEEK_SET)
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
