"""Rows with speeds of their own on page and API: typed in, shown, exported, brought back."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient

from planned import plan_of
from sparkwright.job import Job
from sparkwright.plan.exchange import read_map, write_map
from sparkwright.plan.load_terms import loads_of
from sparkwright.shop import Shop
from sparkwright.web.filled import fill
from sparkwright.web.forms import all_fields, groups
from workbench import PUMP_HOUSE, workbench

KEY = "pump-house-v8"
MAP = f"/jobs/{KEY}/map"
API = f"/api/v1/jobs/{KEY}"
ROWS = "[[32, 500, 900], [60, 500, 1500, 3600], [85, 500, 1500, 2600, 3600]]"
ON_ROWS = PUMP_HOUSE.replace("[controller]\n", f"[controller]\nrows = {ROWS}\n")
JOB = Job.from_toml(ON_ROWS)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(ON_ROWS, who="A. Example", why="started")
        yield client, shop


@pytest.fixture
def client(opened: tuple[TestClient, Shop]) -> TestClient:
    return opened[0]


def test_the_form_shows_a_row_a_line_and_reads_it_back() -> None:
    form = {field.name: field.text for field in all_fields(groups(["controller"], JOB.facts(), "metric"))}
    assert form["controller.rows"] == "32, 500, 900\n60, 500, 1500, 3600\n85, 500, 1500, 2600, 3600"
    typed = fill({"controller.rows": "32 500 900\n60, 500, 3000"}, JOB.facts())
    assert not typed.problems
    assert typed.tables["controller"]["rows"] == [[32, 500, 900], [60, 500, 3000]]


def test_a_row_without_speeds_is_refused_beside_its_field() -> None:
    typed = fill({"controller.rows": "32\n60, 500, 3000"}, JOB.facts())
    assert "must give each row 1 to 40 speeds" in str(typed.problems)


def test_the_map_page_sets_what_the_controller_makes_without_colour(client: TestClient) -> None:
    assert client.get(f"{API}/plan").status_code == 200
    page = client.get(MAP).text
    assert page.count("held by its row&#39;s own cells") == 6
    assert "Numbers without colour stand at speeds that their row doesn" in page
    why = client.get(f"{MAP}/why", params={"cell": "0-3"}).text
    assert "the controller makes this of its cells at 900 rpm, kept beyond it." in why


def test_a_map_goes_out_empty_where_a_row_has_no_speed_and_comes_back(client: TestClient) -> None:
    text = client.get(f"{API}/map", params={"as": "csv"}).text
    assert text.splitlines()[1].endswith(",,,")
    page = client.post(f"{MAP}/held-against", data={"number": "1", "text": text})
    assert page.status_code == 200
    assert "cells is worth changing" in page.text
    other = text.replace("\n32,", "\n30,")
    refused = client.post(f"{MAP}/held-against", data={"number": "1", "text": other})
    assert refused.status_code == 422
    assert "a row at 30 kPa: must be one of the controller" in refused.text


def test_a_map_of_rows_is_taken_over_the_api_as_the_cells_that_the_controller_has(
    opened: tuple[TestClient, Shop],
) -> None:
    client, shop = opened
    spark_map = plan_of(JOB).cells.spark_map
    later = spark_map.advance_deg.copy()
    later[1, 2] -= 2.0
    text = write_map(type(spark_map)(spark_map.rpm, spark_map.kpa, later), "csv", loads_of(JOB))
    body = {"map": text, "who": "A. Example", "why": "as found", "based_on": 1, "reason": "as found"}
    answer = client.put(f"{API}/map", json=body)
    assert answer.status_code == 200, answer.text
    hand = shop.jobs.latest(KEY).job.hand
    assert [(cell.rpm, cell.kpa) for cell in hand] == [(1500.0, 60.0)]
    again = client.get(f"{API}/map", params={"as": "csv"}).text
    assert np.array_equal(
        read_map(again, loads_of(JOB)).advance_deg, read_map(text, loads_of(JOB)).advance_deg
    )


def test_a_cell_at_a_speed_that_its_row_lacks_cannot_be_set(client: TestClient) -> None:
    """Of a block only those are set that the controller has, and what they move is shown too."""
    asked = {"number": 1, "hand": [], "do": "set", "block": [1, 0, 1, 4], "text": "12"}
    tried = client.post(f"{MAP}/try", json=asked).json()
    shown = {(cell["row"], cell["column"]): cell for cell in tried["cells"]}
    assert [place for place, cell in shown.items() if cell["deg"] == 12.0] == [(1, 0), (1, 2), (1, 4)]
    assert shown[1, 1]["value"] == 12.0
    assert shown[1, 3]["deg"] is None
    assert any("2 cells left out, at a speed that its row does not have." in said for said in tried["says"])
    typed = {"number": "1", "hand": '[[1, 1, 12, ""]]', "who": "A. Example"}
    saved = client.post(f"{MAP}/save", data=typed)
    assert saved.status_code == 422
    assert "must stand at a speed of its row" in saved.text


def test_axes_are_not_chosen_in_place_of_rows_and_it_is_said(client: TestClient) -> None:
    page = client.get(f"{MAP}/axes", params={"speeds": "8", "loads": "6"})
    assert "rows have speeds of their own and are kept: nothing is chosen." in page.text
    assert "Take them into the job" not in page.text
