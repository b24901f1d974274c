"""Settings for every test: one thread a process, repeatable examples (`fresh` draws new ones), one browser."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as many processes as cores: more threads only wait for each other

import pytest
from hypothesis import HealthCheck, settings

settings.register_profile("fresh", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("repeatable", settings.get_profile("fresh"), derandomize=True)
settings.load_profile("repeatable")


@pytest.fixture(scope="session")
def driver(tmp_path_factory):
    """A browser for all tests of pages that this process runs."""
    from tests.report.browser import browser

    with browser(tmp_path_factory.mktemp("profile")) as opened:
        yield opened
