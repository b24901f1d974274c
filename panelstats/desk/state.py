"""What a desk knows while it runs: its room, its lock, its worker, what is being done. All else is in the folder."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

from panelstats.desk import drafts, looking, work
from panelstats.desk.folder import Folder, key_of
from panelstats.desk.lock import Lock
from panelstats.desk.worker import Worker
from panelstats.errors import PanelError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from panelstats.desk.worker import Job

_AT_ONCE = 0.6  # seconds that a page waits before it shows what is being done


class Desk:
    """The desk of one room."""

    def __init__(self, folder: Path, lang: str = "en") -> None:
        self.lang = lang  # of the pages that are made
        self.folder = Folder(folder)
        _made(self.folder.path)
        self.lock = Lock(self.folder.path)
        if self.lock.held:
            try:
                self.folder.prepare()
            except PanelError:
                self.lock.release()
                raise
            drafts.finished(self.folder)
        self.worker = Worker()
        self.job: Job | None = None
        self._looking: tuple[str, Job] | None = None
        self._asking: Job | None = None
        self._looked: tuple[str, dict[str, Any]] | None = None
        self._said: list[str] = []

    def check_writable(self) -> None:
        """Refuse where another desk holds the room."""
        if not self.lock.held:
            raise PanelError(
                "this desk only reads", where=self.lock.holder or self.folder.path.name, do=self.lock.why.rstrip("."),
            )  # fmt: skip

    def say(self, sentence: str) -> None:
        """Something for the next page to tell."""
        if sentence:
            self._said.append(sentence)

    def heard(self) -> list[str]:
        """What the next page tells."""
        said, self._said = self._said, []
        return said

    async def looked(self, wait: float | None = _AT_ONCE) -> dict[str, Any] | None:
        """How the sheets are read now; None while they are still being read."""
        state = self.folder.state()
        if not state:  # nothing to read: the first page need not wait for the worker
            return dict(looking.NOTHING)
        if self._looked is not None and self._looked[0] == state:
            return self._looked[1]
        if self._looking is None or self._looking[0] != state:
            job = self._begin("Reading the sheets", looking.look, str(self.folder.path), state, self.lang)
            self._looking = (state, job)
        job = self._looking[1]
        if not await _ended(job, wait):
            return None
        if self._looking is not None and self._looking[1] is job:  # of several pages that waited, the first clears it
            self._looking = None
        found, why = job.outcome()
        if found is None or found["stands"]:
            told = why or found["stands"]
            return {**looking.NOTHING, "stands": told, "files": self.folder.listed()}
        self._looked = (state, found)
        return dict(found)

    async def ask(self, words: str, which: str, given: dict[str, str]) -> bool:
        """Begin to answer a question; whether that took no longer than a moment."""
        state = self.folder.state()
        self._asking = self._begin(words, work.ask, str(self.folder.path), state, which, given, self.lang)
        return await _ended(self._asking, _AT_ONCE)

    @property
    def asking(self) -> str:
        """The question that is being answered; "" while none is."""
        return "" if self._asking is None or self._asking.done else self._asking.what

    def answered(self) -> tuple[str | None, str]:
        """The key of the page that was asked for last, or why there is none; neither while it is made."""
        if self._asking is None or not self._asking.done:
            return None, ""
        name, why = self._asking.outcome()
        return (key_of(name), "") if name else (None, why)

    async def now(self, function: Callable[..., Any], *given: object) -> Any:
        """Something short that the worker does."""
        job = self._begin("A moment", function, *given)
        await _ended(job, None)
        found, why = job.outcome()
        if why:
            raise PanelError(why, where=self.folder.path.name, do="go back and try again")
        return found

    def stop(self) -> None:
        """End what is being done."""
        job = self.job
        if job is not None and not job.done:
            self.worker.stop()
            self.folder.tidy(self.folder.pages)
            self.say("Stopped, as you asked. Nothing was written.")
        self._looking = None

    def close(self) -> None:
        """End the worker and let the room go."""
        self.worker.close()
        self.lock.release()

    def _begin(self, what: str, function: Callable[..., Any], *given: object) -> Job:
        self.job = self.worker.begin(what, function, *given)
        return self.job


async def _ended(job: Job, wait: float | None) -> bool:
    waited = asyncio.wrap_future(job.future)
    waited.add_done_callback(lambda ended: ended.cancelled() or ended.exception())  # `outcome` tells it
    done, _ = await asyncio.wait([waited], timeout=wait)
    return bool(done)


def _made(path: Path) -> None:
    try:
        path.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise PanelError(
            f"the room's folder cannot be made: {error.strerror}", where=str(path), do="name a folder you may write"
        ) from error
