"""One switch of units: each page, picture and sheet of a job speaks to a person in one system."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from unit_words import spoken, wrong_units
from workbench import EXAMPLES, workbench

PAGES = (
    "card",
    "engine",
    "fact/distributor.tip_width",
    "ignition",
    "map",
    "map?line=rpm-3000",
    "map/hook?cell=8-8",
    "map/what-if?fact=site.altitude&value=2000+m",
    "light",
    "mark",
    "mark?one_1=27+before&other_1=31+after",
    "mark/timing-tape",
    "mark/degree-ring",
    "mark/day",
    "hand-over",
    "history",
)


@pytest.fixture(scope="module", params=["pump-house-v8", "boosted-six"])
def opened(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[TestClient, str]]:
    with workbench(tmp_path_factory.mktemp("units")) as (client, shop):
        text = (EXAMPLES / f"{request.param}.toml").read_text(encoding="utf-8")
        yield client, shop.jobs.create(text, who="A. Example", why="came in").key


@pytest.mark.parametrize("system", ["inch", "metric"])
def test_no_page_speaks_in_the_other_units(opened: tuple[TestClient, str], system: str) -> None:
    client, key = opened
    client.cookies.set("units", system)
    found = {}
    for place in PAGES:
        answer = client.get(f"/jobs/{key}/{place}")
        assert answer.status_code == 200, place
        found[place] = wrong_units(spoken(answer.text), system)
    assert {place: wrong for place, wrong in found.items() if wrong} == {}
