"""Columns of a drive that are put right on its page: asked once, and remembered for the logger."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from html import unescape
from typing import Any

import pytest
from fastapi.testclient import TestClient

from sparkwright.shop import Shop
from sparkwright.shop.loggers import remembered_of
from workbench import PUMP_HOUSE, workbench

HEADINGS = ["a", "b", "c", "d"]
SAID = {"column_1": "b", "quantity_1": "rpm", "column_2": "c", "quantity_2": "map_kpa", "unit_2": "kPa"}


@pytest.fixture
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path_factory.mktemp("columns")) as both:
        yield both


def log(heads: str, rows: int = 20) -> bytes:
    """A log of time, speed, load and something else under other heads."""
    lines = (f"{each / 10},{900 + each},40,7" for each in range(rows))
    return "\n".join((heads, *lines, "")).encode()


def attached(opened: tuple[TestClient, Shop], content: bytes, name: str = "road.csv") -> str:
    _, shop = opened
    key = shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in").key
    shop.files.attach(key, name, "drive", io.BytesIO(content), who="A. Example")
    return f"/jobs/{key}/drives/{shop.files.of_job(key)[-1].id}"


def said(answer: Any) -> str:
    return unescape(answer.text)


def rows(text: str) -> list[tuple[str, str]]:
    """What stands chosen in each line of the form: the column, and what it is."""
    chosen = re.findall(r'<select id="(column|quantity)-\d+"[^>]*>(.*?)</select>', text, re.DOTALL)
    values = [re.findall(r'value="([^"]*)" selected', options) for _, options in chosen]
    flat = [each[0] if each else "" for each in values]
    return list(zip(flat[::2], flat[1::2], strict=True))


def test_a_drive_without_names_asks_which_column_is_what_and_is_read_as_told(
    opened: tuple[TestClient, Shop],
) -> None:
    client, shop = opened
    page = attached(opened, log("a,b,c,d"))
    asked = client.get(page)
    assert asked.status_code == 422
    assert "must have a column of engine speed" in said(asked)
    assert f'action="{page}/columns"' in asked.text
    answer = client.post(f"{page}/columns", data=SAID, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, page)
    text = said(client.get(page))
    assert "Where it ran" in text
    assert rows(text)[:3] == [("b", "rpm"), ("c", "map_kpa"), ("", "")]
    known = remembered_of(shop.settings, HEADINGS)
    assert (known.channels, known.units) == ({"rpm": "b", "map_kpa": "c"}, {"c": "kPa"})


def test_the_next_drive_of_the_logger_is_read_without_asking(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    first = attached(opened, log("a,b,c,d"))
    client.post(f"{first}/columns", data=SAID)
    assert client.get(attached(opened, log("a,b,c,d", rows=30), "later.csv")).status_code == 200


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"column_1": "b", "quantity_1": "rpm"}, "must have a column of manifold pressure"),
        (SAID | {"unit_2": "deg"}, "c=deg: must be a unit of manifold pressure"),
        (SAID | {"unit_3": "kPa"}, "column (not given): must be chosen in the line with kPa"),
        (SAID | {"column_3": "a"}, "column = a: must be given what it is, its unit, or both"),
        (SAID | {"column_3": "a", "quantity_3": "rpm"}, "b is said to be engine speed already"),
        (
            SAID | {"column_3": "b", "unit_3": "rpm"},
            "column = b: must stand in one line",
        ),
        (SAID | {"column_3": "z", "unit_3": "rpm"}, "must name a column: a, b, c, d"),
        (SAID | {"column_3": "a", "quantity_3": "wind"}, "must name one of time_s, rpm"),
    ],
)
def test_what_cannot_be_is_refused_kept_on_the_page_and_not_remembered(
    opened: tuple[TestClient, Shop], typed: dict[str, str], sentence: str
) -> None:
    client, shop = opened
    page = attached(opened, log("a,b,c,d"))
    client.get(page)
    answer = client.post(f"{page}/columns", data=typed)
    assert answer.status_code == 422
    assert sentence in said(answer)
    assert rows(answer.text)[0] == ("b", "rpm")
    assert not remembered_of(shop.settings, HEADINGS).channels


def test_what_was_said_is_taken_back_by_emptying_its_line(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    page, headings = attached(opened, log("time_s,rpm,map_kpa,x")), ["time_s", "rpm", "map_kpa", "x"]
    client.post(f"{page}/columns", data={"column_1": "x", "quantity_1": "torque_nm"})
    assert remembered_of(shop.settings, headings).channels == {"torque_nm": "x"}
    assert rows(client.get(page).text)[0] == ("x", "torque_nm")
    client.post(f"{page}/columns", data={"column_1": "", "quantity_1": "", "unit_1": ""})
    assert remembered_of(shop.settings, headings).channels == {}
    assert rows(client.get(page).text)[0] == ("", "")


def test_a_file_that_is_no_log_offers_no_columns(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    text = client.get(attached(opened, b"It was a fine day.\n")).text
    assert "This drive can't be read</h1>" in text
    assert "/columns" not in text
