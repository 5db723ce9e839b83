"""A point that moves over the map, asked as its script, as a browser without script and as a program ask."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from planned import plan_of
from sparkwright.job import Job
from workbench import PUMP_HOUSE, workbench

KEY = "pump-house-v8"
AT = f"/jobs/{KEY}/map/at"
JOB = Job.from_toml(PUMP_HOUSE)


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    with workbench(tmp_path) as (opened, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="started")
        yield opened


def test_the_part_of_the_page_says_what_is_commanded_with_every_ceiling(client: TestClient) -> None:
    part = client.get(AT, params={"rpm": "2345", "load": "71.5"}, headers={"hx-request": "true"})
    assert part.status_code == 200
    assert "<html" not in part.text
    commanded = plan_of(JOB).cells.spark_map.at(2345.0, 71.5)
    assert f"At 2,345 rpm and 71.5 kPa the controller commands {commanded:.1f} deg" in part.text
    for said in ("Knock</th>", "Reach</th>", "Limit</th>", "Best</th>", "left, deg", "chance of knock"):
        assert said in part.text


def test_without_script_it_is_a_page_of_its_own(client: TestClient) -> None:
    whole = client.get(AT, params={"number": "1", "rpm": "1500", "load": "60,5"})
    assert "At 1,500 rpm and 60.5 kPa the controller commands" in whole.text
    assert 'value="60,5"' in whole.text
    client.get(f"/api/v1/jobs/{KEY}/plan")
    assert f'action="{AT}"' in client.get(f"/jobs/{KEY}/map").text


@pytest.mark.parametrize(
    ("rpm", "load", "said"),
    [
        ("", "60", "speed (not given): must be given; in rpm, within the map"),
        ("fast", "60", "speed = "),
        ("9000", "60", "rpm = 9000: must be 500 to 5000 rpm; the map ends there"),
        ("2000", "nan", "load = "),
        ("2000", "7", "load = 7: must be 23 to 85 kPa; the map ends there"),
    ],
)
def test_a_point_that_cant_be_is_refused_in_words_and_stays_typed(
    client: TestClient, rpm: str, load: str, said: str
) -> None:
    answer = client.get(AT, params={"rpm": rpm, "load": load})
    assert answer.status_code == 422
    assert said in answer.text
    assert f'value="{rpm}"' in answer.text


def test_a_program_gets_the_same_point(client: TestClient) -> None:
    answer = client.get(f"/api/v1/jobs/{KEY}/at", params={"rpm": 2345, "kpa": 71.5})
    found = answer.json()
    assert found["schema"] == "urn:sparkwright:at:1"
    result = found["results"]
    assert result["advance_deg"] == pytest.approx(plan_of(JOB).cells.spark_map.at(2345.0, 71.5))
    assert [each["name"] for each in result["ceilings"]] == ["knock", "reach", "limit", "best"]
    assert sum(each["share"] for each in result["cells"]) == pytest.approx(1.0)
    assert result["headline"] in client.get(AT, params={"rpm": "2345", "load": "71.5"}).text
    refused = client.get(f"/api/v1/jobs/{KEY}/at", params={"rpm": 20000, "kpa": 71.5})
    assert refused.status_code == 422


@pytest.mark.parametrize(
    ("term", "load", "kpa", "said", "off"),
    [
        # By hand: an inch of mercury is 3.386389 kPa and a psi 6.894757 kPa (NIST SP 811, appendix B.8).
        ("inHg vacuum", "10", 90 - 33.86389, "10 inHg vacuum (56.1 kPa)", "30"),
        ("kPa boost", "-30", 60.0, "-30 kPa boost (60 kPa)", "1"),
        ("psi boost", "-4", 90 - 4 * 6.894757, "-4 psi boost (62.4 kPa)", "3"),
        ("percent of full load", "75", 67.5, "75 % of full load (67.5 kPa)", "101"),
    ],
)
def test_a_point_is_typed_and_told_as_the_controller_has_its_loads(
    tmp_path: Path, term: str, load: str, kpa: float, said: str, off: str
) -> None:
    text = PUMP_HOUSE.replace("[controller]\n", f'[controller]\nload = "{term}"\n')
    text = text.replace('altitude = "1450 m"', 'pressure = "90 kPa"')
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(text, who="A. Example", why="started")
        page = client.get(AT, params={"rpm": "2345", "load": load}).text
        assert f"At 2,345 rpm and {said} the controller commands" in page
        unit = term.replace("percent", "%")
        assert f">Load, {unit}</label>" in page
        found = client.get(f"/api/v1/jobs/{KEY}/at", params={"rpm": 2345, "kpa": kpa}).json()["results"]
        assert f"commands {found['advance_deg']:.1f} deg" in page
        refused = client.get(AT, params={"rpm": "2345", "load": off})
        assert refused.status_code == 422
        assert f"load = {off}: must be " in refused.text
        assert f" {unit}; the map ends there" in refused.text
        assert f'name="load" inputmode="decimal" value="{off}"' in refused.text


def test_a_point_of_a_controller_by_throttle_tells_the_throttle_there(tmp_path: Path) -> None:
    """At 2,345 rpm 60 kPa are half way from 40 to 80, which are 20 and 60 percent at every speed."""
    keys = (
        'load = "percent of throttle"\nthrottle_rpm = [500, 5000]\n'
        "throttle_kpa = [[0, 25, 25], [20, 40, 40], [60, 80, 80], [100, 84, 84]]\n"
    )
    with workbench(tmp_path) as (client, shop):
        text = PUMP_HOUSE.replace("[controller]\n", f"[controller]\n{keys}")
        shop.jobs.create(text, who="A. Example", why="started")
        page = client.get(AT, params={"rpm": "2345", "load": "60"}).text
        assert "At 2,345 rpm and 40 % of throttle (60 kPa) the controller commands" in page
