"""Speeds and loads chosen for a controller, on the page and over the API, and taken into the job."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from sparkwright import cli
from sparkwright.shop import Shop
from workbench import PUMP_HOUSE, workbench

KEY = "pump-house-v8"
AXES = f"/jobs/{KEY}/map/axes"
API = f"/api/v1/jobs/{KEY}/axes"
SMALL = {"speeds": "6", "loads": "5", "rpm_step": "100", "kpa_step": "1"}
PEGGED = PUMP_HOUSE + '\n[[pegs]]\nrpm = 1100\nkpa = 60\nadvance_deg = 18\nreason = "tried"\n'


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="started")
        yield client, shop


def test_axes_are_shown_beside_even_ones_and_taken_as_a_change_with_why(
    opened: tuple[TestClient, Shop],
) -> None:
    client, shop = opened
    client.get(f"/api/v1/jobs/{KEY}/plan")
    assert f'href="{AXES}"' in client.get(f"/jobs/{KEY}/map").text
    first = client.get(AXES)
    assert 'name="speeds" value="16"' in first.text
    page = client.get(AXES, params=SMALL).text
    for said in ("of torque", "evenly spaced", "Torque given away", "Take them into the job"):
        assert said in page
    form = SMALL | {"number": "1", "who": "B. Example"}
    assert client.post(AXES, data=form, follow_redirects=False).status_code == 303
    saved = shop.jobs.latest(KEY)
    assert saved.number == 2
    assert (saved.why or "").startswith("Chose speeds and loads of the map: ")
    controller = saved.job.controller
    assert (len(controller.rpm or ()), len(controller.kpa or ())) == (6, 5)
    assert ", ".join(f"{each:g}" for each in controller.rpm or ()) in page


def test_the_api_gives_what_the_command_prints(
    opened: tuple[TestClient, Shop], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    client, _ = opened
    job = tmp_path / "job.toml"
    job.write_text(PUMP_HOUSE, encoding="utf-8")
    asked = ["--speeds", "6", "--loads", "5", "--rpm-step", "100", "--fixed-rpm", "900"]
    assert cli.main(["axes", str(job), *asked, "--json"]) == 0
    printed = json.loads(capsys.readouterr().out)
    found = client.get(API, params=SMALL | {"fixed_rpm": "900"}).json()
    assert found == printed
    assert 900.0 in found["results"]["rpm"]


def test_speeds_and_loads_of_pegs_are_kept_among_the_nodes_unless_somebody_says_otherwise(
    tmp_path: Path,
) -> None:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PEGGED, who="A. Example", why="started")
        first = client.get(AXES).text
        assert 'name="fixed_rpm" value="1100"' in first
        assert 'name="fixed_kpa" value="60"' in first
        kept = client.get(AXES, params=SMALL | {"fixed_rpm": "1100", "fixed_kpa": "60"}).text
        assert "would wait in the job without effect" not in kept
        lost = client.get(AXES, params=SMALL | {"fixed_rpm": "1000 1200", "rpm_step": "500"}).text
        assert "1 cell set by hand or peg stands on none of these" in lost


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"speeds": "1"}, "axes.rpm = 1: must be 2 to 40 nodes"),
        ({"speeds": "6.5"}, "speeds = 6.5: must be a whole number, 2 to 40"),
        ({"loads": "many"}, "loads = "),
        ({"rpm_step": "0"}, "axes.rpm_step = 0: must be above 0"),
        ({"kpa_step": "0.0000001"}, "axes.kpa_step = 1e-07: must be at least 0.0039"),
        ({"fixed_rpm": "900 900"}, "axes.fixed_rpm = 900 stands twice: must rise"),
        ({"fixed_rpm": "1200 900"}, "axes.fixed_rpm = 900 falls after 1200: must rise"),
        ({"fixed_kpa": "300"}, "axes.fixed_kpa = 300: must be "),
        ({"rpm_step": "3000"}, "must fit between"),
    ],
)
def test_what_no_controller_has_is_refused_with_what_was_typed_still_there(
    opened: tuple[TestClient, Shop], typed: dict[str, str], said: str
) -> None:
    client, shop = opened
    answer = client.get(AXES, params=SMALL | typed)
    assert answer.status_code == 422
    assert said in answer.text
    ((name, value),) = typed.items()
    assert f'name="{name}" value="{value}"' in answer.text
    assert client.post(AXES, data=SMALL | typed | {"number": "1", "who": "B"}).status_code == 422
    assert shop.jobs.latest(KEY).number == 1


def test_axes_are_not_taken_without_a_name(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    answer = client.post(AXES, data=SMALL | {"number": "1", "why": "fewer cells"})
    assert answer.status_code == 422
    assert "your name (not given): must be given" in answer.text
    assert 'value="fewer cells"' in answer.text
