"""What every route answers with: a page of the desk, the page that waits, the way back, a sentence on what is wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.datastructures import UploadFile
from starlette.responses import RedirectResponse, Response

from panelstats.desk.pages import render
from panelstats.speech import heard

if TYPE_CHECKING:
    from starlette.requests import Request

    from panelstats.desk.state import Desk

_WAITING = "progress.html.j2"  # it goes on by itself: what is to be told waits for the page after it
_FIELDS = 25_000  # of one form: the cells of a draft, the columns of a wide sheet


def desk_of(request: Request) -> Desk:
    """The desk that is asked."""
    desk: Desk = request.app.state.desk
    return desk


def writable(request: Request) -> Desk:
    """The desk that is asked, where it may write.

    Raises
    ------
    PanelError
        It only reads.
    """
    desk = desk_of(request)
    desk.check_writable()
    return desk


async def typed_in(request: Request) -> dict[str, str]:
    """What stands in the fields of a form; a file among them counts for nothing."""
    async with request.form(max_fields=_FIELDS) as form:
        return {name: value for name, value in form.items() if not isinstance(value, UploadFile)}


def show(request: Request, template: str, values: dict[str, Any] | None = None, status: int = 200) -> Response:
    """One of the desk's own pages."""
    desk = desk_of(request)
    always = {"room": desk.folder.path.name, "where": str(desk.folder.path), "why": desk.lock.why,
              "writes": desk.lock.held, "note": [] if template == _WAITING else desk.heard()}  # fmt: skip
    return Response(render(template, {**always, **(values or {})}), status, media_type="text/html; charset=utf-8")


def waiting(request: Request, what: str, to: str) -> Response:
    """The page that tells what is being done, and goes on when it is done."""
    return show(request, _WAITING, {"what": what, "step": desk_of(request).worker.step, "to": to})


def back(to: str = "/") -> Response:
    """On to another page."""
    return RedirectResponse(to, 303)


# --- what is wrong ----------------------------------------------------------------------------------------------------


def trouble(request: Request, what: str, do: str, status: int = 400) -> Response:
    """A sentence on what is wrong, and the next step."""
    return show(request, "trouble.html.j2", {"what": heard(what), "do": heard(do)}, status)


def told(request: Request, error: Exception) -> Response:
    """An error on purpose."""
    what, where, do = error.args
    return trouble(request, f"{heard(what)} ({heard(where)}).", f"{heard(do)}.")


def refused(request: Request, error: Exception) -> Response:
    """The folder, or the disk, does not let the desk do something."""
    why = getattr(error, "strerror", None) or type(error).__name__
    do = "See that the folder is there, may be written, and that its disk has room; then try again."
    return trouble(request, f"The room's folder refused: {why}.", do, 507)


def failed(request: Request, error: Exception) -> Response:
    """A fault of ours, told as such."""
    do = "Go back to the room and try again; if it comes again, the same question on the command line says more."
    return trouble(request, f"The desk made a mistake ({type(error).__name__}).", do, 500)


_NOT_SO = {
    404: ("There is nothing here.", "Go back to the room: it may have been removed or renamed."),
    405: ("This is nothing to open by itself.", "Go back to the room and press what stands there."),
}
_UNREAD = (
    "What was sent cannot be read as a form.", "Go back to the room and send it again, in smaller parts if it is large."
)  # fmt: skip


def not_so(request: Request, error: Exception) -> Response:
    """A request that no page of the desk makes."""
    status = getattr(error, "status_code", 400)
    return trouble(request, *_NOT_SO.get(status, _UNREAD), status)
