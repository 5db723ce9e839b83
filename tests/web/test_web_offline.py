"""What a browser needs to have the workbench among its apps, and to open it without a network."""

from __future__ import annotations

import json
import struct
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from sparkwright.shop import Shop
from sparkwright.web.settings import Settings
from workbench import PUMP_HOUSE, workbench

KEY = "pump-house-v8"


@pytest.fixture
def shared(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    """A workbench that asks for a pass-phrase, before anybody has signed in."""
    with workbench(tmp_path, Settings(hosts=("testserver",), shared=True)) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="First facts")
        yield client, shop


def address_of(text: str, name: str) -> str:
    """Find where a page has one of our own files."""
    return "/static/" + name + text.partition(f"/static/{name}")[2].partition('"')[0]


def test_a_phone_can_put_the_workbench_on_its_home_screen(shared: tuple[TestClient, Shop]) -> None:
    """The sizes are those of the files: width and height in the header of a PNG (RFC 2083, section 4.1.1)."""
    client, _ = shared
    page = client.get("/sign-in").text
    answer = client.get(address_of(page, "workbench.webmanifest"))
    assert answer.headers["content-type"].startswith("application/manifest+json")
    told = json.loads(answer.content)
    assert (told["start_url"], told["scope"], told["display"]) == ("/", "/", "standalone")
    sizes = set()
    for icon in told["icons"]:
        found = client.get(icon["src"])
        assert found.status_code == 200
        assert found.headers["content-type"] == icon["type"]
        if icon["type"] == "image/png":
            width, height = struct.unpack(">II", found.content[16:24])
            assert icon["sizes"] == f"{width}x{height}"
            sizes.add(width)
    assert sizes == {192, 512}


def test_everything_that_is_kept_for_offline_is_there_before_anybody_signs_in(
    shared: tuple[TestClient, Shop],
) -> None:
    client, _ = shared
    worker = client.get(address_of(client.get("/sign-in").text, "worker.js"))
    assert worker.headers["service-worker-allowed"] == "/"
    files = json.loads(worker.text.partition("const FILES = ")[2].partition(";")[0])
    assert files[0].startswith("/static/offline.html")
    for file in files:
        assert client.get(file, follow_redirects=False).status_code == 200, file
    # And what the page without the workbench asks for is among it.
    page = client.get(files[0]).text
    for name in ("look.css", "workbench.css", "page.js", "waiting.js", "light.js", "offline.js", "mark.svg"):
        assert address_of(page, name) in files


def test_the_page_without_the_workbench_knows_no_job_and_nobody(shared: tuple[TestClient, Shop]) -> None:
    client, _ = shared
    client.cookies.set("who", "A.%20Example")
    page = client.get("/static/offline.html").text
    assert "A. Example" not in page
    assert KEY not in page
    assert "Pump-house" not in page


def test_the_way_on_names_the_reading_that_is_kept_and_no_other(tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="First facts")
        form = {"commanded_deg": "25", "speed_rpm": "2000", "seen_deg": "21", "who": "A. Example"}
        for sent_as, seen, kept in (("one", "21", "one"), ("one", "21", "one"), ("two", "late", None)):
            sent = form | {"sent_as": sent_as, "seen_deg": seen}
            answer = client.post(f"/jobs/{KEY}/light/readings", data=sent, headers={"hx-request": "true"})
            assert answer.headers.get("kept-as") == kept
        assert len(shop.evidence.of_job(KEY)) == 1
