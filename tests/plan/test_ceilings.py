"""Slopes and rounding, held against the definition written out cell by cell."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as drawn

from sparkwright.numeric import FloatArray
from sparkwright.plan.ceilings import limit_slopes, round_down

QUICK = settings(deadline=None, max_examples=60)
AXES = st.lists(st.integers(1, 400), min_size=1, max_size=5, unique=True).map(sorted)
SLOPES = st.floats(0.001, 2.0)


@st.composite
def grids(draw: st.DrawFn) -> tuple[FloatArray, FloatArray, FloatArray]:
    """A grid of ceilings and its axes."""
    rpm, kpa = np.array(draw(AXES), dtype=float), np.array(draw(AXES), dtype=float)
    cells = draw(drawn.arrays(float, (kpa.size, rpm.size), elements=st.floats(-25.0, 90.0)))
    return cells, rpm, kpa


def envelope(
    lowest_deg: FloatArray, rpm: FloatArray, kpa: FloatArray, per_rpm: float, per_kpa: float
) -> FloatArray:
    """The definition: each cell the least, over all cells, of its ceiling plus the slope on the way there."""
    limited = np.empty_like(lowest_deg)
    for i, load in enumerate(kpa):
        for j, speed in enumerate(rpm):
            way = per_rpm * np.abs(rpm - speed)[None, :] + per_kpa * np.abs(kpa - load)[:, None]
            limited[i, j] = np.min(lowest_deg + way)
    return limited


@QUICK
@given(grid=grids(), per_rpm=SLOPES, per_kpa=SLOPES)
def test_slopes_equal_the_definition(
    grid: tuple[FloatArray, FloatArray, FloatArray], per_rpm: float, per_kpa: float
) -> None:
    cells, rpm, kpa = grid
    found, source = limit_slopes(cells, rpm, kpa, per_rpm, per_kpa)
    np.testing.assert_allclose(found, envelope(cells, rpm, kpa, per_rpm, per_kpa), rtol=0, atol=1e-9)
    row, column = np.unravel_index(source, cells.shape)
    way = per_rpm * np.abs(rpm[None, :] - rpm[column]) + per_kpa * np.abs(kpa[:, None] - kpa[row])
    np.testing.assert_allclose(cells[row, column] + way, found, rtol=0, atol=1e-9)
    own = np.arange(cells.size).reshape(cells.shape)
    assert np.array_equal(source == own, found == cells), "a cell that was not lowered is its own source"


@QUICK
@given(grid=grids(), per_rpm=SLOPES, per_kpa=SLOPES)
def test_slopes_hold_and_no_cell_is_lifted(
    grid: tuple[FloatArray, FloatArray, FloatArray], per_rpm: float, per_kpa: float
) -> None:
    cells, rpm, kpa = grid
    before = cells.copy()
    found, _ = limit_slopes(cells, rpm, kpa, per_rpm, per_kpa)
    assert np.all(found <= cells)
    assert np.all(np.abs(np.diff(found, axis=1)) <= per_rpm * np.diff(rpm) + 1e-9)
    assert np.all(np.abs(np.diff(found, axis=0)) <= (per_kpa * np.diff(kpa))[:, None] + 1e-9)
    assert np.array_equal(cells, before), "what was given must not change"
    np.testing.assert_allclose(limit_slopes(found, rpm, kpa, per_rpm, per_kpa)[0], found, rtol=0, atol=1e-9)


def test_a_grid_within_its_slopes_stays_as_it_is() -> None:
    cells = np.array([[10.0, 14.0], [6.0, 10.0]])
    axes = np.array([1000.0, 2000.0]), np.array([40.0, 50.0])
    assert np.array_equal(limit_slopes(cells, *axes, 0.004, 0.4)[0], cells)


@QUICK
@given(
    advance=drawn.arrays(float, 8, elements=st.floats(-25.0, 90.0)),
    step=st.sampled_from([0.05, 0.1, 0.25, 0.3, 0.5, 1.0, 2.5]),
)
def test_rounding_never_rises_and_takes_less_than_a_step(advance: FloatArray, step: float) -> None:
    found = round_down(advance, step)
    assert np.all(found <= advance)
    assert np.all(advance - found < step)
    # On the step, to what a decimal step can be held to in binary.
    np.testing.assert_allclose(found / step, np.round(found / step), rtol=0, atol=1e-6)


@pytest.mark.parametrize(
    ("advance", "step", "wanted"), [(23.9, 0.5, 23.5), (-0.1, 0.5, -0.5), (7.0, 1.0, 7.0)]
)
def test_rounding_by_hand(advance: float, step: float, wanted: float) -> None:
    assert round_down(np.array([advance]), step)[0] == wanted
