"""Scores typed on the desk: a draft is kept at every step, and becomes a sheet when it is finished."""

from __future__ import annotations

import csv
import datetime as dt
import io
import itertools
import json
import re
from collections import Counter
from contextlib import suppress
from typing import TYPE_CHECKING, Any, NamedTuple

import anyio
from starlette.responses import Response
from starlette.routing import Route

from panelstats.desk import looking, work
from panelstats.desk.folder import key_of
from panelstats.desk.shown import back, desk_of, show, typed_in, writable
from panelstats.errors import PanelError
from panelstats.filenames import file_names

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from starlette.requests import Request

    from panelstats.desk.folder import Folder
    from panelstats.desk.state import Desk

_MOST = 20_000  # cells of one draft
_LONGEST = 200  # signs of one cell or name
_ENDS = {"low": "lowest", "high": "highest"}
_COUNTED = re.compile("([0-9]{1,9}) *[-–] *([0-9]{1,9})")  # people write either dash
_MARK = re.compile("[-+]?[0-9]{1,9}(?:[.,][0-9]{1,9})?")


class Draft(NamedTuple):
    """A sheet being typed: who tastes when, lots down, words across, the limits of the scale, what is typed so far."""

    session: str
    taster: str
    lots: list[str]
    words: list[str]
    low: str
    high: str
    cells: list[list[str]]

    def odd(self, marks: Collection[str] = ()) -> list[str]:
        """What stands outside the scale, or is neither a number nor a mark of the room, each with its place."""
        low, high = _number(self.low), _number(self.high)
        return [
            f"lot {lot}, {word}: {cell}"
            for lot, row in zip(self.lots, self.cells, strict=True) for word, cell in zip(self.words, row, strict=True)
            if cell and cell not in marks and not _within(_number(cell), low, high)
        ]  # fmt: skip

    def sheet(self) -> bytes:
        """The scores as the sheet that is kept: numbers with a decimal point, whatever was typed."""
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(["session", "lot", "taster", *self.words])
        for lot, row in zip(self.lots, self.cells, strict=True):
            marks = [cell.replace(",", ".") if _number(cell) is not None else cell for cell in row]
            writer.writerow([self.session, lot, self.taster, *marks])
        return text.getvalue().encode()


def begun(form: dict[str, str]) -> Draft:
    """A draft as its first form describes it.

    Raises
    ------
    PanelError
        Something is missing, or is not what it should be.
    """
    said = {name: form.get(name, "").strip() for name in ("session", "taster", "low", "high")}
    lots, words = _listed(form.get("lots", "")), _listed(form.get("words", ""))
    for what, given in (("session", said["session"]), ("taster", said["taster"]), ("lots", lots), ("words", words)):
        if not given:
            raise _Unfit(f"no {what} given", "fill it in")
    for name in (said["session"], said["taster"], *lots, *words):
        if len(name) > _LONGEST or not name.isprintable():
            raise _Unfit(f"{name[:40]!r} is too long, or holds signs that cannot be seen", "write a plain name")
    for name in ("low", "high"):
        if said[name] and _number(said[name]) is None:
            raise _Unfit(f"{said[name][:40]!r} is no number", f"mend the {_ENDS[name]} mark")
    low, high = _number(said["low"]), _number(said["high"])
    if low is not None and high is not None and low >= high:
        raise _Unfit(f"the lowest mark, {low:g}, is not below the highest, {high:g}", "mend one of them")
    if len(lots) * len(words) > _MOST:
        raise _Unfit(f"more than {_MOST:,} cells", "begin a sheet for each part of the lots")
    twice = [word for word, times in Counter(map(str.casefold, words)).items() if times > 1]
    if twice:
        raise _Unfit(f"{twice[0]!r} stands there twice", "name each word once")
    return Draft(**said, lots=lots, words=words, cells=[[""] * len(words) for _ in lots])


class _Unfit(PanelError):  # noqa: N818 - as its family says it
    """What was said of a new sheet cannot be."""

    def __init__(self, what: str, do: str) -> None:
        super().__init__(what, where="a new sheet", do=f"go back and {do}")


def _listed(text: str) -> list[str]:
    """Names on lines of their own or with commas between them; "1-24" counts."""
    names: list[str] = []
    for part in (each.strip() for line in text.splitlines() for each in line.split(",")):
        counted = _COUNTED.fullmatch(part)
        if counted is not None:
            first, last = map(int, counted.groups())
            if not 0 <= last - first < _MOST:
                raise _Unfit(f"{part!r} counts none, or more than {_MOST:,}", "write the first and the last, as 1-24")
            names += map(str, range(first, last + 1))
        elif part:
            names.append(part)
    return list(dict.fromkeys(names))


def _number(text: str) -> float | None:
    return float(text.replace(",", ".")) if _MARK.fullmatch(text) else None


def _within(value: float | None, low: float | None, high: float | None) -> bool:
    return value is not None and (low is None or low <= value) and (high is None or value <= high)


# --- in the folder ----------------------------------------------------------------------------------------------------


def titles(desk: Desk) -> dict[str, str]:
    """The drafts there are: key -> name."""
    return {key: path.stem for key, path in _all(desk).items()}


def _all(desk: Desk) -> dict[str, Path]:
    return {key_of(path.name): path for path in sorted(desk.folder.drafts.glob("*.json"))}


def _kept(desk: Desk, key: str) -> tuple[Path, Draft]:
    paths = _all(desk)
    if key not in paths:
        raise PanelError("no such draft", where="drafts", do="go back to the room; it may be finished already")
    return paths[key], _read(paths[key])


def _read(path: Path) -> Draft:
    """A draft from its file, which anybody may have changed."""
    try:
        draft = Draft(**json.loads(path.read_text("utf-8")))
        whole = all(isinstance(each, str) for each in (draft.session, draft.taster, draft.low, draft.high))
        whole &= all(isinstance(each, str) for each in [*draft.lots, *draft.words, *itertools.chain(*draft.cells)])
        whole &= [len(row) for row in draft.cells] == [len(draft.words)] * len(draft.lots)
    except (ValueError, TypeError, RecursionError):
        whole = False
    if not whole:
        raise PanelError("the draft cannot be read", where=path.name, do="mend the file in drafts, or take it out")
    return draft


def finished(folder: Folder) -> None:
    """Clear away drafts of which the sheet is there: a desk that was killed had finished them."""
    for path in folder.drafts.glob("*.json"):
        sheet = folder.sheets / f"{path.stem}.csv"
        with suppress(PanelError):
            if sheet.is_file() and sheet.read_bytes() == _read(path).sheet():
                path.unlink()


def _keep(desk: Desk, path: Path, draft: Draft) -> None:
    desk.folder.write(path, json.dumps(draft._asdict(), ensure_ascii=False, indent=1).encode())


# --- routes -----------------------------------------------------------------------------------------------------------


async def new(request: Request) -> Response:
    """Which session, whose scores, of which lots and words."""
    looked = await desk_of(request).looked()
    today = dt.date.today().isoformat()  # noqa: DTZ011 - the day where the room is
    return show(request, "new.html.j2", {"facts": (looked or looking.NOTHING)["facts"], "today": today})


async def begin(request: Request) -> Response:
    """Make a draft."""
    desk = writable(request)
    draft = begun(await typed_in(request))
    for word, means in (await desk.now(work.unfit, str(desk.folder.path), draft.words)).items():
        raise _Unfit(f"{word!r} over a column reads as {means}, not as a score", "choose another word for it")
    name = f"{draft.session} {draft.taster}"
    path = desk.folder.drafts / f"{file_names([name])[name]}.json"
    if path.exists():
        raise PanelError("a draft of this session and taster is there", where=path.stem, do="go back and continue it")
    _keep(desk, path, draft)
    return back(f"/drafts/{key_of(path.name)}")


async def typed(request: Request) -> Response:
    """The sheet to type into."""
    path, draft = _kept(desk_of(request), request.path_params["key"])
    return _shown(request, path, draft, await _marks(request))


def _shown(request: Request, path: Path, draft: Draft, marks: list[str], odd: Collection[str] = ()) -> Response:
    values = {"key": key_of(path.name), "name": path.stem, "draft": draft, "odd": list(odd), "marks": marks}
    return show(request, "draft.html.j2", values, 422 if odd else 200)


async def _marks(request: Request) -> list[str]:
    """The marks whose worth the room has said."""
    looked = await desk_of(request).looked(wait=None)
    return list((looked or looking.NOTHING)["facts"]["marks"])


async def save(request: Request) -> Response:
    """Keep what is typed; finish the sheet where that is asked."""
    desk = writable(request)
    path, draft = _kept(desk, request.path_params["key"])
    form = await typed_in(request)
    draft = draft._replace(cells=[
        [form.get(f"c{r}-{c}", old).strip()[:_LONGEST] for c, old in enumerate(row)]
        for r, row in enumerate(draft.cells)
    ])  # fmt: skip
    _keep(desk, path, draft)
    step = form.get("step", "")
    if step not in ("finish", "finish anyway"):
        return Response(status_code=204) if step == "auto" else back(f"/drafts/{key_of(path.name)}")
    marks = await _marks(request)
    odd = draft.odd(marks)
    if odd and step == "finish":
        return _shown(request, path, draft, marks, odd)
    name, _ = await anyio.to_thread.run_sync(desk.folder.add, f"{path.stem}.csv", io.BytesIO(draft.sheet()))
    path.unlink()
    desk.say(f"{name} is finished and lies among the sheets.")
    return back()


ROUTES: list[Any] = [
    Route("/drafts", begin, methods=["POST"]),
    Route("/drafts/new", new),
    Route("/drafts/{key}", typed, methods=["GET"]),
    Route("/drafts/{key}", save, methods=["POST"]),
]
