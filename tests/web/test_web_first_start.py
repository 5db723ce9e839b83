"""First start, second opinion, settings and other days, on page and API."""

from __future__ import annotations

import io
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from pypdf import PdfReader

from sparkwright.job import Job
from sparkwright.plan.exchange import read_map
from sparkwright.shop import Shop
from workbench import PUMP_HOUSE, workbench

API = "/api/v1"
HOT = (
    PUMP_HOUSE.replace(
        "[controller]\n", "[controller]\nrpm = [500, 900, 1500, 3000, 5000]\nkpa = [32, 45, 60, 85]\n"
    )
    + '\n[conditions]\nhottest_air = "42 degC"\n'
)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as both:
        yield both


def brought_in(client: TestClient, text: str) -> str:
    sent = {"text": text, "who": "A. Example"}
    answer = client.post("/new/file", data=sent, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"].rpartition("/")[2]


def test_the_page_leads_from_the_first_start_to_the_plan(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    key = brought_in(client, HOT)
    answer = client.get(f"/jobs/{key}/first-start")
    assert answer.status_code == 200
    for said in (
        "The first map is up to",
        "kicks the starter back",
        "Before: the held advance is read again",
        "A second opinion",
        "common practice, no source",
        "Outside air",
    ):
        assert said in answer.text
    assert f"/jobs/{key}/first-start" in client.get(f"/jobs/{key}/map").text


def test_no_line_of_the_first_start_has_a_mark_or_number_beside_its_own(
    opened: tuple[TestClient, Shop],
) -> None:
    client, _ = opened
    text = client.get(f"/jobs/{brought_in(client, HOT)}/first-start").text
    lists = re.findall(r"<(ul|ol)([^>]*)>(.*?)</\1>", text, re.DOTALL)
    numbered = [(kind, more) for kind, more, items in lists if re.search(r"<li>\s*[0-9]+\.", items)]
    assert numbered
    assert set(numbered) == {("ul", ' class="numbered"')}
    assert ".numbered { list-style: none" in client.get("/static/workbench.css").text


def test_first_start_and_desk_are_in_the_list_of_steps(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    key = brought_in(client, HOT)
    listed = client.get(f"/jobs/{key}/engine").text.partition('id="steps"')[2].partition("</ol>")[0]
    assert f'href="/jobs/{key}/first-start"' in listed
    assert f'href="/desk?job={key}"' in listed
    here = client.get(f"/jobs/{key}/first-start").text
    assert f'href="/jobs/{key}/first-start" aria-current="page"' in here


def test_each_map_of_the_way_can_be_kept(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    key = brought_in(client, HOT)
    first = read_map(client.get(f"/jobs/{key}/first-start/first-map.csv").text)
    step = read_map(client.get(f"/jobs/{key}/first-start/step-1.csv").text)
    assert (step.advance_deg >= first.advance_deg).all()
    to_type = read_map(client.get(f"/jobs/{key}/first-start/to-type.csv").text)
    answer = client.get(f"/api/v1/jobs/{key}/settings").json()["results"]["spark_map"]
    assert to_type.advance_deg.tolist() == answer["advance_deg"]
    refused = client.get(f"/jobs/{key}/first-start/step-99.csv")
    assert refused.status_code == 422
    assert "must be first-map, to-type or step-1 to" in refused.text


def test_sheets_are_printed_from_page_and_api(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    key = brought_in(client, HOT)
    for place in (f"/jobs/{key}", f"{API}/jobs/{key}"):
        for name, said in (("first-start", "Before the first start"), ("settings", "Type in")):
            answer = client.get(f"{place}/{name}.pdf")
            assert answer.headers["content-type"] == "application/pdf"
            text = PdfReader(io.BytesIO(answer.content)).pages[0].extract_text()
            assert said in text
            assert "before you trust this sheet" not in text, "nothing on it is to scale"


def test_another_day_is_shown_in_half_a_second(opened: tuple[TestClient, Shop]) -> None:
    """A whole map of 16 x 16; five times as long is allowed, for a machine that does much else."""
    client, _ = opened
    key = brought_in(client, PUMP_HOUSE)
    client.get(f"/jobs/{key}/first-start")
    begun_s = time.monotonic()
    answer = client.get(f"/jobs/{key}/other-day?air=45 degC&altitude=2500 m&ron=87")
    assert time.monotonic() - begun_s < 2.5
    assert answer.status_code == 200
    assert "87 RON in the tank by mistake" in answer.text
    assert "<svg" in answer.text


def test_a_part_of_the_page_is_answered_alone(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    key = brought_in(client, HOT)
    answer = client.get(
        f"/jobs/{key}/other-day",
        params={"air": "42 degC", "with_trims": True},
        headers={"hx-request": "true"},
    )
    assert "<html" not in answer.text
    assert "with its trims" in answer.text
    assert "no cell has more than is allowed" in answer.text


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"air": "142 degC"}, "air = "),
        ({"ron": "7"}, "must be 40 to 130"),
        ({"altitude": "high"}, "altitude"),
        ({"second_fuel": "true"}, "second fuel"),
    ],
)
def test_what_cant_be_a_day_is_refused_and_stays_typed(
    opened: tuple[TestClient, Shop], typed: dict[str, str], said: str
) -> None:
    client, _ = opened
    key = brought_in(client, HOT)
    answer = client.get(f"/jobs/{key}/other-day", params=typed)
    assert answer.status_code == 422
    assert said in answer.text
    for value in typed.values():
        assert value in answer.text


def test_the_api_gives_what_the_commands_print(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    key = brought_in(client, HOT)
    for name in ("start", "opinion", "settings", "trims", "whatif"):
        answer = client.get(f"{API}/jobs/{key}/{name}")
        assert answer.status_code == 200, answer.text
        assert answer.json()["schema"] == f"urn:sparkwright:{name}:1"
        assert answer.json()["job"]["fingerprint"] == Job.from_toml(HOT).fingerprint
    bad = client.get(f"{API}/jobs/{key}/whatif?air=hot")
    assert bad.status_code == 422
    assert bad.json()["schema"] == "urn:sparkwright:refusal:1"


def test_trims_without_conditions_are_refused_in_a_sentence(opened: tuple[TestClient, Shop]) -> None:
    client, _ = opened
    key = brought_in(client, PUMP_HOUSE)
    answer = client.get(f"{API}/jobs/{key}/trims")
    assert answer.status_code == 422
    assert "must state at least one day" in answer.json()["problems"][0]
