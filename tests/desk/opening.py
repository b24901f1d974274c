"""A desk asked without a browser, and a sheet to drop on it."""

from starlette.testclient import TestClient

from panelstats.desk.app import application
from panelstats.desk.trust import Trust

PORT = 8123
HOME = f"http://127.0.0.1:{PORT}"
SHEET = "lot,taster,brisk,colour\n" + "".join(
    f"{lot},{taster},{4 + (lot * 7 + n) % 5},{3 + (lot + 2 * n) % 6}\n"
    for lot in range(1, 9)
    for n, taster in enumerate(("elm", "yew", "ash"))
)


def opened(desk, **given):
    return TestClient(Trust(application(desk), PORT, **given), base_url=HOME, follow_redirects=True)
