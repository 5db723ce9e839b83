"""The ignition page: verdicts, the cap at the sliders' numbers, the wiring list and the facts.

What the page says is held against the functions that reckon it, which have tests of their own; geometry
again by hand where it is short.
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from sparkwright.check.hardware import check_hardware
from sparkwright.job import Job
from sparkwright.shop import Shop
from sparkwright.web.pages.ignition import live_of
from sparkwright.words.told import told
from telling import action_of, sentence_of
from workbench import PUMP_HOUSE, workbench

Opened = tuple[TestClient, Shop]
IGNITION = "/jobs/pump-house-v8/ignition"
CAP = f"{IGNITION}/cap"
JOB = Job.from_toml(PUMP_HOUSE)


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[Opened]:
    with workbench(tmp_path) as (client, shop):
        shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in")
        yield client, shop


def text_of(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page)))


def worked_out(client: TestClient) -> str:
    """Ask for the page until its results are there."""
    for _ in range(300):
        page = client.get(IGNITION).text
        if 'class="verdicts"' in page:
            return str(page)
        time.sleep(0.05)
    raise AssertionError("the check never came")


def posted(client: TestClient, address: str, **form: str) -> Any:
    return client.post(address, data={"based_on": "1", "who": "B. Example"} | form, follow_redirects=False)


def test_before_the_plan_is_there_the_cap_and_the_facts_are(opened: Opened) -> None:
    client, _ = opened
    page = client.get(IGNITION).text
    assert "The ignition is being held against its plan." in page
    assert 'hx-select="#found"' in page
    assert 'class="tip-now"' in page
    assert 'name="coil.turns_ratio"' in page


def test_says_how_it_stands_by_shape_and_word(opened: Opened) -> None:
    client, shop = opened
    page = worked_out(client)
    assert not re.search(r"\sstyle=|<style|\son[a-z]+=|<script(?![^>]* src=)", page)
    reckoned = client.app.state.reckoner.kept(shop.jobs.latest("pump-house-v8").fingerprint)  # type: ignore[attr-defined]
    words = text_of(page)
    assert f"{sentence_of(reckoned.check.headline)} {action_of(reckoned.check.headline)}" in words
    for verdict in reckoned.check.verdicts:
        word = {"good": "good", "look": "look here", "problem": "put right"}[verdict.state]
        assert f"{word} {told(verdict).topic.capitalize()}. {sentence_of(verdict)}" in words
        assert action_of(verdict) in words
    shapes = {
        "good": '<circle class="mark-done"',
        "problem": '<path class="mark-look"',
        "look": '<path class="mark-edge"',
    }
    for kind, shape in shapes.items():
        for drawn in re.findall(rf'<span class="state {kind}">.*?</span>', page, re.DOTALL):
            assert shape in drawn
    assert "Coil over speed, engine running" in words
    assert f"{reckoned.check.coil.available_kv[0]:.1f}" in words
    assert reckoned.check.demand_origin in words
    assert 'id="dwell-title"' in page
    # What the plan asks is what the cap is held against.
    assert (
        f"The plan asks for {reckoned.check.rotor.least_deg:.1f} to {reckoned.check.rotor.most_deg:.1f}"
        in words
    )


def test_the_cap_follows_the_numbers(opened: Opened) -> None:
    client, _ = opened
    page = client.get(CAP, params={"advance": "30", "phase": "6", "base": "12"}).text
    # The tip at half crank speed: 6 - (30 - 12) / 2 = -3 distributor degrees from its post.
    assert 'data-bearing="-3"' in page
    words = text_of(page)
    assert "At 30.0 deg the arc goes to its own post." in words
    along_mm = math.radians(3) * 29.2
    assert f"3.0 distributor deg ({along_mm:.2f} mm) short of the middle of its post" in words
    assert f"move the tip {math.radians(6) * 29.2:.2f} mm with rotation (6.0 distributor deg" in words
    assert "until base is 2.0 crank deg earlier, at 12.0 deg" in words
    assert 'id="cap-words" hx-swap-oob="innerHTML"' in page


def test_what_is_left_out_is_as_the_job_has_it(opened: Opened) -> None:
    client, _ = opened
    words = text_of(client.get(CAP, params={"advance": "20"}).text)
    assert "This is how rotor and base stand in the job: nothing to move." in words
    live = live_of(JOB, {}, None)
    assert [(slider.name, slider.text) for slider in live.sliders] == [
        ("advance", "38"),
        ("phase", "0"),
        ("base", "10"),
    ]


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (
            {"phase": "99"},
            "Rotor phase, distributor deg: “99” must be -45 to 45; a rotor is moved by less than a",
        ),
        (
            {"advance": "soon"},
            "Advance of the spark, crank deg: “soon” must be a number of deg; allowed is -20 to 80.",
        ),
        ({"base": "1,5,2"}, "Base, crank deg: “1,5,2” must be a number of deg; allowed is -10 to 45."),
        ({"advance": "1e99"}, "must be -20 to 80"),
        ({"advance": "nan"}, "must be a number of deg"),
    ],
)
def test_a_number_that_cannot_stand_leaves_the_picture_and_says_so(
    opened: Opened, given: dict[str, str], sentence: str
) -> None:
    client, _ = opened
    answer = client.get(CAP, params=given)
    assert answer.status_code == 422
    assert answer.headers["hx-reswap"] == "none"
    assert sentence in text_of(answer.text)


def test_without_script_show_gives_the_whole_page_at_these_numbers(opened: Opened) -> None:
    client, _ = opened
    page = client.get(IGNITION, params={"advance": "30", "phase": "6", "base": "12"}).text
    assert 'data-bearing="-3"' in page
    assert re.search(r'id="phase" name="phase" value="6"', page)
    assert "<button>Show</button>" in page
    assert re.findall(r'<input type="range"[^>]* hidden>', page), (
        "sliders are shown by the script that serves them"
    )


def test_phase_and_base_are_saved_with_the_move_as_the_reason(opened: Opened) -> None:
    client, shop = opened
    answer = posted(client, CAP, phase="6.5", base="12", advance="30")
    assert (answer.status_code, answer.headers["location"]) == (303, IGNITION)
    saved = shop.jobs.latest("pump-house-v8")
    assert saved.why == "Rotor phase from 0 to 6.5 distributor deg, base from 10 to 12 deg"
    assert (saved.job.distributor.rotor_phase_deg, saved.job.distributor.base_deg) == (6.5, 12.0)
    assert (
        posted(client, CAP, based_on="2", phase="6.5", base="12").headers["location"].endswith("?unchanged=1")
    )


@pytest.mark.parametrize(
    ("form", "sentence"),
    [
        ({"phase": "99"}, "Not saved yet. Rotor phase, distributor deg: “99” must be -45 to 45"),
        ({"phase": "5", "who": " "}, "Not saved yet. your name (not given): must be given"),
    ],
)
def test_a_refused_phase_stays_as_typed(opened: Opened, form: dict[str, str], sentence: str) -> None:
    client, shop = opened
    answer = posted(client, CAP, **form)
    assert answer.status_code == 422
    assert sentence in text_of(answer.text)
    assert f'name="phase" value="{form["phase"]}"' in answer.text
    assert shop.jobs.latest("pump-house-v8").number == 1


def test_a_phase_saved_meanwhile_by_two_keeps_both(opened: Opened) -> None:
    client, shop = opened
    posted(client, CAP, phase="6")
    answer = posted(client, CAP, phase="7")
    kept = shop.jobs.kept("pump-house-v8")
    assert answer.headers["location"] == f"/jobs/pump-house-v8/kept/{kept[0].id}"


def test_every_point_of_the_wiring_list_says_why_and_how_to_prove_it(opened: Opened) -> None:
    client, _ = opened
    words = text_of(client.get(IGNITION).text)
    for item in check_hardware(JOB).wiring:
        assert f"{item.what} Why: {item.why} Proof: {item.prove}" in words
    assert "The job holds no fact for this one: prove it each time." in words
    assert "Key off and battery disconnected" in words
    assert "Moving parts:" in words


def test_a_tick_sets_the_fact(opened: Opened) -> None:
    client, shop = opened
    answers = {"wiring.pickup-away": "done", "wiring.cap-vented": "look", "wiring.rotor-screws": "open"}
    before = {item.key: item.state for item in check_hardware(JOB).wiring}
    answer = posted(client, f"{IGNITION}/wiring", **answers)
    assert answer.headers["location"] == f"{IGNITION}#wiring"
    saved = shop.jobs.latest("pump-house-v8")
    assert saved.job.pickup.away_from_plug_leads is True
    assert saved.job.distributor.cap_vented is False
    assert saved.job.distributor.rotor_screws_secured is None
    changed = sum(before[name.removeprefix("wiring.")] != value for name, value in answers.items())
    assert saved.why == f"Wiring list: {changed} points answered"


def test_a_point_that_is_not_on_the_list_is_refused(opened: Opened) -> None:
    client, shop = opened
    answer = posted(client, f"{IGNITION}/wiring", **{"wiring.capacitive-alone": "done"})
    assert answer.status_code == 422
    assert "must be a point of this job's wiring list" in text_of(answer.text)
    assert shop.jobs.latest("pump-house-v8").number == 1


def test_facts_of_the_ignition_are_saved_and_refused_like_any(opened: Opened) -> None:
    client, shop = opened
    refused = posted(client, IGNITION, **{"coil.primary_resistance": "0 ohm", "plugs.gap": "0.9 mm"})
    assert refused.status_code == 422
    assert "a shorted primary has no charging curve" in refused.text
    assert 'name="plugs.gap" value="0.9 mm"' in refused.text
    answer = posted(client, IGNITION, **{"plugs.gap": "0.9 mm", "distributor.tip_radius": "29 mm"})
    assert answer.headers["location"] == IGNITION
    assert shop.jobs.latest("pump-house-v8").job.plugs.gap_mm == 0.9


def test_a_distributor_whose_rotor_would_strike_is_told_at_the_field(opened: Opened) -> None:
    client, _ = opened
    answer = posted(client, IGNITION, **{"distributor.tip_radius": "31 mm"})
    assert answer.status_code == 422
    assert "the rotor would strike the posts" in text_of(answer.text)


def test_an_old_revision_is_only_read(opened: Opened) -> None:
    client, _ = opened
    posted(client, CAP, phase="6")
    page = client.get(f"{IGNITION}?number=1").text
    assert "This is an old revision, to read." in page
    assert 'name="who"' not in page
    assert "Save this phase and base" not in page
    assert page.count('<fieldset class="plain" disabled>') == 2
