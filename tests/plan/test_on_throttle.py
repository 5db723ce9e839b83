"""A map by throttle stands under the ceilings between its cells too."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from planned import plan_of
from sparkwright.job import Between, Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.between import LEFT_DEG
from sparkwright.plan.between_cells import Grid
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.exchange import write_map
from sparkwright.plan.load_terms import loads_of
from sparkwright.plan.on_throttle import Throttle, under_the_ceilings
from workbench import EXAMPLES

RPM, STEP_DEG = np.array([1000.0, 2000.0, 4000.0]), 0.5
THROTTLE = Throttle(
    np.array([1000.0, 4000.0]),
    np.array([0.0, 20.0, 50.0, 100.0]),
    np.array([[30.0, 25.0], [70.0, 40.0], [90.0, 75.0], [98.0, 96.0]]),
)
FINE_RPM, FINE_KPA = np.linspace(1000.0, 4000.0, 25), np.linspace(26.0, 97.0, 30)


def made(cells: FloatArray, throttle: Throttle, rpm: FloatArray, grid: Grid) -> FloatArray:
    """What the controller makes of a table at a fine grid, by SciPy; nan where no throttle gives the load."""
    of_table = RegularGridInterpolator((throttle.percent, rpm), cells)
    found = np.full(grid.lowest_deg.shape, np.nan)
    for column, speed in enumerate(grid.rpm.tolist()):
        pressures = throttle.kpa_at(speed)
        for row, kpa in enumerate(grid.kpa.tolist()):
            if pressures[0] <= kpa <= pressures[-1]:
                percent = float(np.interp(kpa, pressures, throttle.percent))
                found[row, column] = of_table((percent, speed))
    return found


def hollow(at_rpm: float, at_kpa: float, depth_deg: float) -> Grid:
    """Ceilings that are flat but for a hollow about one point."""
    away = ((FINE_RPM - at_rpm) / 400.0) ** 2 + ((FINE_KPA[:, None] - at_kpa) / 8.0) ** 2
    lowest = 30.0 - depth_deg * np.exp(-away)
    return Grid(FINE_RPM, FINE_KPA, lowest, np.full(lowest.shape, "knock"))


@settings(deadline=None, max_examples=25)
@given(rpm=st.floats(1200, 3800), kpa=st.floats(35, 90), depth_deg=st.floats(0.5, 9.0))
def test_no_hollow_between_the_cells_is_crossed(rpm: float, kpa: float, depth_deg: float) -> None:
    grid, cells = hollow(rpm, kpa, depth_deg), np.full((4, 3), 30.0)
    lowered = under_the_ceilings(cells, THROTTLE, RPM, grid, "straight lines", STEP_DEG)
    assert np.all(lowered <= cells)
    assert np.nanmax(made(lowered, THROTTLE, RPM, grid) - grid.lowest_deg) <= LEFT_DEG + 1e-9
    assert np.allclose(lowered / STEP_DEG, np.round(lowered / STEP_DEG))


def test_what_lies_under_its_ceilings_already_is_left_as_it_is() -> None:
    cells = np.full((4, 3), 20.0)
    found = under_the_ceilings(cells, THROTTLE, RPM, hollow(2500, 60, 9.0), "straight lines", STEP_DEG)
    assert np.array_equal(found, cells)


def test_no_single_cell_could_be_a_step_higher() -> None:
    """By trying each: the least lowering in whole steps leaves no cell that could be put back alone."""
    grid, cells = hollow(2600.0, 62.0, 6.0), np.full((4, 3), 30.0)
    lowered = under_the_ceilings(cells, THROTTLE, RPM, grid, "straight lines", STEP_DEG)
    for row, column in np.argwhere(lowered < cells).tolist():
        raised = lowered.copy()
        raised[row, column] += STEP_DEG
        assert np.nanmax(made(raised, THROTTLE, RPM, grid) - grid.lowest_deg) > LEFT_DEG, (row, column)


def test_a_controller_that_takes_the_nearest_cell_has_only_the_cells_about_the_hollow_lowered() -> None:
    grid, cells = hollow(2000.0, 60.0, 5.0), np.full((4, 3), 30.0)
    how: Between = "nearest cell"
    lowered = under_the_ceilings(cells, THROTTLE, RPM, grid, how, STEP_DEG)
    # At 2,000 rpm, a third of the way from 1,000 to 4,000, throttle of 20 % gives 70 - 30/3 = 60 kPa.
    assert lowered[1, 1] == 25.0
    assert lowered[3, 2] == 30.0


def test_a_plan_that_goes_out_by_throttle_stands_under_its_own_ceilings() -> None:
    """On few throttles, so that what they make between them would cross a ceiling."""
    job = Job.load(EXAMPLES / "boosted-six.toml").changed(
        "controller",
        load="percent of throttle",
        throttle_rpm=[1000, 5000],
        throttle_kpa=[[0, 30, 24], [15, 60, 40], [100, 150, 150]],
    )
    planned, loads = plan_of(job), loads_of(job)
    grid = planned.cells.between.grid
    assert grid is not None
    assert loads.throttle is not None
    rpm = planned.cells.spark_map.rpm
    over = {}
    for called, ceilings in (("as it is", None), ("held", grid)):
        text = write_map(planned.cells.spark_map, "csv", loads, ceilings=ceilings)
        cells = np.array([[float(each) for each in line.split(",")[1:]] for line in text.splitlines()[1:]])
        over[called] = float(np.nanmax(made(cells, loads.throttle, rpm, grid) - grid.lowest_deg))
    assert over["as it is"] > 3 * TELLABLE_DEG
    assert over["held"] <= TELLABLE_DEG


@pytest.mark.parametrize("how", ["straight lines", "nearest cell"])
def test_a_load_that_no_throttle_gives_asks_nothing(how: Between) -> None:
    grid, cells = hollow(4000.0, 30.0, 0.0), np.full((4, 3), 30.0)
    beyond = Grid(grid.rpm, grid.kpa + 200.0, grid.lowest_deg - 20.0, grid.names)
    assert np.array_equal(under_the_ceilings(cells, THROTTLE, RPM, beyond, how, STEP_DEG), cells)
