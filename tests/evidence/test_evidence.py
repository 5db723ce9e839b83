"""Evidence at its door: what was seen is read as people write it, refused in sentences, and kept whole."""

from __future__ import annotations

import json
import math
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sparkwright.errors import Problem, Refusal
from sparkwright.evidence.found import Found
from sparkwright.evidence.kinds import (
    BY_NAME,
    DeadCentreReadings,
    KnockMark,
    LightReading,
    Seen,
    SweepReadings,
    SweepRow,
    TorquePoint,
    kind_of,
    read,
    write,
)
from sparkwright.evidence.records import Record, Unreadable
from sparkwright.findings import Finding
from sparkwright.light.readings import Reading
from sparkwright.mounting.mark_readings import ReadPair

SWEEP: dict[str, Any] = {
    "speed_rpm": 3000,
    "map_kpa": 95,
    "rows": [
        {"advance_deg": 24, "torque_nm": 310.5, "knock": "none"},
        {"advance_deg": 30, "torque_nm": 322, "knock": "trace"},
        {"advance_deg": 34, "torque_nm": 321},
    ],
    "mixture_lambda": 0.88,
    "coolant_c": 85,
    "intake_air_c": 31,
}

SEEN: tuple[Seen, ...] = (
    LightReading(Reading(30.0, 2000.0, 29.5, cylinder=3, sweep="rising", note="again"), set=4),
    DeadCentreReadings((ReadPair(27.0, -31.0), ReadPair(27.5, -31.0)), diameter_mm=184.0, stroke_mm=88.0),
    DeadCentreReadings(
        (ReadPair(20.0, -22.0),),
        "dial",
        0.25,
        stroke_mm=88.0,
        rod_mm=150.0,
        pin_offset_mm=1.5,
        dial_step_mm=0.01,
    ),
    SweepReadings(
        3000.0, 95.0, (SweepRow(24.0, 310.5, "none"), SweepRow(30.0, 322.0)), note="with the tall filter"
    ),
    TorquePoint(3000.0, 95.0, 24.0, 310.5, "trace", sweep=2, coolant_c=85.0, note="fan on"),
    KnockMark(2400.0, 100.0, 31.5, "heavy", mixture_lambda=0.9),
    Found(Finding("misfire.heaped", "problem", {"rpm": 4000.0, "places": ((4000.0, 60.0, 7.0),)}), "a.csv"),
)


@pytest.mark.parametrize("seen", SEEN, ids=lambda seen: kind_of(seen).name)
def test_what_was_seen_comes_back_from_the_store_as_it_was(seen: Seen) -> None:
    kind = kind_of(seen)
    kept = json.loads(json.dumps(write(seen)))
    assert read(kind.name, kind.version, kept) == seen
    assert None not in kept.values(), "what is not known is left out, and never a zero"


@given(
    st.floats(100, 12000),
    st.floats(10, 400),
    st.lists(st.tuples(st.floats(-20, 80), st.floats(0, 5000)), min_size=1, max_size=60),
)
def test_any_sweep_comes_back_to_the_last_digit(
    speed_rpm: float, map_kpa: float, rows: list[tuple[float, float]]
) -> None:
    seen = SweepReadings(speed_rpm, map_kpa, tuple(SweepRow(*row) for row in rows))
    assert read("sweep", 1, json.loads(json.dumps(write(seen)))) == seen


def test_a_sweep_is_read_as_a_person_writes_it() -> None:
    typed = SWEEP | {"speed_rpm": "3,000 rpm", "map_kpa": "95 kPa"}
    assert read("sweep", 1, typed) == read("sweep", 1, SWEEP)


REFUSED: dict[str, tuple[str, dict[str, Any], list[str]]] = {
    "a speed of no engine": (
        "sweep",
        SWEEP | {"speed_rpm": 50},
        ["speed_rpm = 50: must be 100 to 12000; no engine here turns at such a speed"],
    ),
    "a torque that is no number": (
        "sweep",
        SWEEP | {"rows": [{"advance_deg": 24, "torque_nm": float("nan")}]},
        ["rows[1].torque_nm = nan: must be a number that is known and finite; allowed is 0 to 5000"],
    ),
    "rows without torque": (
        "sweep",
        SWEEP | {"rows": [{"advance_deg": 24}]},
        ["rows[1].torque_nm (not given): must be given"],
    ),
    "no rows": ("sweep", SWEEP | {"rows": []}, ["rows = 0: must be 1 to 60"]),
    "a key nobody knows": ("sweep", SWEEP | {"colour": 1}, ["colour = 1: is not known here"]),
    "how a finding stands": (
        "finding",
        {"kind": "misfire.heaped", "state": "bad", "numbers": {}, "file": "a.csv"},
        ['state = "bad": must be one of good, look, problem, open'],
    ),
    "a word for knock": (
        "knock-mark",
        {"speed_rpm": 3000, "map_kpa": 95, "advance_deg": 31, "knock": "trase"},
        ['knock = "trase": must be "none", "trace" or "heavy"; perhaps "trace" is meant'],
    ),
    "readings on one spot": (
        "dead-centre",
        {"pairs": [{"before_deg": 20.0, "after_deg": 20.0}]},
        [
            "pairs = 20 and 20: must lie well apart, one on either side of the top; write the one after the "
            'mark as "31 after"'
        ],
    ),
    "a set nobody begins": (
        "light-reading",
        {"commanded_deg": 30, "speed_rpm": 2000, "seen_deg": 29, "set": 0},
        ["set = 0: must be 1 to 1000"],
    ),
}


@pytest.mark.parametrize(("kind", "fields", "told"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_is_refused_with_its_field_and_what_is_allowed(
    kind: str, fields: dict[str, Any], told: list[str]
) -> None:
    with pytest.raises(Refusal) as refusal:
        read(kind, 1, fields)
    assert list(refusal.value.sentences) == told


def record(kind: str, version: int, fields: dict[str, object]) -> Record:
    return Record(7, "old-four", kind, version, datetime(2030, 5, 1, tzinfo=UTC), "A. Example", fields)


def test_what_a_newer_program_wrote_is_kept_and_named_and_does_not_count() -> None:
    newer = record("sweep", 2, SWEEP).data
    assert newer == Unreadable((Problem("sweep, version", 2, "must be 1", "bring the program up to date"),))
    unknown = record("boroscope", 1, {}).data
    assert isinstance(unknown, Unreadable)
    assert str(unknown.problems[0]).startswith('kind = "boroscope": must be one of light-reading, ')


def test_every_kind_says_its_form() -> None:
    assert [record(kind.name, kind.version, {}).schema for kind in BY_NAME.values()] == [
        "urn:sparkwright:evidence:light-reading:1",
        "urn:sparkwright:evidence:dead-centre:1",
        "urn:sparkwright:evidence:sweep:1",
        "urn:sparkwright:evidence:torque-point:1",
        "urn:sparkwright:evidence:knock-mark:1",
        "urn:sparkwright:evidence:pull:1",
        "urn:sparkwright:evidence:finding:1",
    ]


def test_a_kept_finding_tells_what_is_unknown_from_what_does_not_apply() -> None:
    numbers = {"advance_deg": math.nan, "rpm": None, "places": ((1.0, math.inf),), "count": 3, "cold": True}
    kept = json.loads(
        json.dumps(write(Found(Finding("knock.logged", "look", numbers), "a.csv")), allow_nan=False)
    )
    back = read("finding", 1, kept)
    assert isinstance(back, Found)
    assert math.isnan(float(str(back.finding.numbers["advance_deg"])))
    assert {**back.finding.numbers, "advance_deg": 0} == {**numbers, "advance_deg": 0}


@pytest.mark.parametrize("numbers", [None, [1], {"rpm": {"of": 1}}])
def test_a_finding_with_numbers_that_are_none_is_refused_by_name(numbers: object) -> None:
    given = {"kind": "misfire.heaped", "state": "look", "numbers": numbers, "file": "a.csv"}
    with pytest.raises(Refusal, match="numbers"):
        read("finding", 1, given)


def test_a_finding_with_a_field_too_many_or_a_blank_file_is_refused_by_name() -> None:
    given = {"kind": "misfire.heaped", "state": "look", "numbers": {}, "file": "a.csv"}
    with pytest.raises(Refusal, match="colour"):
        read("finding", 1, given | {"colour": "red"})
    with pytest.raises(Refusal, match="file"):
        read("finding", 1, given | {"file": ""})
