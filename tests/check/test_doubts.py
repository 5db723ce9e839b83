"""What is asked of a job, what is doubted in it, and how one that was kept before stays open.

Bounds of what is usual: common practice, no source.
"""

from __future__ import annotations

import html
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from sqlalchemy import text as sql

from sparkwright.check.doubts import cam_doubts, doubts, order_doubts
from sparkwright.check.hardware import check_hardware
from sparkwright.cycle.cam import doubted_duration
from sparkwright.errors import Refusal
from sparkwright.job import Job
from sparkwright.plan.physics import physics_of
from sparkwright.shop import Shop
from sparkwright.web.filled import fill
from sparkwright.web.forms import groups
from sparkwright.web.steps import steps_of
from telling import sentence_of
from workbench import PUMP_HOUSE, workbench

LIFT = 'at_lift = "0.050 in"\n'
UNASKED = PUMP_HOUSE.replace(LIFT, "")
ASKED = (
    "cam.at_lift (not given): must be given: the same degrees counted at 0.050 in (1.27 mm) make a far wilder"
)
KEY = "pump-house-v8"


@pytest.fixture
def opened(tmp_path: Path) -> Iterator[tuple[TestClient, Shop]]:
    with workbench(tmp_path) as both:
        yield both


def kept_before(shop: Shop) -> None:
    """Keep a job as a program did that didn't ask for the lift."""
    shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in")
    with shop.database.writing() as connection:
        triggers = connection.execute(
            sql("SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'revisions'")
        )
        for (name,) in triggers.all():
            connection.execute(sql(f"DROP TRIGGER {name}"))
        connection.execute(sql("UPDATE revisions SET text = :text"), {"text": UNASKED})


def said(answer_text: str) -> str:
    return html.unescape(answer_text)


# Asked


def test_a_file_without_the_lift_is_asked_with_both_readings() -> None:
    with pytest.raises(Refusal) as refused:
        Job.from_toml(UNASKED)
    (sentence,) = refused.value.sentences
    assert sentence.startswith(ASKED)
    assert "0.050 in" in sentence
    assert "advertised" in sentence


def test_the_api_asks_too(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    answer = client.post("/api/v1/jobs", json={"text": UNASKED, "who": "A. Example"})
    assert answer.status_code == 422
    assert ASKED in answer.text.replace("\\", "")
    assert shop.jobs.count() == 0


def test_the_form_asks_beside_the_field_and_takes_nothing_for_it() -> None:
    facts = Job.from_toml(PUMP_HOUSE).facts()
    cam = groups(("cam",), {**facts, "cam": {}}, "inch")[0]
    (lift,) = [each for each in cam.fields if each.name == "cam.at_lift"]
    assert (lift.needed, lift.assumed) == (True, "")
    assert lift.offered == ("0.050 in", "advertised, hydraulic", "advertised, solid")
    problems = fill({"cam.at_lift": ""}, facts).problems
    assert problems["cam.at_lift"].startswith("Must be given: the same degrees counted at 0.050 in (1.27 mm)")


@pytest.mark.parametrize(
    ("typed", "lift_mm"),
    [
        ("advertised, hydraulic", 0.006 * 25.4),
        ("Advertised solid", 0.020 * 25.4),
        ("0.004 in", 0.004 * 25.4),
        ("0 mm", 0.0),
    ],
)
def test_advertised_degrees_are_taken_near_the_seat(typed: str, lift_mm: float) -> None:
    """Of the same degrees, those counted nearer the seat close the intake earlier at 0.050 in."""
    job = Job.from_toml(PUMP_HOUSE.replace(LIFT, f'at_lift = "{typed}"\n'))
    assert job.cam.at_lift_mm == pytest.approx(lift_mm)
    assert physics_of(job).engine.events.at_lift_mm == pytest.approx(lift_mm)
    assert Job.from_toml(job.to_toml()) == job


def test_separation_and_advance_give_the_centreline() -> None:
    """By hand: 111.5 deg of separation less 3.5 of advance are the 108 of the card."""
    by_advance = Job.from_toml(PUMP_HOUSE.replace("intake_centreline_deg = 108", "cam_advance_deg = 3.5"))
    assert by_advance.cam.centreline_deg == 108.0
    assert physics_of(by_advance).engine.events == physics_of(Job.from_toml(PUMP_HOUSE)).engine.events


# Kept before


def test_a_job_kept_before_opens_and_its_step_says_so(opened: tuple[TestClient, Shop]) -> None:
    client, shop = opened
    kept_before(shop)
    revision = shop.jobs.latest(KEY)
    assert revision.job.cam.lift_mm == 1.27
    taken = [each for each in physics_of(revision.job).assumed if each.field == "cam.at_lift"]
    assert [each.value for each in taken] == ["1.27 mm"]
    step = steps_of(revision, None)[0]
    assert (step.mark, step.words) == ("open", "a question is open")
    assert "The lift at which the cam is stated was never given" in said(
        client.get(f"/jobs/{KEY}/engine").text
    )


def test_other_facts_of_a_job_kept_before_can_be_changed_with_its_question_open(
    opened: tuple[TestClient, Shop],
) -> None:
    _, shop = opened
    kept_before(shop)
    old = shop.jobs.latest(KEY)
    changed = old.job.changed("distributor", base_deg=9.0)
    assert changed.open_questions() == old.job.open_questions() != ()
    assert fill({"plugs.gap": "0.03 in"}, old.job.facts()).job is not None
    saved = shop.jobs.save(KEY, changed.to_toml(), who="A. Example", why="base moved", based_on=1)
    assert saved.job.distributor.base_deg == 9.0
    assert "cam.at_lift" in fill({"cam.intake_duration_deg": "210"}, old.job.facts()).problems


def test_an_answered_question_can_not_be_opened_again(opened: tuple[TestClient, Shop]) -> None:
    _, shop = opened
    shop.jobs.create(PUMP_HOUSE, who="A. Example", why="came in")
    with pytest.raises(Refusal, match=r"cam\.at_lift \(not given\)"):
        shop.jobs.save(KEY, UNASKED, who="A. Example", why="lost", based_on=1)


def test_an_impossible_order_kept_before_can_still_be_read() -> None:
    text = PUMP_HOUSE.replace("[1, 5, 7, 2, 6, 3, 4, 8]", "[1, 8, 4, 3, 6, 5, 2, 7]")
    job = Job.from_toml(text.replace('bank_numbering = "by-bank"\n', ""), kept=True)
    assert len(job.open_questions()) == 1
    assert [sentence_of(each.finding) for each in order_doubts(job)] == [
        "No even-firing crank gives the firing order 1-8-4-3-6-5-2-7: read it again from engine or book."
    ]


# Doubted


@pytest.mark.parametrize(
    ("duration_deg", "lift_mm", "expected"),
    [
        (280.0, 1.27, "long"),
        (270.0, 1.27, None),
        (280.0, 0.1524, None),
        (207.0, 0.1524, "short"),
        (230.0, 0.1, None),
        (207.0, 1.27, None),
        (155.0, 1.27, "short"),
    ],
)
def test_a_duration_that_hardly_fits_its_lift_is_doubted(
    duration_deg: float, lift_mm: float, expected: str | None
) -> None:
    assert doubted_duration(duration_deg, lift_mm) == expected


def test_advertised_figures_said_to_be_at_fifty_thou_are_doubted_not_refused() -> None:
    job = Job.from_toml(PUMP_HOUSE).changed("cam", intake_duration_deg=280, exhaust_duration_deg=290)
    assert [sentence_of(each.finding) for each in cam_doubts(job)] == [
        f"{duration} deg of {valve} duration at 1.27 mm of lift is unusual, a racing cam: "
        "sure? See whether the card counts it there or advertises it, counted near the seat."
        for duration, valve in ((280, "intake"), (290, "exhaust"))
    ]


def test_events_are_doubted_as_durations_are() -> None:
    """By hand: -30 + 180 + 40 are 190 deg, few for the seat."""
    events = {"intake_opens_deg": -30, "intake_closes_deg": 40, "exhaust_opens_deg": 70}
    none = dict.fromkeys(
        ("intake_duration_deg", "exhaust_duration_deg", "intake_centreline_deg", "lobe_separation_deg")
    )
    job = Job.from_toml(PUMP_HOUSE).changed("cam", **none, **events, exhaust_closes_deg=20, at_lift="0 mm")
    assert [each.field for each in cam_doubts(job)] == ["cam.at_lift"]
    assert sentence_of(cam_doubts(job)[0].finding).startswith(
        "190 deg of intake duration at 0 mm of lift is unusually short"
    )


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        (
            {"firing_order": [1, 5, 3, 7, 4, 8, 2, 6]},
            "needs a flat-plane crank, unusual in such an engine: sure?",
        ),
        ({"firing_order": [1, 8, 4, 3, 6, 2, 7, 5]}, "Read backwards it is 1-5-7-2-6-3-4-8."),
        (
            {"cylinders": 6, "layout": "inline", "firing_order": [1, 2, 3, 6, 5, 4]},
            "neighbours fire one after the other",
        ),
        (
            {"cylinders": 6, "firing": "even", "firing_order": [1, 2, 5, 6, 4, 3]},
            "two cylinders of one bank fire one after the other",
        ),
        ({"cylinders": 6, "firing_order": [1, 4, 2, 5, 3, 6]}, "This V6 is taken to fire evenly"),
    ],
)
def test_a_rare_order_is_doubted_not_refused(facts: dict[str, object], words: str) -> None:
    bare = Job.from_toml(PUMP_HOUSE).changed("engine", bank_numbering=None)
    job = bare.changed("engine", **facts)
    (found,) = doubts(job)
    assert words in sentence_of(found.finding)


def test_the_examples_are_not_doubted() -> None:
    for path in (Path(__file__).parents[2] / "examples").glob("*.toml"):
        assert doubts(Job.load(path)) == ()


# Numbering


def test_a_numbering_that_the_order_tells_is_taken_and_said() -> None:
    result = check_hardware(Job.from_toml(PUMP_HOUSE).changed("engine", bank_numbering=None))
    assert [each.value for each in result.assumed if each.field == "engine.bank_numbering"] == ["by-bank"]


def test_leads_of_an_unknown_numbering_are_not_determined() -> None:
    silent = Job.from_toml(PUMP_HOUSE).changed("plugs", leads_adjacent=None)
    job = silent.changed("engine", cylinders=4, firing_order=[1, 3, 4, 2], bank_numbering=None)
    result = check_hardware(job)
    assert result.kept_apart is None
    assert "leads.numbering-not-told" in {each.kind for each in result.warnings}
    stated = check_hardware(job.changed("engine", bank_numbering="odd-even"))
    assert [(each.first, each.second) for each in stated.kept_apart or ()] == [(1, 3), (4, 2)]
