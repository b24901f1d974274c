"""Routes of the sheets: dropped, shown as they are read, answered, taken out."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import anyio
from starlette.datastructures import UploadFile
from starlette.routing import Route

from panelstats.desk import looking, work
from panelstats.desk.saying import said_of
from panelstats.desk.shown import back, desk_of, show, typed_in, waiting, writable
from panelstats.errors import PanelError

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import Response

_MOST_FILES = 5000  # dropped at once
# What systems and programs leave in a folder of sheets.
_HIDDEN, _SYSTEM = (".", "~$"), ("thumbs.db", "desktop.ini")


async def drop(request: Request) -> Response:
    """Keep what was dropped."""
    desk = writable(request)
    async with request.form(max_files=_MOST_FILES, max_fields=10) as form:
        files = [each for each in form.getlist("sheets") if isinstance(each, UploadFile) and each.filename]
        if not files:
            raise PanelError("no sheet was chosen", where="the room", do="go back, choose one or several, and add them")
        for file in files:
            name = (file.filename or "").replace("\\", "/").rpartition("/")[2]
            if name.startswith(_HIDDEN) or name.casefold() in _SYSTEM:
                desk.say(f"{name} was left out: a file of the system, no sheet.")
                continue
            _, told = await anyio.to_thread.run_sync(desk.folder.add, file.filename or "", file.file)
            desk.say(told)
    return back()


async def sheet(request: Request) -> Response:
    """How a sheet is read, with its questions."""
    looked = await desk_of(request).looked()
    key = request.path_params["key"]
    if looked is None:
        return waiting(request, "Reading the sheets", f"/sheets/{key}")
    file = _file(looked, key)
    views = looked["views"].get(key, [])
    places = {view["sheet"]: n for n, view in enumerate(views, 1)}
    mine = [q for q in looked["questions"] if q["file"] == file["name"]]
    questions = [{**q, "number": n, "view": places.get(q["sheet"], 1)} for n, q in enumerate(mine, 1)]
    marks = _marks_of(looked, mine)
    told = {mark["mark"] for mark in marks}  # asked above the sheet, not told a second time below
    problems = [p for p in looked["problems"] if p["file"] == file["name"] and p["value"] not in told]
    after = next((each for each in looked["files"] if each["state"] == "questions" and each["key"] != key), None)
    values = {"looked": looked, "file": file, "views": views, "questions": questions, "problems": problems}
    return show(request, "sheet.html.j2", {**values, "marks": marks, "after": after})


def _marks_of(looked: dict[str, Any], questions: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The marks whose worth may be told: once nothing else is asked, or where they may be scores."""
    asked = [q for q in questions if not q["answer"]]
    wait = asked and not any(q["worths"] for q in questions)
    return [] if wait else list(looked["marks"])


def _file(looked: dict[str, Any], key: str) -> dict[str, Any]:
    for file in looked["files"]:
        if file["key"] == key:
            return dict(file)
    raise PanelError("no such sheet", where="the room", do="go back to the room; it may have been removed or renamed")


async def remove(request: Request) -> Response:
    """Move a sheet to sheets/removed/."""
    desk = writable(request)
    looked = await desk.looked(wait=None)
    file = _file(looked or looking.NOTHING, request.path_params["key"])
    desk.folder.remove(file["name"])
    desk.say(f"{file['name']} now lies in sheets/removed. Move it back to have it read again.")
    return back()


async def say(request: Request) -> Response:
    """Note what the room says of a sheet."""
    desk = writable(request)
    looked = await desk.looked(wait=None) or looking.NOTHING
    key = request.path_params["key"]
    _file(looked, key)
    rows = said_of(looked, key, await typed_in(request))
    if any(rows.values()):
        await desk.now(work.note, str(desk.folder.path), rows)
        desk.say("Noted in room.xlsx.")
    else:
        desk.say("Nothing was chosen that is not so already.")
    return back(f"/sheets/{key}")


ROUTES: list[Any] = [
    Route("/sheets", drop, methods=["POST"]),
    Route("/sheets/{key}", sheet),
    Route("/sheets/{key}/remove", remove, methods=["POST"]),
    Route("/sheets/{key}/say", say, methods=["POST"]),
]
