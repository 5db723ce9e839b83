"""A workbench over an empty store, asked in-process, for the tests of its pages.

It plans the same facts once for all tests.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from fastapi.testclient import TestClient

from planned import planned_once
from sparkwright.shop import Shop, open_shop
from sparkwright.web.app import create_app
from sparkwright.web.settings import Settings

HOST = "testserver"
EXAMPLES = Path(__file__).parent.parent / "examples"
PUMP_HOUSE = (EXAMPLES / "pump-house-v8.toml").read_text(encoding="utf-8")
OLD_FOUR = (EXAMPLES / "old-four.toml").read_text(encoding="utf-8")


@contextmanager
def workbench(folder: Path, settings: Settings | None = None) -> Iterator[tuple[TestClient, Shop]]:
    """Open a workbench over a store in a folder; give what asks it, and the store."""
    shop = open_shop(folder / "shop")
    try:
        app = create_app(shop, settings or Settings(hosts=(HOST,)), planner=planned_once)
        with TestClient(app) as client:
            yield client, shop
    finally:
        shop.close()
