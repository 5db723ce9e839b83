"""What tests of several subjects use: places for a store, and a workbench before a real browser."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from databases import Here, new_database, postgresql, programs
from sparkwright.shop import Shop

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from real_workbench import Served


def pytest_configure() -> None:
    """Let a run that is told to end take down what it has begun, as it does at Ctrl+C."""
    signal.signal(signal.SIGTERM, signal.default_int_handler)


@pytest.fixture(scope="session")
def postgresql_server() -> Iterator[str]:
    folder = programs()
    if folder is None:
        pytest.skip("PostgreSQL is not installed; Debian's package is postgresql")
    with postgresql(folder) as server:
        yield server


@pytest.fixture(params=["sqlite", "postgresql"])
def here(request: pytest.FixtureRequest, tmp_path: Path) -> Here:
    """A place where no store is yet."""
    if request.param == "sqlite":
        return Here(str(tmp_path / "store"), None)
    return Here(new_database(request.getfixturevalue("postgresql_server")), tmp_path / "store.files")


@pytest.fixture
def shop(here: Here) -> Iterator[Shop]:
    """An empty store."""
    with here.open() as shop:
        yield shop


@pytest.fixture(scope="session")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A workbench served by a process of its own, over a store that all tests of this run share."""
    from real_workbench import served

    with served(tmp_path_factory.mktemp("bench") / "shop") as process:
        yield process


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    """Debian's Chromium; imported here, so that only tests in a browser wait for it.

    Ended with the module, for it holds an event loop that tests of other subjects may want for themselves.
    """
    from playwright.sync_api import sync_playwright

    from real_workbench import CHROMIUM, open_chromium

    if not CHROMIUM.exists():
        pytest.skip("Chromium is not installed; Debian's package is chromium")
    with sync_playwright() as playwright:
        browser = open_chromium(playwright)
        yield browser
        browser.close()
