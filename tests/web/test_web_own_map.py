"""A person's own map on page and API: asked about where it is a guess, told part by part, and merged."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient

from planned import plan_of
from sparkwright import cli
from sparkwright.job import Job
from sparkwright.plan.exchange import read_map, write_map
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.planned_demand import check
from sparkwright.plan.spark_map import SparkMap
from sparkwright.shop import Shop
from sparkwright.web.own_map import own_map
from sparkwright.web.reckoning import Reckoned
from workbench import PUMP_HOUSE, workbench

KEY = "pump-house-v8"
MAP = f"/jobs/{KEY}/map"
API = f"/api/v1/jobs/{KEY}"
SMALL = PUMP_HOUSE.replace(
    "[controller]\n", "[controller]\nrpm = [500, 900, 1500, 3000, 5000]\nkpa = [32, 45, 60, 85]\n"
)
JOB = Job.from_toml(SMALL)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(SMALL, who="A. Example", why="started")
        yield client, shop


@pytest.fixture
def client(opened: tuple[TestClient, Shop]) -> TestClient:
    return opened[0]


def own(later_deg: float = 2.0) -> SparkMap:
    plan = plan_of(JOB).cells.spark_map
    return SparkMap(plan.rpm, plan.kpa, plan.advance_deg - later_deg)


def upside_down() -> str:
    whole = own()
    return write_map(SparkMap(whole.rpm, whole.kpa, whole.advance_deg[::-1]), "csv")


def test_a_map_on_the_axes_that_the_plan_chose_is_judged_by_that_plan() -> None:
    """The job states no axes: to state the plan's would be another job, planned again."""
    free = Job.from_toml(PUMP_HOUSE)
    planned: list[Job] = []

    def reckon(job: Job) -> Reckoned:
        planned.append(job)
        found = plan_of(job)
        return Reckoned(found, check(job, found), found)

    text = write_map(plan_of(free).cells.spark_map, "csv")
    assert own_map(text, free, "", reckon).reading.name == "as it stands"
    assert {job.fingerprint for job in planned} == {free.fingerprint}


def test_a_held_map_is_drawn_to_be_read_on_a_phone_and_as_the_controller_has_it(tmp_path: Path) -> None:
    """The narrow picture keeps its letters: it is no wider than a phone, with speeds in three tables."""
    text = PUMP_HOUSE.replace("[controller]\n", '[controller]\nload = "inHg vacuum"\n')
    job = Job.from_toml(text)
    plan = plan_of(job).cells.spark_map
    higher = SparkMap(plan.rpm, plan.kpa, plan.advance_deg + 3.0)
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(text, who="A. Example", why="started")
        form = {"number": "1", "text": write_map(higher, "csv", loads_of(job))}
        page = client.post(f"{MAP}/held-against", data=form).text
    narrow = page.split('<div class="on-narrow">')[1].split("</svg>")[0]
    width = re.search(r'<svg viewBox="0 0 ([\d.]+) ', narrow)
    assert width is not None
    assert float(width[1]) <= 366
    # Each row is headed once in each table: 0 inHg is the air outside, 85 kPa.
    assert narrow.count(">85</text>") == 3
    assert "rpm across, inHg vacuum down, kPa beside." in page
    assert "<td>0 inHg vacuum (85.1 kPa)</td>" in page


def test_a_map_that_looks_upside_down_is_asked_about_and_not_judged(client: TestClient) -> None:
    page = client.post(f"{MAP}/held-against", data={"number": "1", "text": upside_down()})
    assert page.status_code == 200
    assert "looks as if it were to be read otherwise: upside down" in page.text
    for name in ("as it stands", "upside down"):
        assert f'name="read_as" value="{name}"' in page.text
    assert "Take it as cells set by hand" not in page.text


def test_the_answer_to_the_question_goes_along_with_the_map(
    opened: tuple[TestClient, Shop],
) -> None:
    client, shop = opened
    asked = {"number": "1", "text": upside_down(), "read_as": "upside down"}
    page = client.post(f"{MAP}/held-against", data=asked).text
    assert "It is read upside down, as you said." in page
    assert page.count('name="read_as" value="upside down"') == 2
    kept = client.post(f"{MAP}/take", data=asked | {"who": "B. Example"}, follow_redirects=False)
    assert kept.status_code == 303
    cells = {(cell.rpm, cell.kpa): cell.advance_deg for cell in shop.jobs.latest(KEY).job.hand}
    assert cells[(3000.0, 85.0)] == pytest.approx(own().at(3000.0, 85.0), abs=0.5)


def test_a_map_that_is_a_guess_is_not_taken_unasked(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    form = {"number": "1", "text": upside_down(), "who": "B. Example", "reason": "r"}
    assert client.post(f"{MAP}/take", data=form).status_code == 422
    sent = {"who": "B. Example", "map": upside_down(), "reason": "r", "based_on": 1}
    answer = client.put(f"{API}/map", json=sent)
    assert answer.status_code == 422
    assert 'read-as "upside down"' in answer.json()["problems"][0]
    assert shop.jobs.latest(KEY).number == 1
    assert client.put(f"{API}/map", json=sent | {"read_as": "upside down"}).status_code == 200


def test_the_page_tells_a_map_part_by_part_with_idle_and_cruise_by_name(client: TestClient) -> None:
    text = write_map(own(6.0), "csv")
    page = client.post(f"{MAP}/held-against", data={"number": "1", "text": text}).text
    for said in ("Part by part", "Idle: up to ", "Cruise and light load: up to ", "gives away"):
        assert said in page


def test_the_merged_map_is_there_to_download_and_to_paste(client: TestClient) -> None:
    """Changed in one cell over knock or reach, and in nothing else; what a person has stays as it was."""
    given = own(0.0)
    spoilt = given.advance_deg.copy()
    spoilt[-1, -1] += 25.0
    text = write_map(SparkMap(given.rpm, given.kpa, spoilt), "csv")
    answer = client.post(f"{MAP}/merged", data={"number": "1", "text": text, "as": "csv"})
    assert "merged.csv" in answer.headers["content-disposition"]
    merged = read_map(answer.text)
    assert np.array_equal(merged.advance_deg, given.advance_deg)
    page = client.post(f"{MAP}/held-against", data={"number": "1", "text": text}).text
    assert "1 of 20 cells" in page
    assert answer.text.replace(",", "\t").splitlines()[-1] in page


def test_the_merged_map_can_be_taken_without_a_reason_where_the_whole_one_needs_one(
    opened: tuple[TestClient, Shop],
) -> None:
    client, shop = opened
    given = own(4.0)
    spoilt = given.advance_deg.copy()
    spoilt[-1, -1] += 25.0
    text = write_map(SparkMap(given.rpm, given.kpa, spoilt), "csv")
    form = {"number": "1", "text": text, "who": "B. Example"}
    assert client.post(f"{MAP}/take", data=form | {"which": "whole"}).status_code == 422
    taken = client.post(f"{MAP}/take", data=form | {"which": "merged"}, follow_redirects=False)
    assert taken.status_code == 303
    assert (
        shop.jobs.latest(KEY).why == "Took a map from elsewhere, merged with the plan, as cells set by hand"
    )


def test_the_api_gives_what_the_command_prints(
    client: TestClient, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = write_map(own(5.0), "csv")
    (tmp_path / "job.toml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "map.csv").write_text(text, encoding="utf-8")
    cli.main(["mine", str(tmp_path / "job.toml"), str(tmp_path / "map.csv"), "--json"])
    printed = json.loads(capsys.readouterr().out)
    assert client.post(f"{API}/mine", json={"map": text}).json() == printed


def test_compare_asks_as_well(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "job.toml").write_text(SMALL, encoding="utf-8")
    (tmp_path / "map.csv").write_text(upside_down(), encoding="utf-8")
    asked = ["compare", str(tmp_path / "job.toml"), str(tmp_path / "map.csv")]
    assert cli.main(asked) == 2
    assert "map = looks upside down: must be read as somebody says" in capsys.readouterr().err
    assert cli.main([*asked, "--read-as", "upside down"]) == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("inHg vacuum by rpm,1000,2000\n10,20,30\n10,10,20\n", "map, loads = 10 inHg vacuum stands twice"),
        ("psi boost by rpm,1000,2000\n-4,20,30\n0,10,20\n-1,8,9\n", "map, loads = -1 psi boost turns back"),
        ("kPa boost by rpm,1000,1000\n-40,20,30\n0,10,20\n", "map, line 1 = 1000 rpm stands twice"),
        ("percent of full load by rpm,1000,2000\n50,20,30\n900,10,20\n", "column 1 = 900: must be "),
    ],
)
def test_bad_axes_are_refused_by_page_api_and_command_alike_with_what_was_typed_still_there(
    client: TestClient, tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str, said: str
) -> None:
    page = client.post(f"{MAP}/held-against", data={"number": "1", "text": text})
    assert page.status_code == 422
    assert said in page.text
    assert text.strip() in page.text
    sent = client.post(f"{API}/mine", json={"map": text})
    assert sent.status_code == 422
    assert said in sent.text
    job, given = tmp_path / "job.toml", tmp_path / "map.csv"
    job.write_text(SMALL, encoding="utf-8")
    given.write_text(text, encoding="utf-8")
    assert cli.main(["compare", str(job), str(given)]) == 2
    assert said in capsys.readouterr().err
