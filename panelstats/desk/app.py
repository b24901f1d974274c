"""The desk as an application: the room's page, what goes on, and all other routes together."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING

import anyio
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.responses import JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from panelstats.catalogues import language
from panelstats.desk import answering, drafts, dropped, shown, work
from panelstats.desk.answering import WORKBOOK
from panelstats.desk.shown import back, desk_of, show, waiting, writable
from panelstats.desk.trust import TooLarge, too_large
from panelstats.errors import PanelError
from panelstats.speech import heard

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.types import ASGIApp, Receive, Scope, Send

    from panelstats.desk.state import Desk

logging.getLogger("python_multipart").setLevel(logging.CRITICAL)  # a form that is none is told on the page


def application(desk: Desk) -> Starlette:
    """The desk of a room as an application."""
    here = __file__.rpartition("app.py")[0]
    app = Starlette(
        routes=[
            Route("/", room),
            Route("/progress", progress),
            Route("/stop", stop, methods=["POST"]),
            Route("/invented", invented, methods=["POST"]),
            Route("/starter.xlsx", starter),
            *dropped.ROUTES,
            *answering.ROUTES,
            *drafts.ROUTES,
            Mount("/static", StaticFiles(directory=f"{here}static")),
        ],
        middleware=[Middleware(Spoken, lang=desk.lang)],
        exception_handlers={
            PanelError: shown.told, TooLarge: too_large, OSError: shown.refused, HTTPException: shown.not_so,
            Exception: shown.failed,
        },
    )  # fmt: skip
    app.state.desk = desk
    return app


class Spoken:
    """Answers in the language of the desk."""

    def __init__(self, app: ASGIApp, lang: str) -> None:
        self.app, self.lang = app, lang

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer."""
        with language(self.lang):
            await self.app(scope, receive, send)


async def room(request: Request) -> Response:
    """The sheets with their lines, the questions, the pages."""
    from panelstats.desk.questions import answered, offered

    desk = desk_of(request)
    looked = await desk.looked()
    if looked is None:
        return waiting(request, "Reading the sheets", "/")
    values = {"looked": looked, "asks": offered(looked["facts"]), "drafts": drafts.titles(desk),
              "made": answered(desk.folder)}  # fmt: skip
    return show(request, "room.html.j2", values)


async def progress(request: Request) -> Response:
    """What is being done, for the script of the page that waits."""
    desk = desk_of(request)
    job = desk.job
    if job is None or job.done:
        return JSONResponse({"done": True})
    return JSONResponse({"done": False, "step": heard(desk.worker.step), "seconds": job.seconds})


async def stop(request: Request) -> Response:
    """End what is being done."""
    await anyio.to_thread.run_sync(desk_of(request).stop)
    return back()


async def starter(request: Request) -> Response:
    """A blank score sheet to fill in."""
    content = await desk_of(request).now(work.starter)
    kept = {"content-disposition": 'attachment; filename="starter.xlsx"'}
    return Response(content, media_type=WORKBOOK, headers=kept)


async def invented(request: Request) -> Response:
    """The invented room among the sheets."""
    desk = writable(request)
    await desk.now(work.invent, str(desk.folder.path))
    desk.say("The invented room is here: 24 lots and 9 tasters that do not exist.")
    return back()
