"""One switch of units: each page, picture and sheet of a job speaks to a person in one system."""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from invented_drives import Road, Written, clean_drive
from planned import plan_of
from sparkwright.desk.case import Entry
from sparkwright.evidence.kinds import (
    DeadCentreReadings,
    KnockMark,
    LightReading,
    PullReadings,
    PullRow,
    Seen,
    SweepReadings,
    SweepRow,
    TorquePoint,
)
from sparkwright.job import Job
from sparkwright.job.names import FIELDS
from sparkwright.light.readings import Reading
from sparkwright.mounting.mark_readings import ReadPair
from sparkwright.shop import SavedElsewhereError, Shop
from sparkwright.web.pages import PAGES as ROUTERS
from unit_words import spoken, wrong_units
from workbench import EXAMPLES, PUMP_HOUSE, workbench

PAGES = (
    "card",
    "compare?old=1&new=2",
    "drives/DRIVE",
    "dyno",
    "engine",
    "fact/distributor.tip_width",
    "first-start",
    "hand-over",
    "history",
    "ignition",
    "ignition/cap?rpm=3000",
    "kept/1",
    "light",
    "map",
    "map/at?rpm=2500&load=70",
    "map/axes?speeds=6&loads=5",
    "map?line=rpm-3000",
    "map/contours",
    "map/hook?cell=8-8",
    "map/ribbon?line=rpm-3000",
    "map/what-if?fact=site.altitude&value=2000+m",
    "map/why?cell=8-8",
    "mark",
    "mark?one_1=27+before&other_1=31+after&diameter=7.24+in",
    "mark/day",
    "mark/degree-ring?diameter=9+in&hole=2+in",
    "mark/timing-tape?diameter=7.24+in",
    "pulls",
    "other-day?air=108+degF&coolant=221+degF&altitude=8000+ft",
    "steps",
)
OTHER_PAGES = ("/", "/desk", "/desk/1", "/desk/1/next-test.html", "/new", "/new/file", "/sign-in")
SHEETS = (
    "card.pdf",
    "first-start.pdf",
    "settings.pdf",
    "mark/before-it-goes-in.pdf",
    "mark/cap-plan.pdf",
    "mark/degree-ring.pdf?diameter=9+in&hole=2+in",
    "mark/rotor-phasing.pdf",
    "mark/static-setting.pdf",
    "mark/timing-tape.pdf?diameter=7.24+in",
)
NOT_WALKED = {
    "/jobs/{key}": "leads to the map",
    "/jobs/{key}/archive": "a file that every program reads alike",
    "/jobs/{key}/files/{file_id}": "a file as it was brought",
    "/jobs/{key}/dyno/ask": "names places of the map alone, and weighs sweeps for some seconds",
    "/jobs/{key}/first-start/{name}.csv": "text to paste follows the controller's own terms",
    "/jobs/{key}/learned": "stands in for the result until it is there",
    "/jobs/{key}/learned/result": "learns for some seconds; what it says is held where it is made",
    "/jobs/{key}/learned/progress": "says how far learning is, no number of the engine",
    "/jobs/{key}/light/readings.csv": "a file that every program reads alike",
    "/jobs/{key}/map/file": "text to paste follows the controller's own terms",
    "/jobs/{key}/reckoning": "says how far the work is, no number of the engine",
    "/jobs/{key}/text": "the job as it was typed",
    "/desk/{case}/next-test.pdf": "says what the page to send says",
}
"""Addresses that give no page of their own in the person's units, each with its reason."""

SEEN: tuple[Seen, ...] = (
    *(LightReading(Reading(30.0, rpm, deg)) for rpm, deg in ((1000, 29.6), (2000, 28.6), (3000, 27.8))),
    DeadCentreReadings((ReadPair(27.0, -31.0),), diameter_mm=184.0),
    *(TorquePoint(2400, 90, deg, nm, coolant_c=90.0) for deg, nm in ((14, 300.0), (26, 345.0), (38, 345.0))),
    KnockMark(2400, 90, 41, "trace", coolant_c=90.0),
    *(
        PullReadings(
            tuple(PullRow(rpm, nm) for rpm in range(2000, 3600, 100)), str(deg), f"{deg} deg", deg, 85
        )
        for deg, nm in ((25.0, 330.0), (30.0, 341.0))
    ),
    SweepReadings(3000, 80, tuple(SweepRow(deg, nm) for deg, nm in ((16, 300.0), (28, 330.0), (34, 326.0)))),
)
"""Something of every kind that is seen on an engine; invented."""


@dataclass(frozen=True)
class Whole:
    """A job with everything that can be on it: evidence, a drive, two revisions, a text kept beside them."""

    client: TestClient
    key: str
    drive: int

    def said(self, place: str) -> str:
        address = place if place.startswith("/") else f"/jobs/{self.key}/{place}"
        answer = self.client.get(address.replace("DRIVE", str(self.drive)))
        assert answer.status_code == 200, (place, spoken(answer.text)[:300])
        return spoken(answer.text)

    def printed(self, place: str) -> str:
        answer = self.client.get(f"/jobs/{self.key}/{place}")
        assert answer.status_code == 200, place
        told = subprocess.run(
            ["pdftotext", "-raw", "-", "-"], input=answer.content, capture_output=True, check=True
        )
        return " ".join(told.stdout.decode().split())


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Whole]:
    with workbench(tmp_path_factory.mktemp("whole")) as (client, shop):
        key = shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in").key
        for each in SEEN:
            shop.evidence.add(key, each, who="A. Example")
        drive = Written().bytes(
            clean_drive(plan_of(Job.from_toml(PUMP_HOUSE)).cells.spark_map, Road(hours=0.05))
        )
        shop.files.attach(key, "road.csv", "drive", io.BytesIO(drive), who="A. Example")
        _changed_by_two(shop, key)
        case = shop.cases.open("A caller", who="A. Example", job=key)
        said = (("complaint", "misfire-boost"), ("when", "load"))
        shop.cases.add(case.id, [Entry(0, "answer", *each) for each in said], who="A. Example")
        yield Whole(client, key, shop.files.of_job(key)[0].id)


def _changed_by_two(shop: Shop, key: str) -> None:
    moved = PUMP_HOUSE.replace("rotor_phase_deg = 0", "rotor_phase_deg = 7.5")
    shop.jobs.save(key, moved, who="A. Example", why="moved the rotor", based_on=1)
    higher = PUMP_HOUSE.replace('altitude = "1450 m"', 'altitude = "1550 m"')
    with pytest.raises(SavedElsewhereError):
        shop.jobs.save(key, higher, who="B. Example", why="read the height", based_on=1)


@pytest.mark.parametrize("system", ["inch", "metric"])
def test_no_page_speaks_in_the_other_units_or_shows_a_command_in_backticks(whole: Whole, system: str) -> None:
    whole.client.cookies.set("units", system)
    said = {place: whole.said(place) for place in (*PAGES, *OTHER_PAGES)}
    found = {place: wrong_units(text, system) for place, text in said.items()}
    assert {place: wrong for place, wrong in found.items() if wrong} == {}
    assert [place for place, text in said.items() if "`" in text] == []


def test_the_page_that_the_desk_sends_names_the_plug_gap_in_the_persons_units(whole: Whole) -> None:
    """The job states 0.035 in; 25.4 mm are an inch."""
    for system, gap in (("inch", "Plug gap 0.035 in"), ("metric", "Plug gap 0.889 mm")):
        whole.client.cookies.set("units", system)
        assert gap in whole.said("/desk/1/next-test.html")


@pytest.mark.parametrize("system", ["inch", "metric"])
def test_no_printed_sheet_speaks_in_the_other_units(whole: Whole, system: str) -> None:
    whole.client.cookies.set("units", system)
    found = {place: wrong_units(whole.printed(place), system) for place in SHEETS}
    assert {place: wrong for place, wrong in found.items() if wrong} == {}


@pytest.mark.slow
@pytest.mark.parametrize("system", ["inch", "metric"])
def test_no_field_of_a_job_is_asked_for_in_the_other_units(whole: Whole, system: str) -> None:
    whole.client.cookies.set("units", system)
    found = {}
    for name in FIELDS:
        answer = whole.client.get(f"/jobs/{whole.key}/fact/{name}")
        if answer.status_code == 200:
            found[name] = wrong_units(spoken(answer.text), system)
    assert len(found) > 80
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


@pytest.mark.parametrize(
    ("stated", "said"),
    [
        ("", "Loads are in kPa absolute: the job does not say in what its controller has them."),
        ('load = "kPa absolute"', "Loads are in kPa absolute, as the controller has them."),
        (
            'load = "inHg vacuum"',
            "Loads are in inHg vacuum, as the controller has them, and in kPa absolute beside.",
        ),
    ],
)
def test_the_map_says_once_in_what_its_loads_stand(stated: str, said: str, tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, shop):
        text = PUMP_HOUSE.replace("[controller]", f"[controller]\n{stated}")
        key = shop.jobs.create(text, who="A. Example", why="came in").key
        client.cookies.set("units", "inch")
        for page in ("card", "map"):
            assert spoken(client.get(f"/jobs/{key}/{page}").text).count(said) == 1


def test_every_page_of_a_job_is_walked(whole: Whole) -> None:
    walked = [f"/jobs/KEY/{each.partition('?')[0]}" for each in (*PAGES, *SHEETS)]
    walked += [each.replace("/desk/1", "/desk/{case}") for each in OTHER_PAGES]
    given = {
        route.path
        for router in ROUTERS
        for route in router.routes
        if isinstance(route, APIRoute)
        and "GET" in (route.methods or ())
        and route.path.startswith(("/jobs", "/desk"))
    }
    missing = {
        path
        for path in given - NOT_WALKED.keys()
        if not any(re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", path), each) for each in walked)
    }
    assert len(given) > 30
    assert missing == set()


@pytest.mark.parametrize("system", ["inch", "metric"])
def test_a_job_under_boost_speaks_in_one_system_too(system: str, tmp_path: Path) -> None:
    with workbench(tmp_path) as (client, shop):
        text = (EXAMPLES / "boosted-six.toml").read_text(encoding="utf-8")
        key = shop.jobs.create(text, who="A. Example", why="came in").key
        client.cookies.set("units", system)
        found = {}
        for place in ("card", "engine", "ignition", "map", "first-start", "hand-over", "mark/day"):
            found[place] = wrong_units(spoken(client.get(f"/jobs/{key}/{place}").text), system)
    assert {place: wrong for place, wrong in found.items() if wrong} == {}
