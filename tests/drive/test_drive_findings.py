"""Faults put into an invented drive are found, where they are, and a clean drive shows none."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from drive_faults import FAULTS, KNOCK_AT, OFF_AT, arcing, knock_by_retard, misfire, timing_off
from invented_drives import PUMP_HOUSE, Columns, Road, clean_drive, csv_file
from planned import plan_of
from sparkwright.drive.asked import asked_of
from sparkwright.drive.delays import delay_between
from sparkwright.drive.drives import drive_of
from sparkwright.drive.result import DriveResult
from sparkwright.evidence.of_drives import MOST_QUIET, marks_of
from sparkwright.findings import Finding
from telling import action_of, sentence_of

MAP = plan_of(PUMP_HOUSE).cells.spark_map
HALF_HOUR = Road(hours=0.5, seed=11)

Drive = Callable[[Columns], DriveResult]


@pytest.fixture
def drive(tmp_path: Path) -> Drive:
    return lambda columns: drive_of(PUMP_HOUSE, [csv_file(tmp_path / "drive.csv", columns)])


def wrong(result: DriveResult) -> list[Finding]:
    return [each for each in result.findings if each.state in ("look", "problem")]


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_found_and_nothing_else(drive: Drive, name: str) -> None:
    fault, kind = FAULTS[name]
    found = wrong(drive(fault(clean_drive(MAP, HALF_HOUR), np.random.default_rng(5))))
    assert [each.kind for each in found] == [kind]
    assert sentence_of(found[0]).endswith(".")


@pytest.mark.slow
def test_ten_clean_hours_show_at_most_one_fault_that_is_not_there(drive: Drive) -> None:
    """The rate that the documents state."""
    assert len(wrong(drive(clean_drive(MAP, Road(hours=10, seed=21))))) <= 1


@pytest.mark.slow
def test_a_rough_but_clean_drive_shows_no_fault(drive: Drive) -> None:
    """Noise with long tails, three times as much of it: what noise makes it makes both ways."""
    columns = clean_drive(MAP, Road(hours=2, seed=22, advance_noise=0.3))
    noise = np.random.default_rng(23).standard_t(4, columns["rpm"].size)
    found = wrong(drive(columns | {"rpm": columns["rpm"] + 10.0 * noise}))
    assert found == []


def test_knock_is_placed_with_a_change_and_its_cost(drive: Drive) -> None:
    (found,) = wrong(drive(knock_by_retard(clean_drive(MAP, HALF_HOUR), np.random.default_rng(5))))
    numbers = found.numbers
    assert KNOCK_AT[0][0] - 200 < float(str(numbers["rpm"])) < KNOCK_AT[0][1] + 200
    assert KNOCK_AT[1][0] - 3 < float(str(numbers["kpa"])) < KNOCK_AT[1][1] + 3
    assert numbers["less_deg"] == 3.0
    assert 0.2 < float(str(numbers["cost_percent"])) < 5.0
    assert "Try 3 deg less there; it costs" in action_of(found)


def test_misfire_is_placed_by_speed(drive: Drive) -> None:
    (found,) = wrong(drive(misfire(clean_drive(MAP, HALF_HOUR), np.random.default_rng(5))))
    assert 3550 <= float(str(found.numbers["rpm"])) <= 4650
    assert float(str(found.numbers["chance"])) < 1e-6


def test_sparks_under_the_cap_are_told_from_misfire_by_the_advance(drive: Drive) -> None:
    """The same stumbling at any advance is no reason to suspect the cap."""
    clean, rng = clean_drive(MAP, HALF_HOUR), np.random.default_rng(5)
    trimmed = arcing(clean, rng)
    (found,) = wrong(drive(trimmed))
    assert float(str(found.numbers["with_deg"])) > float(str(found.numbers["without_deg"])) + 1
    assert float(str(found.numbers["kpa"])) > 60
    hit = rng.random(clean["rpm"].size) < np.where(clean["map"] > 62, 0.02, 0)
    alike = trimmed | {"rpm": np.where(hit, 0.97, 1.0) * clean["rpm"]}
    assert [each.kind for each in wrong(drive(alike))] == ["misfire.heaped"]


def test_timing_off_the_map_is_placed_and_measured(drive: Drive) -> None:
    (found,) = wrong(drive(timing_off(clean_drive(MAP, HALF_HOUR), np.random.default_rng(5))))
    assert float(str(found.numbers["off_deg"])) == pytest.approx(4.0, abs=0.3)
    assert OFF_AT[0][0] - 200 < float(str(found.numbers["rpm"])) < OFF_AT[0][1] + 200


def test_idle_control_explains_what_it_does(drive: Drive) -> None:
    columns = clean_drive(MAP, HALF_HOUR)
    idle = columns["throttle"] == 1.0
    at_work = np.where(idle, -3.0, 0.0)
    moved = {
        name: columns[name] + at_work for name in ("advance", "commanded advance", "idle advance correction")
    }
    result = drive(columns | moved)
    assert wrong(result) == []
    assert result.timing is not None
    assert result.timing.explained_percent["idle control"] > 5


def test_the_delay_between_two_channels_is_estimated() -> None:
    """Known truth: a series put 0.23 s later, between its rows."""
    rng = np.random.default_rng(4)
    time_s = np.arange(6000) * 0.05
    early = np.repeat(rng.normal(size=120), 50)
    late = np.interp(time_s - 0.23, time_s, early) + rng.normal(0, 0.02, time_s.size)
    found = delay_between(late, early, 0.05)
    assert found is not None
    assert found[0] == pytest.approx(0.23, abs=0.02)
    assert delay_between(rng.normal(size=6000), early, 0.05) is None


def test_a_drive_tells_where_the_engine_ran(drive: Drive) -> None:
    """By hand: 100 s at one place, 300 s at another, four cylinders' worth of sparks a turn of eight."""
    count = 8000
    first = np.arange(count) < 2000
    columns = {
        "time": np.arange(count) * 0.05,
        "rpm": np.where(first, 1100.0, 2900.0),
        "map": np.where(first, 39.0, 60.0),
    }
    where = drive(columns).where
    assert [(each.rpm, each.kpa) for each in where.cells] == [(2900.0, 60.0), (1100.0, 39.0)]
    assert [each.seconds for each in where.cells] == pytest.approx([300.0, 100.0], abs=0.11)
    assert where.cells[0].sparks == pytest.approx(2900 / 60 * 300 * 4, rel=1e-3)
    assert where.inside_cells == 2
    assert [round(each.seconds) for each in where.stretches] == [300, 100]
    assert (2900.0, 64.0) in where.never


def test_two_drives_are_compared_cell_by_cell_with_intervals(tmp_path: Path) -> None:
    """Known truth: 2 deg more over half the speeds; intervals of 95 % hold it about as often."""
    clean = clean_drive(MAP, Road(hours=1, seed=31))
    other = clean_drive(MAP, Road(hours=1, seed=32))
    more = np.where(clean["rpm"] > 2500, 2.0, 0.0)
    paths = [
        csv_file(tmp_path / "one.csv", clean | {"advance": clean["advance"] + more}),
        csv_file(tmp_path / "other.csv", other),
    ]
    result = drive_of(PUMP_HOUSE, paths[:1], asked_of(against=paths[1]))
    advance = next(each for each in result.against if each.quantity == "advance_deg")
    fast = [each for each in advance.cells if each.rpm > 2700 and each.windows + each.other_windows > 30]
    assert len(fast) > 20
    assert np.median([each.difference for each in fast]) == pytest.approx(2.0, abs=0.3)
    assert np.mean([each.low <= 2.0 <= each.high for each in fast]) > 0.85
    assert "against.differs" in {each.kind for each in result.findings}
    same = drive_of(PUMP_HOUSE, paths[1:], asked_of(against=paths[1]))
    assert "against.differs" not in {each.kind for each in same.findings}


def test_a_quiet_place_bounds_knock_and_a_loud_one_is_none(drive: Drive) -> None:
    result = drive(knock_by_retard(clean_drive(MAP, HALF_HOUR), np.random.default_rng(5)))
    quiet = {(each.rpm, each.kpa) for each in result.quiet}
    (found,) = wrong(result)
    assert quiet
    assert (found.numbers["rpm"], found.numbers["kpa"]) not in quiet
    marks = marks_of(result)
    assert [each.knock for each in marks] == ["trace", *["none"] * min(len(result.quiet), MOST_QUIET)]
    assert all(each.note for each in marks)
