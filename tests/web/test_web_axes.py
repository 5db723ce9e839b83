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
SMALL = {"speeds": "6", "loads": "5", "rpm_step": "100", "load_step": "1"}
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
        assert 'name="fixed_load" value="60"' in first
        kept = client.get(AXES, params=SMALL | {"fixed_rpm": "1100", "fixed_load": "60"}).text
        assert "would wait in the job without effect" not in kept
        lost = client.get(AXES, params=SMALL | {"fixed_rpm": "1000 1200", "rpm_step": "500"}).text
        assert "1 cell set by hand or peg stands on none of these" in lost


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"speeds": "1"}, "How many speeds = 1: must be 2 to 40 nodes"),
        ({"speeds": "6.5"}, "How many speeds = 6.5: must be a whole number, 2 to 40"),
        ({"loads": "many"}, "How many loads = "),
        ({"rpm_step": "0"}, "Step of speeds = 0: must be above 0"),
        ({"load_step": "0.0000001"}, "Step of loads = 1e-07: must be at least 0.0039"),
        ({"fixed_rpm": "900 900"}, "Speeds that must be there = 900 stands twice: must rise"),
        ({"fixed_rpm": "1200 900"}, "Speeds that must be there = 900 falls after 1200: must rise"),
        ({"fixed_load": "300"}, "Loads that must be there = 300: must be 23 to 85 kPa"),
        ({"fixed_load": "60 soon"}, "Loads that must be there = "),
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


def with_controller(keys: str) -> str:
    return PUMP_HOUSE.replace("[controller]\n", f"[controller]\n{keys}\n")


def test_loads_are_typed_and_shown_as_the_controller_has_them_with_kpa_beside(tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(with_controller('load = "inHg vacuum"'), who="A. Example", why="started")
        first = client.get(AXES).text
        for said in ("Their step, inHg vacuum", "Loads that must be there, inHg vacuum", "as in 18 0"):
            assert said in first
        assert 'name="load_step" value="0.5"' in first
        asked = SMALL | {"load_step": "0.5", "fixed_load": "14.5 0"}
        page = client.get(AXES, params=asked).text
        found = client.get(API, params=asked).json()["results"]
        assert found["load_term"] == "inHg vacuum"
        assert {14.5, 0.0} <= set(found["load"])
        for said in (
            "Loads, inHg vacuum",
            "The same in kPa",
            ", ".join(f"{each:g}" for each in found["load"]),
        ):
            assert said in page
        taken = client.post(AXES, data=asked | {"number": "1", "who": "B. Example"}, follow_redirects=False)
        assert taken.status_code == 303
        assert list(shop.jobs.latest(KEY).job.controller.kpa or ()) == found["kpa"]
        # What goes out to the controller stands on its steps, to the digit.
        text = client.get(f"/api/v1/jobs/{KEY}/map?as=csv").text
        assert [line.split(",")[0] for line in text.splitlines()[1:]] == [
            f"{each:g}" for each in found["load"]
        ]


def test_a_page_of_axes_that_are_kept_says_so_and_takes_none(tmp_path: Path) -> None:
    own = "rpm = [500, 600, 700, 5000]\nkpa = [25, 30, 85]"
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(with_controller(own), who="A. Example", why="started")
        page = client.get(AXES, params=SMALL).text
        for said in ("Your own speeds and loads are kept, and nothing was chosen", "tick the box above"):
            assert said in page
        assert "Take them into the job" not in page
        anew = client.get(AXES, params=SMALL | {"anew": "yes"}).text
        assert "are kept" not in anew
        assert 'name="anew" value="yes" checked' in anew
        client.post(AXES, data=SMALL | {"anew": "yes", "number": "1", "who": "B. Example"})
        assert len(shop.jobs.latest(KEY).job.controller.rpm or ()) == 6


BAD_IN_TERMS = {
    "inHg vacuum": ("12 12", "12 stands twice: must rise"),
    "kPa boost": ("0 -40", "-40 falls after 0: must rise"),
    "psi boost": ("9", "9: must be -"),
    "percent of full load": ("50 120", "120: must be "),
}


@pytest.mark.parametrize("term", BAD_IN_TERMS)
def test_bad_loads_in_a_controllers_terms_are_refused_by_page_api_and_command_alike(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], term: str
) -> None:
    typed, said = BAD_IN_TERMS[term]
    text = with_controller(f'load = "{term}"')
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(text, who="A. Example", why="started")
        asked = {"speeds": "6", "loads": "5", "fixed_load": typed}
        answer = client.get(AXES, params=asked)
        assert answer.status_code == 422
        assert f"Loads that must be there = {said}" in answer.text
        assert f'name="fixed_load" value="{typed}"' in answer.text
        sent = client.get(API, params=asked)
        assert sent.status_code == 422
        assert f"axes.fixed_load = {said}" in sent.text
    job = tmp_path / "job.toml"
    job.write_text(text, encoding="utf-8")
    options = [f"--fixed-load={each}" for each in typed.split()]
    assert cli.main(["axes", str(job), "--speeds", "6", "--loads", "5", *options]) == 2
    assert f"axes.fixed_load = {said}" in capsys.readouterr().err


def test_the_command_says_what_is_typed_into_the_controller(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = tmp_path / "job.toml"
    job.write_text(with_controller('load = "psi boost"'), encoding="utf-8")
    assert cli.main(["axes", str(job), "--speeds", "4", "--loads", "3", "--load-step", "0.5"]) == 0
    printed = capsys.readouterr().out
    assert "In the controller the loads are, in psi boost: -" in printed
    assert ", 0.\n" in printed
    assert "Put them under [controller] and plan again." in printed
