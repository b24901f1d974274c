"""The terminal: what is said reaches it whole, in signs it can show, and a reader who goes away breaks nothing."""

from __future__ import annotations

import codecs
import contextlib
import os
import sys
from typing import TYPE_CHECKING

from panelstats.errors import visible
from panelstats.speech import Phrase

if TYPE_CHECKING:
    from typing import TextIO

# Signs of ours that plain consoles lack, and what stands for them there.
_PLAIN = {"−": "-", "–": "-", "—": "-", "…": "...", "’": "'", "‘": "'", "“": "'", "”": "'", "≤": "<=", "≥": ">="}
_STEP = 40  # columns in which a step is told; more is cut off


class Unheard(Exception):  # noqa: N818 - no error of ours: whoever listened is gone, or his disk is full
    """Standard output takes no more; `code` is how the run ends."""

    def __init__(self, code: int) -> None:
        super().__init__(code)
        self.code = code


def prepare() -> None:
    """Let a terminal of any encoding show what it can."""
    codecs.register_error("plainly", _plainly)
    for stream in (sys.stdout, sys.stderr):
        if stream is not None:
            stream.reconfigure(errors="plainly")  # type: ignore[union-attr] # a text file, as the program starts


def _plainly(error: UnicodeError) -> tuple[str, int]:
    """What stands for signs that an encoding lacks: a plain sign, else an escape as JSON writes it."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    signs = error.object[error.start : error.end]
    return "".join(_PLAIN.get(sign) or _escaped(sign) for sign in signs), error.end


def _escaped(sign: str) -> str:
    units = sign.encode("utf-16-be", "surrogatepass").hex()
    return "".join(f"\\u{units[at : at + 4]}" for at in range(0, len(units), 4))


def say(text: str, *, aside: bool = False) -> None:
    """Print on standard output, or aside on standard error, where nobody has to listen.

    Raises
    ------
    Unheard
        Standard output takes no more.
    """
    stream = sys.stderr if aside else sys.stdout
    if stream is None:  # closed before the run began
        return
    try:
        print(visible(text), file=stream, flush=True)
    except OSError as error:
        _deafen(stream)
        if not aside:
            raise _unheard(error) from error


def _unheard(error: OSError) -> Unheard:
    if isinstance(error, BrokenPipeError):  # who reads our output has seen enough
        return Unheard(0)
    say(Phrase("the answer could not be printed: {reason}").format(reason=error.strerror), aside=True)
    return Unheard(2)


def settled(code: int) -> int:
    """The code of a run once all that was said is out, by whatever library; nothing is left to fail at exit."""
    for stream in (sys.stdout, sys.stderr):
        if stream is None:
            continue
        try:
            stream.flush()
        except OSError as error:
            _deafen(stream)
            if stream is sys.stdout:
                code = code or _unheard(error).code
    return code


def _deafen(stream: TextIO) -> None:
    """Let what is still to be flushed go nowhere."""
    with contextlib.suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


class Progress:
    """A line on a terminal that says what is being done; silent elsewhere."""

    def __enter__(self) -> Progress:
        return self

    def __call__(self, step: str) -> None:
        """Say what is being done now, in place of what was said before."""
        self._line(f"{step} ...")

    def __exit__(self, *_: object) -> None:
        self._line("")

    def _line(self, text: str) -> None:
        if sys.stderr is not None and sys.stderr.isatty():
            with contextlib.suppress(OSError):
                sys.stderr.write(f"\r{visible(text)[:_STEP]:{_STEP}}\r")
                sys.stderr.flush()
