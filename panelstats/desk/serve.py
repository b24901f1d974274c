"""A desk opened: its server on this machine, its address, its launcher."""

from __future__ import annotations

import signal
import socket
import threading
from pathlib import Path
from typing import TYPE_CHECKING

from panelstats.desk.launcher import launched
from panelstats.errors import PanelError

if TYPE_CHECKING:
    from collections.abc import Callable


def serve(
    folder: Path,
    *,
    say: Callable[[str], None],
    open_browser: bool = True,
    port: int = 0,
    launcher: Path | None = None,
    lang: str = "en",
) -> None:
    """Open the desk of a room until it is ended with Ctrl-C.

    Parameters
    ----------
    folder : Path
        The room; made where it does not exist.
    say : callable
        Told the address.
    open_browser : bool
        Open the address in the browser.
    port : int
        0 for a free one.
    launcher : Path, optional
        Write a file that opens this desk, and stop.
    lang : str
        Language of the pages it makes.
    """
    if launcher is not None:
        say(f"wrote {launched(folder, launcher)}: a double click opens the desk")
        return
    if folder.exists() and not folder.is_dir():
        raise PanelError(
            "a room is a folder, and this is a file", where=str(folder), do="name a folder; drop the file there"
        )
    import uvicorn

    from panelstats.desk.app import application
    from panelstats.desk.state import Desk
    from panelstats.desk.trust import HOST, Trust

    with socket.socket() as door:
        try:
            door.bind((HOST, port))
            door.listen()  # whoever is told the address may come at once
        except OSError as error:
            raise PanelError(
                "the port is taken or not allowed", where=f"port {port}", do="leave --port out: a free one is found"
            ) from error
        desk = Desk(folder, lang)
        desk.worker.warm()
        guarded = Trust(application(desk), door.getsockname()[1])
        say(f"the desk of {desk.folder.path} is open at\n{guarded.address}\nEnd it with Ctrl-C; nothing is lost.")
        if desk.lock.why:
            say(desk.lock.why)
        if open_browser:
            import webbrowser

            threading.Thread(target=webbrowser.open, args=(guarded.address,), daemon=True).start()
        for ending in (signal.SIGINT, signal.SIGTERM):  # both end the desk in order: the worker goes with it
            signal.signal(ending, signal.default_int_handler)
        try:
            config = uvicorn.Config(
                guarded, log_level="critical", access_log=False, lifespan="off", server_header=False
            )
            uvicorn.Server(config).run(sockets=[door])
        except KeyboardInterrupt:
            pass
        finally:
            desk.close()
