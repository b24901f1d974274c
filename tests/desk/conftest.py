"""A desk to ask without a browser: the application behind its trust, and a client that holds the key."""

import sys
from pathlib import Path

import pytest

sys.path[:0] = [str(Path(__file__).parent), str(Path(__file__).parents[1] / "report")]

from opening import opened  # noqa: E402

from panelstats.desk.state import Desk  # noqa: E402


@pytest.fixture(scope="session")
def desk(tmp_path_factory):
    desk = Desk(tmp_path_factory.mktemp("room"))
    yield desk
    desk.close()


@pytest.fixture
def client(desk):
    with opened(desk, key="secret") as client:
        client.get("/?key=secret")
        yield client


@pytest.fixture
def empty(desk):
    """The desk's room without a sheet or page."""
    for folder in (desk.folder.sheets, desk.folder.pages, desk.folder.drafts):
        for path in folder.rglob("*"):
            if path.is_file():
                path.unlink()
    (desk.folder.path / "room.xlsx").unlink(missing_ok=True)
    return desk.folder
