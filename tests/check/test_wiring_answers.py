"""Answers to the wiring list and the facts they are kept in; the list is common practice, no source."""

from pathlib import Path

import pytest

from sparkwright.check.assumed import Assumed
from sparkwright.check.hardware import check_hardware
from sparkwright.check.wiring_answers import FACTS, answered, answers_possible
from sparkwright.errors import Refusal
from sparkwright.ignition.wiring import ITEMS, CheckState
from sparkwright.job import Job
from sparkwright.job.usual import USUAL
from sparkwright.plan.worth import measure_first

EXAMPLES = Path(__file__).parents[2] / "examples"
JOBS = [Job.load(path) for path in sorted(EXAMPLES.glob("*.toml"))]


def states(job: Job) -> dict[str, CheckState]:
    return {item.key: item.state for item in check_hardware(job).wiring}


@pytest.mark.parametrize("job", JOBS, ids=lambda job: job.name)
def test_every_answer_that_can_be_given_is_then_how_the_point_stands(job: Job) -> None:
    now = states(job)
    given = 0
    for item, state in now.items():
        for answer in answers_possible(item, state):
            assert states(answered(job, {item: answer}, now))[item] == answer, (item, answer)
            given += 1
    assert given > len(now)


def test_an_answer_that_stands_already_leaves_the_fact_as_written() -> None:
    job = JOBS[0].changed("distributor", vacuum_advance="none")
    now = states(job)
    assert now["vacuum-sealed"] == "done"
    assert answered(job, {"vacuum-sealed": "done"}, now) == job


@pytest.mark.parametrize(
    ("item", "answer", "sentence"),
    [
        ("no-such", "done", "wiring.no-such = done: must be a point of this job's wiring list"),
        ("advance-locked", "open", "wiring.advance-locked = open: must be one of done, look"),
        ("rotor-screws", "maybe", "wiring.rotor-screws = maybe: must be one of done, look, open"),
    ],
)
def test_refuses_what_is_no_answer(item: str, answer: str, sentence: str) -> None:
    job = JOBS[0]
    with pytest.raises(Refusal) as refused:
        answered(job, {item: answer}, states(job))
    assert str(refused.value) == sentence


def test_every_kept_point_is_a_point_of_the_list() -> None:
    assert set(FACTS) <= {item.key for item in ITEMS}


def test_measure_first_gives_the_most_telling_first_and_only_what_is_assumed() -> None:
    matters = [key for key, usual in USUAL.items() if usual.matters]
    assumed = [Assumed(key, "1", "usual") for key in reversed(USUAL)] + [Assumed("site.humidity", "50", "")]
    first = measure_first(assumed, most=100)
    assert [each.field for each in first] == matters
    assert measure_first([Assumed("site.humidity", "50", "")]) == ()
    assert matters[:2] == ["engine.compression_ratio", "distributor.tip_width"]


def test_saying_again_that_the_advance_moves_keeps_that_the_body_cannot_be_locked() -> None:
    job = JOBS[0].changed("distributor", advance="not lockable")
    again = answered(job, {"advance-locked": "look"}, {"advance-locked": "look"})
    assert again.distributor.advance == "not lockable"
