"""A drive on its page: laid on the map, its findings kept as evidence, what can't be read told."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from html import unescape

import numpy as np
import pytest
from cachetools import LRUCache
from fastapi.testclient import TestClient

from drive_faults import knock_by_retard, misfire
from invented_drives import PUMP_HOUSE as JOB
from invented_drives import Road, Written, clean_drive, short_drive
from planned import plan_of
from sparkwright.evidence.found import Found
from sparkwright.evidence.kinds import KnockMark
from sparkwright.findings import Finding
from sparkwright.shop import Shop
from sparkwright.web import drives
from sparkwright.web.learning import measured_of
from sparkwright.words.evidence import found_words
from telling import sentence_of
from workbench import PUMP_HOUSE, workbench

Opened = tuple[TestClient, Shop]


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Opened]:
    with workbench(tmp_path_factory.mktemp("drive")) as both:
        yield both


def page_of(opened: Opened, content: bytes, name: str = "road.csv") -> str:
    """Attach a drive to a new job and give the address of its page."""
    client, shop = opened
    key = shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in").key
    shop.files.attach(key, name, "drive", io.BytesIO(content), who="A. Example")
    (file,) = shop.files.of_job(key)
    assert f'href="/jobs/{key}/drives/{file.id}"' in client.get(f"/jobs/{key}/history").text
    return f"/jobs/{key}/drives/{file.id}"


def test_a_drive_is_laid_on_the_map_with_its_time_beside_it(opened: Opened) -> None:
    client, _ = opened
    page = page_of(opened, Written().bytes(clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.05))))
    text = client.get(page).text
    for told in ("Where it ran", "Over time", "94 % of driving is inside", "Nothing to put right."):
        assert told in text
    part = client.get(f"{page}?from_min=1&to_min=2").text
    assert "1 min of 3 min" in part
    assert "3 min of 3 min" in client.get(f"{page}?from_min=nan&to_min=inf").text
    assert len(part) < 400_000, "sent small, never whole"


def test_knock_of_a_drive_is_marked_on_the_map_and_kept_only_when_asked(opened: Opened) -> None:
    client, shop = opened
    columns = knock_by_retard(
        clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.3, seed=11)), np.random.default_rng(5)
    )
    page = page_of(opened, Written().bytes(columns))
    key = page.split("/")[2]
    text = client.get(page).text
    number = re.search(r'name="number" value="(\d+)"', text)
    assert number is not None
    assert "Knock by the controller" in text
    assert shop.evidence.of_job(key) == []
    answer = client.post(
        f"{page}/keep", data={"number": number[1], "who": "A. Example"}, follow_redirects=False
    )
    assert answer.status_code == 303
    (record,) = shop.evidence.of_job(key)
    assert isinstance(record.data, KnockMark)
    assert record.data.knock == "trace"
    assert "A trace of knock at" in client.get(f"/jobs/{key}/history").text
    assert shop.jobs.latest(key).number == 1, "the job itself is not changed"


def test_a_drive_that_cannot_be_read_is_told_on_its_page(opened: Opened) -> None:
    client, _ = opened
    answer = client.get(page_of(opened, b"It was a fine day.\n"))
    assert answer.status_code == 422
    assert "must have rows of numbers" in answer.text


def test_a_drive_of_another_job_or_a_file_that_is_none_is_not_there(opened: Opened) -> None:
    client, shop = opened
    page = page_of(opened, Written().bytes(short_drive(50)))
    other = shop.jobs.create(PUMP_HOUSE, who="A. Example", why="another").key
    number = page.rsplit("/", 1)[1]
    assert client.get(f"/jobs/{other}/drives/{number}").status_code == 404
    assert client.get(f"{page}9999").status_code == 404
    assert client.post(f"{page}/keep", data={"number": "77", "who": "A. Example"}).status_code == 422


def test_quiet_places_are_kept_from_the_page_once(opened: Opened) -> None:
    client, shop = opened
    columns = knock_by_retard(
        clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.3, seed=11)), np.random.default_rng(5)
    )
    page = page_of(opened, Written().bytes(columns))
    key = page.split("/")[2]
    assert "Keep quiet places as evidence" in client.get(page).text
    for _ in range(2):
        answer = client.post(f"{page}/keep-quiet", data={"who": "A. Example"}, follow_redirects=False)
        assert answer.status_code == 303
        kept = [each.data for each in shop.evidence.of_job(key)]
        assert 1 <= len(kept) <= 12
        assert all(isinstance(each, KnockMark) and each.knock == "none" for each in kept)
    assert len(shop.evidence.of_job(key)) == len(kept)


def test_a_program_reads_a_drive_and_keeps_its_marks_once(opened: Opened) -> None:
    client, shop = opened
    columns = knock_by_retard(
        clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.3, seed=11)), np.random.default_rng(5)
    )
    page = page_of(opened, Written().bytes(columns))
    key, number = page.split("/")[2], page.rsplit("/", 1)[1]
    drives = f"/api/v1/jobs/{key}/drives"
    assert [each["id"] for each in client.get(drives).json()["drives"]] == [int(number)]
    read = client.get(f"{drives}/{number}").json()
    assert read["schema"] == "urn:sparkwright:drive:1"
    assert read["results"]["rows"] == columns["rpm"].size
    assert "knock.logged" in {each["kind"] for each in read["results"]["findings"]}
    first = client.post(f"{drives}/{number}/knock-marks", json={"who": "A. Example"})
    assert first.status_code == 201
    assert {each["knock"] for each in first.json()["records"]} == {"trace", "none"}
    again = client.post(f"{drives}/{number}/knock-marks", json={"who": "A. Example"})
    assert again.json() == first.json()
    assert len(shop.evidence.of_job(key)) == len(first.json()["records"])
    assert client.get(f"{drives}/{number}9999").status_code == 404


def test_a_misfire_that_was_accepted_stands_in_history_and_card_until_taken_back(opened: Opened) -> None:
    client, shop = opened
    clean = clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.3, seed=11))
    page = page_of(opened, Written().bytes(misfire(clean, np.random.default_rng(5))))
    key = page.split("/")[2]
    answer = client.post(f"{page}/keep", data={"number": "1", "who": "A. Example"}, follow_redirects=False)
    assert answer.status_code == 303
    (record,) = shop.evidence.of_job(key)
    assert isinstance(record.data, Found)
    assert record.data.finding.kind == "misfire.heaped"
    kept = sentence_of(record.data.finding).removesuffix(".")
    assert f"{kept} (from road.csv)" in unescape(client.get(f"/jobs/{key}/history").text)
    revision = shop.jobs.latest(key)
    assert f"Found: {kept} (from road.csv)." in measured_of(shop, revision).lines
    shop.evidence.withdraw(key, record.id, who="A. Example", why="a loose lead")
    assert not any("Found" in line for line in measured_of(shop, revision).lines)


def test_a_finding_of_another_version_is_named_where_it_can_not_be_told() -> None:
    strange = Found(Finding("drive.sang", "look", {"rpm": 3000.0}), "road.csv")
    assert found_words(strange) == "A finding that can't be told here (drive.sang) (from road.csv)"


def test_a_program_accepts_a_finding_and_takes_it_back(opened: Opened) -> None:
    client, shop = opened
    clean = clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.3, seed=11))
    page = page_of(opened, Written().bytes(misfire(clean, np.random.default_rng(5))))
    key, number = page.split("/")[2], page.rsplit("/", 1)[1]
    job = f"/api/v1/jobs/{key}"
    drive = client.get(f"{job}/drives/{number}").json()["results"]
    assert drive["findings"][0]["kind"] == "misfire.heaped"
    assert len(drive["seen_at"]) == len(drive["findings"])
    assert drive["seen_at"][0]["moments"][0]["to_s"] > drive["seen_at"][0]["moments"][0]["from_s"]
    accepted = client.post(f"{job}/drives/{number}/findings/1", json={"who": "A. Example"})
    assert accepted.status_code == 201
    again = client.post(f"{job}/drives/{number}/findings/1", json={"who": "A. Example"})
    assert again.json() == accepted.json()
    (found,) = client.get(f"{job}/found").json()["records"]
    assert found["withdrawn"] is None
    assert found["sentence"] == f"{sentence_of(kept_in(shop, key)).removesuffix('.')} (from road.csv)"
    back = f"{job}/evidence/{accepted.json()['id']}"
    assert client.post(f"{back}/withdraw", json={"who": "B. Example", "why": "a lead"}).status_code == 200
    (found,) = client.get(f"{job}/found").json()["records"]
    assert (found["withdrawn"]["who"], found["withdrawn"]["why"]) == ("B. Example", "a lead")
    assert not any("Found" in line for line in measured_of(shop, shop.jobs.latest(key)).lines)
    assert client.post(f"{back}/withdraw", json={"who": "B. Example"}).status_code == 404
    assert client.post(f"{back}/put-back", json={"who": "B. Example"}).status_code == 200
    assert any("Found" in line for line in measured_of(shop, shop.jobs.latest(key)).lines)
    refused = client.post(f"{job}/drives/{number}/findings/7", json={"who": "A. Example"})
    assert refused.status_code == 422
    assert "must be that of a finding, 1 to 1" in refused.text


def kept_in(shop: Shop, key: str) -> Finding:
    (record,) = shop.evidence.of_job(key)
    assert isinstance(record.data, Found)
    return record.data.finding


def test_a_stretch_of_a_drive_is_answered_small(opened: Opened) -> None:
    client, _ = opened
    columns = clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.05))
    page = page_of(opened, Written().bytes(columns))
    job, number = page.split("/")[2], page.rsplit("/", 1)[1]
    asked = f"/api/v1/jobs/{job}/drives/{number}/stretch"
    whole = client.get(asked, params={"parts": 100}).json()
    assert (whole["rows"], whole["whole_s"], len(whole["time_s"])) == (columns["rpm"].size, 180.0, 100)
    speed = whole["tracks"][0]
    assert (speed["quantity"], speed["called"], speed["unit"]) == ("rpm", "engine speed", "rpm")
    assert (min(speed["low"]), max(speed["high"])) == (columns["rpm"].min(), columns["rpm"].max())
    part = client.get(asked, params={"from_s": 60, "to_s": 61}).json()
    assert (part["from_s"], part["to_s"]) == (60.0, 61.0)
    assert len(part["time_s"]) <= 20 + 3
    assert client.get(asked, params={"parts": 0}).status_code == 422
    assert client.get(asked, params={"from_s": "nan"}).status_code == 422
    assert client.get(asked, params={"form_s": 1}).status_code == 422


def test_the_desk_looks_at_the_newest_drive_while_another_page_reads_one(
    opened: Opened, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is remembered of drives reorders itself when it is looked at: never two at once."""

    class Watched(LRUCache[tuple[str, str], drives.ReadDrive]):
        def __getitem__(self, at: tuple[str, str]) -> drives.ReadDrive:
            assert drives._LOOK.locked()
            found: drives.ReadDrive = super().__getitem__(at)
            return found

        def __setitem__(self, at: tuple[str, str], read: drives.ReadDrive) -> None:
            assert drives._LOOK.locked()
            super().__setitem__(at, read)

    monkeypatch.setattr(drives, "_KEPT", Watched(maxsize=4))
    client, shop = opened
    address = page_of(opened, Written().bytes(clean_drive(plan_of(JOB).cells.spark_map, Road(hours=0.05))))
    assert client.get(address).status_code == 200
    key = address.split("/")[2]
    assert drives.newest_drive(shop, shop.jobs.latest(key)) is not None
