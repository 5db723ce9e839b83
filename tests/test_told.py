"""Findings are told by one writer, in the person's units, from kind and numbers alone."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from sparkwright.check.hardware import check_hardware
from sparkwright.findings import Finding, each_once, worst
from sparkwright.job import Job
from sparkwright.words.told import WRITERS, told
from telling import action_of, sentence_of

EXAMPLES = Path(__file__).parent.parent / "examples"
PUMP_HOUSE = Job.load(EXAMPLES / "pump-house-v8.toml")


def test_a_length_is_told_in_the_persons_units() -> None:
    """By hand: 3.81 mm are 0.150 in."""
    move = {"move_distributor_deg": 7.4, "move_mm": 3.81, "move_tip_fraction": 0.6}
    needed = {"least_needed_deg": 10.0, "most_needed_deg": 34.0}
    short = {"reach_deg": 26.0, "above_base_deg": 16.0, "missing_deg": 8.0}
    then = {"phased_from_deg": 6.0, "phased_to_deg": 38.0}
    found = Finding("rotor.runs-out", "problem", {**short, **move, **needed, **then})
    assert "ahead, in the direction of rotation, 3.8 mm at the tip" in action_of(found)
    assert "ahead, in the direction of rotation, 0.150 in at the tip" in action_of(found, "inch")
    assert sentence_of(found) == sentence_of(found, "inch"), "angles stay as they are"


def test_the_worst_leads_and_the_first_of_two_alike() -> None:
    good = Finding("wiring.done", "good")
    look, other = Finding("rotor.advance-free", "look"), Finding("rotor.vacuum-connected", "look")
    assert worst([good, look, other]) is look
    assert worst([good]) is good


def test_equal_findings_are_one_and_their_numbers_tell_them_apart() -> None:
    one, same = (Finding("coil.never-full", "problem", {"current_a": 7.0}) for _ in range(2))
    other = Finding("coil.never-full", "problem", {"current_a": 8.0})
    assert each_once([one, same, other]) == (one, other)


def test_a_finding_crosses_to_another_process_whole() -> None:
    found = check_hardware(PUMP_HOUSE).verdicts
    assert pickle.loads(pickle.dumps(found)) == found


def test_a_finding_without_a_number_that_it_needs_is_not_told() -> None:
    with pytest.raises(TypeError, match="most_w"):
        told(Finding("coil.heat-not-stated", "look"))


def test_the_subject_of_a_kind_is_its_topic() -> None:
    turn = {"rpm": 5000.0, "burning_ms": 1.0, "turn_distributor_deg": 15.0, "ends_over_post_from_deg": None}
    assert told(Finding("late-end.turns-on", "good", turn)).topic == "late end"
    assert all(kind.count(".") == 1 for kind in WRITERS)
