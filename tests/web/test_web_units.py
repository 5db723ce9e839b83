"""One switch of units: each page, picture and sheet of a job speaks to a person in one system."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator

import pytest
from fastapi.testclient import TestClient

from workbench import EXAMPLES, workbench

NUMBER = r"(?<![\w.])-?\d[\d.,]*[\s\u00a0]*"
IN_METRIC = re.compile(NUMBER + r"(mm|cm|m|N[\s\u00a0]?m|degC|\u00b0[\s\u00a0]?C|km/h|kPa)(?![\w/])")
IN_INCHES = re.compile(NUMBER + r"(in|thou|ft|lb-ft|degF|\u00b0[\s\u00a0]?F|mph|inHg|psi)(?![\w/])")
HEADED = {
    "inch": re.compile(r"\[(mm|N m|degC|km/h)\]|N[\s\u00a0]m\b"),
    "metric": re.compile(r"\[(in|lb-ft|degF|mph|inHg|psi)\]|lb-ft"),
}
"""Units at the head of a column or an axis."""

PLACE = re.compile(
    r"rpm(,| and| at)[\s\u00a0]\d[\d.]*[\s\u00a0]kPa"
    r"|\d[\d.]*[\s\u00a0]kPa and [\d,]+[\s\u00a0]rpm|deg in \d+ kPa|slope from \d[\d.]* kPa|over \d+ kPa"
    r"|([Rr]ibbon at|At|degrees at|Full load,|Cruise,) \d[\d.]*[\s\u00a0]kPa"
)
"""Where a load names a place of the controller's map, by the number at its axis."""

A_CHANCE = re.compile(r"\b1 in \d+")

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


def spoken(page: str) -> str:
    """Give the words of a page, without what the person typed or may type: fields, and files as they are."""
    for tag in ("script", "style", "textarea", "pre", "option", "datalist"):
        page = re.sub(rf"(?s)<{tag}\b.*?</{tag}>", " ", page)
    page = re.sub(r'(?s)<(span|p) class="(hint|typed|controller)[^"]*".*?</\1>', " ", page)
    page = re.sub(r"(?s)<(input|meta|link)\b[^>]*>", " ", page)
    said = " ".join(re.findall(r'(?:aria-label|title|alt)="([^"]*)"', page))
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]*>", " ", page) + " " + said))


def wrong_units(text: str, system: str) -> list[str]:
    """Name each place where a text has a number in the other system, with what stands before it."""
    text = A_CHANCE.sub("", PLACE.sub("rpm", text))
    found = [HEADED[system], IN_METRIC if system == "inch" else IN_INCHES]
    return [text[max(0, m.start() - 50) : m.end() + 10] for each in found for m in each.finditer(text)]


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
