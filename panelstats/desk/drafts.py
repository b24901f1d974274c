"""Scores typed on the desk: a draft is kept at every step, and becomes a sheet when it is finished."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
from typing import TYPE_CHECKING, Any, NamedTuple

import anyio
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from panelstats.desk.folder import key_of
from panelstats.errors import PanelError
from panelstats.filenames import file_names

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request

    from panelstats.desk.state import Desk

_MOST = 20_000  # cells of one draft
_LONGEST = 200  # signs of one cell


class Draft(NamedTuple):
    """A sheet being typed: who tastes when, lots down, words across, the limits of the scale, what is typed so far."""

    session: str
    taster: str
    lots: list[str]
    words: list[str]
    low: str
    high: str
    cells: list[list[str]]

    def odd(self) -> list[str]:
        """What stands outside the scale or is no number, each with its place."""
        told = []
        low, high = _number(self.low), _number(self.high)
        for lot, row in zip(self.lots, self.cells, strict=True):
            for word, cell in zip(self.words, row, strict=True):
                value = _number(cell)
                if cell and (value is None or (low is not None and value < low) or (high is not None and value > high)):
                    told.append(f"lot {lot}, {word}: {cell}")
        return told

    def sheet(self) -> bytes:
        """The scores as the sheet that is kept."""
        text = io.StringIO()
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(["session", "lot", "taster", *self.words])
        writer.writerows([self.session, lot, self.taster, *row] for lot, row in zip(self.lots, self.cells, strict=True))
        return text.getvalue().encode()


def begun(form: dict[str, str]) -> Draft:
    """A draft as its first form describes it."""
    said = {name: form.get(name, "").strip()[:_LONGEST] for name in ("session", "taster", "low", "high")}
    lots, words = _listed(form.get("lots", "")), _listed(form.get("words", ""))
    for what, given in (("session", said["session"]), ("taster", said["taster"]), ("lots", lots), ("words", words)):
        if not given:
            raise PanelError(f"no {what} given", where="a new sheet", do="go back and fill it in")
    for name in ("low", "high"):
        if said[name] and _number(said[name]) is None:
            raise PanelError(f"{said[name]!r} is no number", where=f"{name} of the scale", do="go back and mend it")
    if len(lots) * len(words) > _MOST:
        raise PanelError("more than 20,000 cells", where="a new sheet", do="begin a sheet for each part of the lots")
    return Draft(**said, lots=lots, words=words, cells=[[""] * len(words) for _ in lots])


def _listed(text: str) -> list[str]:
    """Names on lines of their own or with commas between them; "1-24" counts."""
    names: list[str] = []
    for part in (each.strip()[:_LONGEST] for line in text.splitlines() for each in line.split(",")):
        first, dash, last = part.partition("-")
        if dash and first.isdecimal() and last.isdecimal() and 0 <= int(last) - int(first) < _MOST:
            names += map(str, range(int(first), int(last) + 1))
        elif part:
            names.append(part)
    return list(dict.fromkeys(names))


def _number(text: str) -> float | None:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        return None


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
    try:
        return paths[key], Draft(**json.loads(paths[key].read_text("utf-8")))
    except (ValueError, TypeError) as error:
        raise PanelError("the draft cannot be read", where=paths[key].name, do="mend or remove the file") from error


def _keep(desk: Desk, path: Path, draft: Draft) -> None:
    desk.folder.write(path, json.dumps(draft._asdict(), ensure_ascii=False, indent=1).encode())


# --- routes -----------------------------------------------------------------------------------------------------------


async def new(request: Request) -> Response:
    """Which session, whose scores, of which lots and words."""
    from panelstats.desk.app import show

    desk: Desk = request.app.state.desk
    looked = await desk.looked()
    facts = looked["facts"] if looked else {"lots": [], "tasters": [], "descriptors": []}
    today = dt.date.today().isoformat()  # noqa: DTZ011 - the day where the room is
    return show(request, "new.html.j2", {"facts": facts, "today": today})


async def begin(request: Request) -> Response:
    """Make a draft."""
    desk: Desk = request.app.state.desk
    desk.check_writable()
    form = await request.form()
    draft = begun({name: str(value) for name, value in form.items()})
    name = f"{draft.session} {draft.taster}"
    path = desk.folder.drafts / f"{file_names([name])[name]}.json"
    if path.exists():
        raise PanelError("a draft of this session and taster is there", where=path.stem, do="go back and continue it")
    _keep(desk, path, draft)
    return RedirectResponse(f"/drafts/{key_of(path.name)}", 303)


async def typed(request: Request) -> Response:
    """The sheet to type into."""
    from panelstats.desk.app import show

    path, draft = _kept(request.app.state.desk, request.path_params["key"])
    return show(
        request, "draft.html.j2", {"key": request.path_params["key"], "name": path.stem, "draft": draft, "odd": []}
    )


async def save(request: Request) -> Response:
    """Keep what is typed; finish the sheet where that is asked."""
    from panelstats.desk.app import show

    desk: Desk = request.app.state.desk
    desk.check_writable()
    key = request.path_params["key"]
    path, draft = _kept(desk, key)
    form = await request.form(max_fields=_MOST + 10)
    draft = draft._replace(cells=[
        [str(form.get(f"c{r}-{c}", old)).strip()[:_LONGEST] for c, old in enumerate(row)]
        for r, row in enumerate(draft.cells)
    ])  # fmt: skip
    _keep(desk, path, draft)
    step = str(form.get("step", ""))
    if step not in ("finish", "finish anyway"):
        return Response(status_code=204) if step == "auto" else RedirectResponse(f"/drafts/{key}", 303)
    odd = draft.odd()
    if odd and step == "finish":
        return show(request, "draft.html.j2", {"key": key, "name": path.stem, "draft": draft, "odd": odd}, 422)
    name, _ = await anyio.to_thread.run_sync(desk.folder.add, f"{path.stem}.csv", io.BytesIO(draft.sheet()))
    path.unlink()
    desk.say(f"{name} is finished and lies among the sheets.")
    return RedirectResponse("/", 303)


ROUTES: list[Any] = [
    Route("/drafts", begin, methods=["POST"]),
    Route("/drafts/new", new),
    Route("/drafts/{key}", typed, methods=["GET"]),
    Route("/drafts/{key}", save, methods=["POST"]),
]
