"""What can't be used, and what can't be done now, is answered with a sentence: by pages and API alike."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from databases import new_database
from sparkwright.errors import Refusal
from sparkwright.plan.exchange import read_map
from sparkwright.shop import Shop, open_shop
from sparkwright.shop.revisions import Jobs
from sparkwright.web import api
from sparkwright.web.app import create_app
from sparkwright.web.pages import PAGES
from sparkwright.web.sessions import set_passphrase
from sparkwright.web.settings import Settings
from workbench import HOST, OLD_FOUR, workbench

pytestmark = pytest.mark.security

FAULT = "fault of the program"


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as both:
        yield both


@pytest.mark.parametrize(
    "text", ["\u6f22", "\x00", "\r\nset-cookie: a=b", "furlong", "\u202e", "a;b", "x" * 999]
)
def test_units_that_are_none_are_refused(opened: tuple[TestClient, Shop], text: str) -> None:
    client, _ = opened
    answer = client.post("/reading", data={"units": text}, headers={"hx-request": "true"})
    assert answer.status_code == 422
    assert answer.text.startswith("units = ")
    assert answer.text.endswith('": must be metric or inch')
    assert "set-cookie" not in answer.headers
    light = client.post("/reading", data={"brightness": text}, headers={"hx-request": "true"})
    assert (light.status_code, light.text.endswith('": must be auto or light or dark')) == (422, True)


@pytest.mark.parametrize("sent", [{}, {"units": ""}, {"units": "inch", "brightness": "dark"}])
def test_units_and_brightness_are_kept(opened: tuple[TestClient, Shop], sent: dict[str, str]) -> None:
    client, _ = opened
    answer = client.post("/reading", data=sent, follow_redirects=False)
    assert answer.status_code == 303
    assert {name: client.cookies[name] for name in client.cookies} == {
        name: value for name, value in sent.items() if value
    }


@pytest.mark.parametrize("sign", [chr(code) for code in (0x1F, 0x7F, 0x01, 0x200B)])
def test_a_sign_that_does_not_print_is_no_part_of_a_number(sign: str) -> None:
    """Python's `strip` takes U+001F for a blank, its `float` doesn't."""
    with pytest.raises(Refusal) as refused:
        read_map(f"kPa by rpm,1000,2000\n90,10,{sign}20\n40,20,30")
    shown = ascii(sign)[1:-1]
    assert str(refused.value) == (f'map, line 2, column 3 = "{shown}20": must be a number')
    with pytest.raises(Refusal, match=r"map.rpm, row 1, place 1"):
        read_map(
            '{"schema": "urn:sparkwright:map:1", "rpm": ["\\u001f1000"], "kpa": [40], "advance_deg": [[20]]}'
        )


def test_blanks_around_a_number_are_none_of_it() -> None:
    spark_map = read_map("kPa by rpm, 1000 ,\u202f2000\u2009\n90,\u00a010\u00a0,20\n40,20, 30")
    assert (spark_map.rpm.tolist(), spark_map.advance_deg.tolist()) == (
        [1000.0, 2000.0],
        [[20.0, 30.0], [10.0, 20.0]],
    )


def test_a_path_can_not_write_lines_into_the_log(
    opened: tuple[TestClient, Shop], monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    client, _ = opened

    def fault(jobs: Jobs, key: str) -> None:
        raise RuntimeError("on purpose")

    monkeypatch.setattr(Jobs, "latest", fault)
    with caplog.at_level(logging.ERROR):
        answer = client.get("/jobs/a%0aERROR%20made%20up%1b%5b2J")
    assert answer.status_code == 500
    assert FAULT in answer.text
    (line,) = [each.getMessage() for each in caplog.records if each.name == "sparkwright.web.app"]
    assert line.endswith(r" at /jobs/a\nERROR made up\x1b[2J")


def every_way_in() -> Iterator[tuple[str, str]]:
    """All methods and addresses of pages and API, with values put into them."""
    values = {"key": "old-four", "name": "timing-tape", "file_id": "1", "kept_id": "1"}
    for router in (*PAGES, api.router):
        for route in router.routes:
            if isinstance(route, APIRoute):
                path = route.path
                for name in route.param_convertors:
                    path = path.replace(f"{{{name}}}", values.get(name, "1"))
                yield from ((method, path) for method in sorted(route.methods or ()))


@pytest.mark.parametrize("shared", [False, True])
def test_a_database_that_is_gone_is_said_everywhere(
    postgresql_server: str, tmp_path: Path, shared: bool, caplog: pytest.LogCaptureFixture
) -> None:
    address = new_database(postgresql_server)
    why = "PostgreSQL has no such database or user; check the address"
    answered: dict[tuple[str, str], tuple[int, bool, str]] = {}
    with open_shop(address, files=tmp_path / "files") as shop:
        shop.jobs.create(OLD_FOUR, who="A. Example", why="First facts")
        set_passphrase(shop, "seven brass kettles")
        settings = Settings(hosts=(HOST,), shared=shared)
        with (
            TestClient(create_app(shop, settings)) as client,
            psycopg.connect(postgresql_server.format(name="postgres"), autocommit=True) as server,
        ):
            name = address.partition("@/")[2].partition("?")[0]
            server.execute(f"DROP DATABASE {name} WITH (FORCE)".encode())
            for method, path in every_way_in():
                answer = client.request(method, path, follow_redirects=False)
                answered[method, path] = (answer.status_code, "retry-after" in answer.headers, answer.text)
    for way, (status, again, said) in answered.items():
        assert status != 500, way
        assert FAULT not in said, way
        assert again is (status == 503), way
        if status == 503:
            assert why in said
            assert "postgres" not in said.replace("PostgreSQL", "")
            assert address not in said
    gone = {way for way, (status, *_) in answered.items() if status == 503}
    assert {("GET", "/"), ("GET", "/jobs/old-four"), ("GET", "/jobs/old-four/map")} <= gone
    assert {("GET", "/api/v1/jobs"), ("GET", "/api/v1/jobs/old-four/plan")} <= gone
    assert '"problems":["The store: PostgreSQL has no such' in answered["GET", "/api/v1/jobs"][2]
    assert any(why in record.getMessage() for record in caplog.records)
