"""The desk's routes: what is shown, what is dropped, said, asked and answered."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import anyio
from starlette.applications import Starlette
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from panelstats.desk import drafts, work
from panelstats.desk.pages import render
from panelstats.desk.saying import said_of
from panelstats.desk.state import Desk
from panelstats.desk.trust import PAGE_POLICY, TooLarge, too_large
from panelstats.errors import PanelError

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.datastructures import FormData
    from starlette.requests import Request

_WAITING = "progress.html.j2"  # it goes on by itself: what is to be told waits for the page after it
_WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def application(desk: Desk) -> Starlette:
    """The desk of a room as an application."""
    here = __file__.rpartition("app.py")[0]
    app = Starlette(
        routes=[
            Route("/", room),
            Route("/progress", progress),
            Route("/stop", stop, methods=["POST"]),
            Route("/sheets", drop, methods=["POST"]),
            Route("/sheets/{key}", sheet),
            Route("/sheets/{key}/remove", remove, methods=["POST"]),
            Route("/sheets/{key}/say", say, methods=["POST"]),
            Route("/invented", invented, methods=["POST"]),
            Route("/starter.xlsx", starter),
            Route("/ask/{which}", ask, methods=["POST"]),
            Route("/pages/{key}", shown),
            Route("/pages/{key}/page", page),
            Route("/pages/{key}/save", save),
            Route("/pages/{key}/workbook", workbook),
            *drafts.ROUTES,
            Mount("/static", StaticFiles(directory=f"{here}static")),
        ],
        exception_handlers={PanelError: _told, TooLarge: too_large, 404: _lost, Exception: _failed},
    )
    app.state.desk = desk
    return app


def _desk(request: Request) -> Desk:
    desk: Desk = request.app.state.desk
    return desk


def show(request: Request, template: str, values: dict[str, Any] | None = None, status: int = 200) -> Response:
    """One of the desk's own pages."""
    desk = _desk(request)
    always = {"room": desk.folder.path.name, "where": str(desk.folder.path), "holder": desk.lock.holder,
              "writes": desk.lock.held, "note": [] if template == _WAITING else desk.heard()}  # fmt: skip
    return Response(render(template, {**always, **(values or {})}), status, media_type="text/html; charset=utf-8")


def waiting(request: Request, what: str, to: str) -> Response:
    """The page that tells what is being done, and goes on when it is done."""
    return show(request, _WAITING, {"what": what, "step": _desk(request).worker.step, "to": to})


def _back(to: str = "/") -> Response:
    return RedirectResponse(to, 303)


def _told(request: Request, error: Exception) -> Response:
    """An error on purpose, as a sentence with the next step."""
    what, where, do = error.args
    return show(request, "trouble.html.j2", {"what": f"{what} ({where}).", "do": f"{do}."}, 400)


def _failed(request: Request, error: Exception) -> Response:
    """A fault of ours, told as such."""
    do = "Go back to the room and try again; if it comes again, the same question on the command line says more."
    return show(
        request, "trouble.html.j2", {"what": f"The desk made a mistake ({type(error).__name__}).", "do": do}, 500
    )


def _lost(request: Request, _: Exception) -> Response:
    do = "Go back to the room: it may have been removed or renamed."
    return show(request, "trouble.html.j2", {"what": "There is nothing here.", "do": do}, 404)


# --- the room ---------------------------------------------------------------------------------------------------------


async def room(request: Request) -> Response:
    """The sheets with their lines, the questions, the pages."""
    from panelstats.desk.questions import offered

    desk = _desk(request)
    looked = await desk.looked()
    if looked is None:
        return waiting(request, "Reading the sheets", "/")
    values = {
        "looked": looked, "asks": offered(looked["facts"]), "drafts": drafts.titles(desk),
        "made": {key: page for key, page in desk.folder.made().items() if page.parent == desk.folder.pages},
    }  # fmt: skip
    return show(request, "room.html.j2", values)


async def progress(request: Request) -> Response:
    """What is being done, for the script of the page that waits."""
    desk = _desk(request)
    job = desk.job
    if job is None or job.done:
        return JSONResponse({"done": True})
    return JSONResponse({"done": False, "step": desk.worker.step, "seconds": job.seconds})


async def stop(request: Request) -> Response:
    """End what is being done."""
    await anyio.to_thread.run_sync(_desk(request).stop)
    return _back()


async def starter(request: Request) -> Response:
    """A blank score sheet to fill in."""
    content = await _desk(request).now(work.starter)
    return Response(content, media_type=_WORKBOOK, headers=_attached("starter.xlsx"))


async def invented(request: Request) -> Response:
    """The invented room among the sheets."""
    desk = _desk(request)
    desk.check_writable()
    await desk.now(work.invent, str(desk.folder.path))
    desk.say("The invented room is here: 24 lots and 9 tasters that do not exist.")
    return _back()


# --- sheets -----------------------------------------------------------------------------------------------------------


async def drop(request: Request) -> Response:
    """Keep what was dropped."""
    desk = _desk(request)
    desk.check_writable()
    async with request.form(max_files=2000, max_fields=10) as form:
        for upload in form.getlist("sheets"):
            if not isinstance(upload, str) and upload.filename:
                _, told = await anyio.to_thread.run_sync(desk.folder.add, upload.filename, upload.file)
                desk.say(told)
    return _back()


async def sheet(request: Request) -> Response:
    """How a sheet is read, with its questions."""
    desk = _desk(request)
    looked = await desk.looked()
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
    values = {"looked": looked, "file": file, "views": views, "questions": questions, "problems": problems}
    return show(request, "sheet.html.j2", {**values, "marks": marks})


def _marks_of(looked: dict[str, Any], questions: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The marks whose worth may be told: once nothing else is asked, or where they may be scores."""
    asked = [q for q in questions if not q["answer"]]
    wait = asked and not any("worths stand in sheet marks" in q["what"] for q in questions)
    return [] if wait else list(looked["marks"])


def _file(looked: dict[str, Any], key: str) -> dict[str, Any]:
    for file in looked["files"]:
        if file["key"] == key:
            return dict(file)
    raise PanelError("no such sheet", where="the room", do="go back to the room; it may have been removed or renamed")


async def remove(request: Request) -> Response:
    """Move a sheet to sheets/removed/."""
    desk = _desk(request)
    desk.check_writable()
    looked = await desk.looked(wait=None)
    file = _file(looked or {"files": []}, request.path_params["key"])
    desk.folder.remove(file["name"])
    desk.say(f"{file['name']} now lies in sheets/removed. Move it back to have it read again.")
    return _back()


async def say(request: Request) -> Response:
    """Note what the room says of a sheet."""
    desk = _desk(request)
    desk.check_writable()
    looked = await desk.looked(wait=None)
    key = request.path_params["key"]
    _file(looked or {"files": []}, key)
    form: FormData = await request.form()
    rows = said_of(looked or {}, key, {name: str(value) for name, value in form.items()})
    if any(rows.values()):
        await desk.now(work.note, str(desk.folder.path), rows)
        desk.say("Noted in room.xlsx.")
    return _back(f"/sheets/{key}")


# --- questions and pages ----------------------------------------------------------------------------------------------


async def ask(request: Request) -> Response:
    """Answer a question with a page."""
    from panelstats.desk.asks import ASKS

    desk = _desk(request)
    desk.check_writable()
    which = request.path_params["which"]
    if which not in ASKS:
        raise PanelError("no such question", where=which, do="go back to the room and choose one that stands there")
    form = await request.form()
    given = {name: str(value).strip() for name, value in form.items()}
    for entry in ASKS[which].entries:
        if entry.needed and not given.get(entry.name):
            raise PanelError(f"{entry.words} is not said", where=ASKS[which].words, do="go back and fill it in")
    made = await desk.ask(ASKS[which].words, which, given)
    if made is None:
        return waiting(request, ASKS[which].words, "/pages/latest")
    return _back("/pages/latest")


def _page(request: Request) -> tuple[str, Path]:
    """The page that is meant, by its key: never by a path."""
    made = _desk(request).folder.made()
    key = request.path_params["key"]
    if key not in made:
        raise PanelError("no such page", where="the room's pages", do="go back to the room and ask again")
    return key, made[key]


async def shown(request: Request) -> Response:
    """A page inside the desk; `latest` is the one asked for last, or why there is none."""
    desk = _desk(request)
    if request.path_params["key"] == "latest":
        if desk.asking:
            return waiting(request, desk.asking, "/pages/latest")
        key, why = desk.answered()
        if key is None and not why:
            return _back()
        if key is None:
            return show(
                request, "trouble.html.j2", {"what": why, "do": "Go back to the room and choose what to do next."}
            )
        return _back(f"/pages/{key}")
    key, place = _page(request)
    made = _desk(request).folder.made()
    beside = sorted((page.stem, each) for each, page in made.items() if page.parent == place.with_suffix(""))
    values = {"key": key, "place": str(place), "name": place.stem, "book": place.with_suffix(".xlsx").exists(),
              "beside": beside, "folder": str(place.with_suffix(""))}  # fmt: skip
    return show(request, "shown.html.j2", values)


async def page(request: Request) -> Response:
    """The page itself, which may do nothing."""
    _, place = _page(request)
    return FileResponse(place, media_type="text/html; charset=utf-8", headers={"content-security-policy": PAGE_POLICY})


async def save(request: Request) -> Response:
    """The page as a file to keep."""
    _, place = _page(request)
    return FileResponse(place, filename=place.name, headers={"content-security-policy": PAGE_POLICY})


async def workbook(request: Request) -> Response:
    """The workbook beside the page."""
    _, place = _page(request)
    book = place.with_suffix(".xlsx")
    if not book.exists():
        raise PanelError("no workbook lies beside this page", where=place.name, do="ask the question again")
    return FileResponse(book, filename=book.name, media_type=_WORKBOOK)


def _attached(name: str) -> dict[str, str]:
    return {"content-disposition": f'attachment; filename="{name}"'}
