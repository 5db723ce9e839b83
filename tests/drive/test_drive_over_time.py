"""A drive over time: what is drawn of it is small and loses nothing, and each finding has its moments."""

from __future__ import annotations

from pathlib import Path
from time import perf_counter

import numpy as np
import polars as pl
import pytest

from drive_faults import FAULTS, KNOCK_AT, MISFIRE_AT, Fault, knock_by_retard, misfire
from invented_drives import PUMP_HOUSE, Columns, Road, clean_drive, csv_file
from planned import plan_of
from sparkwright.drive.asked import DriveAsked
from sparkwright.drive.drives import drive_of, read_drive
from sparkwright.drive.moments import MOST_MOMENTS
from sparkwright.drive.reader import Block
from sparkwright.drive.rows import MOST_PARTS, RowKeeper

MAP = plan_of(PUMP_HOUSE).cells.spark_map
ROAD = Road(hours=0.3, seed=11)


def kept(columns: Columns) -> RowKeeper:
    """Rows kept as they are, in two blocks."""
    rows, size = RowKeeper(), columns["time"].size
    for part in (slice(0, size // 3), slice(size // 3, size)):
        here = {name: values[part] for name, values in columns.items()}
        rows.add(Block(0, here["time"], here["rpm"], here["map"], here, {"rpm": "rpm", "map_kpa": "map"}))
    return rows


def test_no_spike_of_one_row_is_lost_in_a_whole_drive() -> None:
    rpm = np.full(50_000, 2000.0)
    rpm[[17, 31_234, 49_990]] = [900.0, 5200.0, 6100.0]
    stretch = kept(
        {"time": np.linspace(0.0, 4999.9, rpm.size), "rpm": rpm, "map": np.full(rpm.size, 40.0)}
    ).stretch()
    (speed, _) = stretch.tracks
    assert stretch.time_s.size <= 600
    assert sorted(speed.high)[-2:] == [5200.0, 6100.0]
    assert speed.low.min() == 900.0
    assert stretch.rows == rpm.size
    assert stretch.whole_s == pytest.approx(5000.0)


def test_a_short_stretch_is_shown_row_by_row() -> None:
    """Held against polars over the same rows."""
    time_s, rng = np.arange(6000) / 20.0, np.random.default_rng(2)
    columns = {"time": time_s, "rpm": rng.uniform(800, 4000, 6000), "map": rng.uniform(30, 90, 6000)}
    stretch = kept(columns).stretch(100.0, 105.0)
    wanted = pl.DataFrame(columns).filter(pl.col("time").is_between(99.94, 105.06))
    assert stretch.time_s.tolist() == wanted["time"].to_list()
    assert stretch.tracks[0].low.tolist() == pytest.approx(wanted["rpm"].to_list(), rel=1e-6)
    assert stretch.tracks[1].high.tolist() == pytest.approx(wanted["map"].to_list(), rel=1e-6)


def test_what_is_asked_of_beyond_the_drive_is_brought_within_it() -> None:
    columns = {"time": np.arange(100) * 1.0, "rpm": np.full(100, 900.0), "map": np.full(100, 40.0)}
    rows = kept(columns)
    assert (rows.stretch(500.0, 900.0).from_s, rows.stretch(500.0, 900.0).to_s) == (100.0, 100.0)
    assert rows.stretch(30.0, 20.0).to_s == 100.0
    assert rows.stretch(parts=10**9).time_s.size <= MOST_PARTS
    assert RowKeeper().stretch().time_s.size == 0


def test_ten_million_rows_are_sent_small_and_soon() -> None:
    """A stretch of any length holds as many parts as a screen has dots."""
    rows, count = RowKeeper(), 1_000_000
    for block in range(10):
        time_s = 0.01 * np.arange(block * count, (block + 1) * count, dtype=float)
        wave = 2000.0 + 1000.0 * np.sin(time_s)
        rows.add(Block(0, time_s, wave, wave, {"rpm": wave, "map": wave}, {"rpm": "rpm", "map_kpa": "map"}))
    rows.stretch()
    begun = perf_counter()
    whole, near = rows.stretch(parts=1000), rows.stretch(50_000.0, 50_010.0, 1000)
    took_s = perf_counter() - begun
    assert whole.rows == 10_000_000
    assert whole.time_s.size == 1000
    assert near.time_s.size <= 1001, "the row before it is where its curve begins"
    assert near.rows < 1100
    assert took_s < 3.0, "a change alarm with much room for a busy machine"


def test_the_rows_of_a_read_drive_are_those_of_its_file(tmp_path: Path) -> None:
    columns, rows = clean_drive(MAP, Road(hours=0.02, seed=4)), RowKeeper()
    read_drive(PUMP_HOUSE, [csv_file(tmp_path / "a.csv", columns)], DriveAsked(), rows=rows)
    stretch = rows.stretch(parts=2000)
    found = {each.quantity: each for each in stretch.tracks}
    assert found["rpm"].high.tolist() == pytest.approx(columns["rpm"].tolist(), rel=1e-6)
    assert found["advance_deg"].low.tolist() == pytest.approx(columns["advance"].tolist(), rel=1e-6)
    assert found["battery_v"].low.tolist() == pytest.approx(columns["battery"].tolist(), rel=1e-6)


@pytest.mark.parametrize(
    ("fault", "at"), [(knock_by_retard, KNOCK_AT), (misfire, MISFIRE_AT)], ids=["knock", "misfire"]
)
def test_the_moments_of_a_finding_are_those_at_which_it_was_put_in(
    tmp_path: Path, fault: Fault, at: tuple[tuple[float, float], tuple[float, float]]
) -> None:
    """Known truth: the rows that the fault changed."""
    clean = clean_drive(MAP, ROAD)
    columns = fault(clean, np.random.default_rng(5))
    result = drive_of(PUMP_HOUSE, [csv_file(tmp_path / "a.csv", columns)])
    (mark,) = result.marks
    assert mark.number == 1
    assert mark.at.rpm is not None
    assert mark.at.kpa is not None
    assert at[0][0] - 200 < mark.at.rpm < at[0][1] + 200
    assert at[1][0] - 4 < mark.at.kpa < at[1][1] + 4
    changed = np.zeros(clean["time"].size, dtype=bool)
    for name, values in columns.items():
        changed |= values != clean.get(name, values)
    times = clean["time"][changed]
    moments = mark.at.moments
    assert 1 <= len(moments) <= MOST_MOMENTS
    assert list(moments) == sorted(moments, key=lambda each: each.from_s)
    for each in moments:
        assert np.any((times >= each.from_s) & (times <= each.to_s))
        assert each.to_s - each.from_s < 60.0


@pytest.mark.slow
@pytest.mark.parametrize("name", FAULTS)
def test_every_fault_has_a_moment(tmp_path: Path, name: str) -> None:
    fault, _ = FAULTS[name]
    columns = fault(clean_drive(MAP, Road(hours=0.5, seed=11)), np.random.default_rng(5))
    (mark,) = drive_of(PUMP_HOUSE, [csv_file(tmp_path / "a.csv", columns)]).marks
    whole = mark.finding.kind == "timing.not-as-commanded"
    assert bool(mark.at.moments) is not whole
    somewhere = mark.at.rpm is not None
    assert somewhere is not (whole or mark.finding.kind == "misfire.everywhere")
