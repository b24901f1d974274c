"""Who is heard: this machine's browser with the key, on this address, and nobody else."""

from __future__ import annotations

import hmac
import secrets
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response

from panelstats.speech import heard

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

HOST = "127.0.0.1"
LARGEST = 200 * 1024 * 1024  # bytes of one upload
FORM = 8 * 1024 * 1024  # bytes of anything else: a draft of 20,000 cells takes less
_DROPPED = "/sheets"
POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; frame-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'self'"
)
# The pages of the package carry their own style and no script; shown inside, they may do nothing.
PAGE_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:; base-uri 'none'; "
    "form-action 'none'; frame-ancestors 'self'; sandbox allow-same-origin allow-modals allow-popups"
)
_ALWAYS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cache-control": "no-store",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}
_LOOKING = ("GET", "HEAD")
_DIGITS = 15  # of a length: more is more than any disk holds


class TooLarge(Exception):  # noqa: N818 - no error of ours: the upload ends here
    """More was sent than is taken."""


class Trust:
    """Lets through what comes from the browser this desk was opened in.

    Parameters
    ----------
    app : ASGI application
    port : int
        The port that is listened on.
    key : str, optional
        The random key of the address; drawn where not given.
    """

    def __init__(self, app: ASGIApp, port: int, key: str | None = None) -> None:
        self.app, self.port = app, port
        self.key = key or secrets.token_urlsafe(32)
        self.cookie = f"panelstats-{port}"

    @property
    def address(self) -> str:
        """Where the desk is opened first."""
        return f"http://{HOST}:{self.port}/?key={self.key}"

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer, refuse, or let through."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        request = Request(scope)
        most = LARGEST if scope["path"] == _DROPPED else FORM
        answer = self._answer(request, most)
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if taken > most:
                raise TooLarge
            return message

        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                given = {name for name, _ in message["headers"]}
                always = {**_ALWAYS, "content-security-policy": POLICY}
                message["headers"] += [(n.encode(), v.encode()) for n, v in always.items() if n.encode() not in given]
            await send(message)

        await (answer or self.app)(scope, counted, guarded)

    def _answer(self, request: Request, most: int) -> Response | None:
        """What is answered without asking the desk; None where it may answer."""
        if not self._is_ours(request):
            return _refusal("Only the desk’s own page, at its own address, may ask for this.")
        if request.method not in (*_LOOKING, "POST"):
            return _refusal("The desk knows no such request.", 405)
        given = request.query_params.get("key")
        if given is not None and request.method in _LOOKING and self._is_key(given):
            moved = RedirectResponse("/", 303)
            moved.set_cookie(self.cookie, self.key, httponly=True, samesite="strict", path="/")
            return moved
        if not self._is_key(request.cookies.get(self.cookie, "")):
            return _refusal("Open the desk by the whole address that the command printed: it carries the key.")
        length = request.headers.get("content-length") or "0"
        if not (length.isascii() and length.isdecimal()):
            return _refusal("The desk cannot tell how much is sent. Go back and send it again.", 400)
        return too_large(request) if len(length) > _DIGITS or int(length) > most else None

    def _is_ours(self, request: Request) -> bool:
        """Whether the request names this desk, and comes from none but its own pages or the address line."""
        homes = {f"{HOST}:{self.port}", f"localhost:{self.port}"}
        asking = request.headers
        return (
            asking.get("host") in homes
            and asking.get("origin", f"http://{HOST}:{self.port}") in {f"http://{home}" for home in homes}
            and asking.get("sec-fetch-site", "none") in {"none", "same-origin"}
        )

    def _is_key(self, given: str) -> bool:
        return hmac.compare_digest(given.encode(), self.key.encode())


def _refusal(why: str, status: int = 403) -> Response:
    return PlainTextResponse(heard(why), status)


def too_large(request: Request, *_: object) -> Response:
    """What is told where more was sent than is taken."""
    if request.url.path != _DROPPED:
        return _refusal("That is more than a form of the desk holds. Go back and send less at once.", 413)
    return _refusal(
        "That is more than 200 MB at once. Go back and drop fewer sheets, or save them as csv, which is smaller.", 413
    )
