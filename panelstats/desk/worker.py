"""The one process in which sheets are read and questions answered, so that the page stays alive and can say stop."""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import os
import signal
import threading
import time
from concurrent.futures import CancelledError, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TYPE_CHECKING, Any

from panelstats.errors import IN_PYTHON, PanelError, SheetError, visible
from panelstats.speech import Phrase, heard

if TYPE_CHECKING:
    from collections.abc import Callable

_ROOM_FOR_STEP = 200  # bytes of the name of a step
# Objects made between two searches for cycles, as on the command line: a search costs more time than it saves memory.
_SELDOM = 500_000
STOPPED = "Stopped, as you asked. Nothing was written."


class Job:
    """Something being worked out: what, since when, and its outcome once there is one."""

    def __init__(self, what: str, future: Future[Any]) -> None:
        self.what, self.future, self.began = what, future, time.monotonic()
        self.stopped = False

    @property
    def done(self) -> bool:
        """Whether there is an outcome."""
        return self.future.done()

    @property
    def seconds(self) -> int:
        """How long it has taken so far."""
        return int(time.monotonic() - self.began)

    def outcome(self) -> tuple[Any, str]:
        """What was found, and "" or else why nothing was: a sentence with the next step."""
        try:
            return self.future.result(0), ""
        except PanelError as error:
            return None, in_words(error)
        except BrokenProcessPool:
            return None, STOPPED if self.stopped else _GONE
        except MemoryError:
            return None, _GONE
        except CancelledError:
            return None, STOPPED
        except Exception as error:  # noqa: BLE001 - a fault of ours: told as such, and the desk stays open
            return None, _MISTAKE.format(kind=type(error).__name__)


_MISTAKE = "The desk made a mistake ({kind}). Take the sheet out that was added last, or ask something else."
_GONE = "The machine ran out of memory or ended the work. Close other programs, or ask of fewer sheets, and ask again."


_DO = Phrase("What to do:")


def in_words(error: PanelError) -> str:
    """An error as the desk tells it: what, where, and what to do here rather than on a command line."""
    if isinstance(error, SheetError) and error.problems is not None:
        number = len(error.problems)
        things = "1 thing in the sheets stands" if number == 1 else f"{number:,} things in the sheets stand"
        return f"{things} open. Answer or mend under “how we read it”, or tick “without what is open” and ask again."
    what, where, do = error.args
    return visible(f"{heard(what)} ({heard(where)}). {_DO} {heard(do)}.".replace(IN_PYTHON, ""))


class Worker:
    """One process, one job at a time."""

    def __init__(self) -> None:
        self._context = multiprocessing.get_context("spawn")
        self._step = self._context.Array("c", _ROOM_FOR_STEP, lock=False)
        self._process = self._context.Value("i", 0, lock=False)
        self._pool: ProcessPoolExecutor | None = None
        self._jobs: list[Job] = []

    @property
    def step(self) -> str:
        """What is being done."""
        return self._step.value.decode("utf-8", "ignore")

    def begin(self, what: str, function: Callable[..., Any], *given: object) -> Job:
        """Start a job, in the process that is there or in a new one."""
        self._jobs = [job for job in self._jobs if not job.done]
        if not self._jobs:
            self._step.value = b"getting ready"
        job = Job(what, self._submit(function, *given))
        self._jobs.append(job)
        return job

    def warm(self) -> None:
        """Start the process before it is needed."""
        self._submit(os.getpid)

    def stop(self) -> None:
        """End what is being done, and what waits for it, at once; the next job gets a new process."""
        for job in self._jobs:
            job.stopped = True
        self.close()
        for job in self._jobs:
            with contextlib.suppress(Exception, CancelledError):  # however it ended
                job.future.result(10)

    def close(self) -> None:
        """End the process."""
        pool, self._pool = self._pool, None
        if pool is None:
            return
        if self._process.value:
            with contextlib.suppress(OSError):
                os.kill(self._process.value, getattr(signal, "SIGKILL", signal.SIGTERM))
            self._process.value = 0
        pool.shutdown(wait=False, cancel_futures=True)

    def _submit(self, function: Callable[..., Any], *given: object) -> Future[Any]:
        if self._pool is not None:
            with contextlib.suppress(BrokenProcessPool):  # it died since: a new one is started
                return self._pool.submit(function, *given)
        self._pool = ProcessPoolExecutor(1, self._context, initializer=_begun, initargs=(self._step, self._process))
        return self._pool.submit(function, *given)


_TOLD: list[Any] = []


def _begun(step: Any, process: Any) -> None:
    """In the worker: remember where steps are told, get the libraries ready, and end when the desk is gone."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the desk decides
    gc.set_threshold(_SELDOM)
    _TOLD[:] = [step]
    process.value = os.getpid()
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    import panelstats

    panelstats.read_scores  # noqa: B018 - loads what reading takes


def _end_with(parent: Any) -> None:
    parent.join()
    os._exit(1)


def tell(step: str) -> None:
    """Name the step that begins."""
    if _TOLD:
        _TOLD[0].value = step.encode()[: _ROOM_FOR_STEP - 1]
