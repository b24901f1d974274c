"""Routes of the questions: asked, answered with a page; and of the pages there are."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.responses import FileResponse
from starlette.routing import Route

from panelstats.desk.asks import ASKS
from panelstats.desk.entries import checked
from panelstats.desk.questions import titled
from panelstats.desk.shown import back, desk_of, show, trouble, typed_in, waiting, writable
from panelstats.desk.trust import PAGE_POLICY
from panelstats.errors import PanelError

if TYPE_CHECKING:
    from pathlib import Path

    from starlette.requests import Request
    from starlette.responses import Response

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


async def ask(request: Request) -> Response:
    """Answer a question with a page."""
    desk = writable(request)
    which = request.path_params["which"]
    if which not in ASKS:
        raise PanelError("no such question", where=which, do="go back to the room and choose one that stands there")
    looked = await desk.looked()
    given = checked(ASKS[which], await typed_in(request), None if looked is None else looked["facts"])
    if await desk.ask(ASKS[which].words, which, given):
        return back("/pages/latest")
    return waiting(request, ASKS[which].words, "/pages/latest")


def _page(request: Request) -> tuple[str, Path]:
    """The page that is meant, by its key: never by a path."""
    made = desk_of(request).folder.made()
    key = request.path_params["key"]
    if key not in made:
        raise PanelError("no such page", where="the room's pages", do="go back to the room and ask again")
    return key, made[key]


async def latest(request: Request) -> Response:
    """The page that was asked for last, or why there is none."""
    desk = desk_of(request)
    if desk.asking:
        return waiting(request, desk.asking, "/pages/latest")
    key, why = desk.answered()
    if key is None and not why:
        return back()
    if key is None:
        return trouble(request, why, "Go back to the room and choose what to do next.", 200)
    return back(f"/pages/{key}")


async def shown(request: Request) -> Response:
    """A page inside the desk."""
    key, place = _page(request)
    folder = desk_of(request).folder
    beside = sorted((page.stem, each) for each, page in folder.made().items() if page.parent == place.with_suffix(""))
    values = {
        "key": key, "place": str(place), "name": titled(folder, place), "book": place.with_suffix(".xlsx").exists(),
        "beside": beside, "folder": str(place.with_suffix("")), "older": place.stat().st_mtime_ns < folder.newest(),
    }  # fmt: skip
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
    return FileResponse(book, filename=book.name, media_type=WORKBOOK)


ROUTES: list[Any] = [
    Route("/ask/{which}", ask, methods=["POST"]),
    Route("/pages/latest", latest),
    Route("/pages/{key}", shown),
    Route("/pages/{key}/page", page),
    Route("/pages/{key}/save", save),
    Route("/pages/{key}/workbook", workbook),
]
