"""The C yardstick of benchmarks/ computes the same cycle as the Numba kernel."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import numpy as np
import pytest

from sparkwright.cycle.cam import events_from_durations
from sparkwright.cycle.chamber import Chamber
from sparkwright.cycle.engine import Air, Constants, Engine, Fuel, charge_at
from sparkwright.cycle.hook import step_deg
from sparkwright.cycle.kernel import RESULTS, run_hook
from sparkwright.plan.result import FloatArray

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

from c_kernel import build_c_kernel

HAS_COMPILER = shutil.which("gcc") is not None

ENGINES = {
    "wedge": Engine(
        Chamber("wedge", 0.0996, 0.0919, 9.5),
        8,
        0.154,
        events_from_durations(207.0, 213.0, 108.0, 111.5, 1.27),
        0.0432,
        0.0351,
    ),
    "side-valve": Engine(
        Chamber("side-valve", 0.09525, 0.1016, 5.0),
        4,
        0.2032,
        events_from_durations(190.0, 190.0, 110.0, 112.0, 1.27),
        0.036,
        0.036,
    ),
}


def both_ways(shape: str, speed_rpm: float, map_kpa: float) -> tuple[FloatArray, FloatArray]:
    """Results of one hook from Numba and from C."""
    charge, _ = charge_at(
        ENGINES[shape],
        Air(100.0, 305.0, 0.008),
        Fuel(91.0),
        Constants(),
        speed_rpm=speed_rpm,
        map_kpa=map_kpa,
        mixture_lambda=0.95,
    )
    falling = np.linspace(60.0, -4.0, 9)
    step = step_deg(speed_rpm)
    return run_hook(charge, falling, step), build_c_kernel()(charge, falling, step)


if HAS_COMPILER:  # the program itself needs no C compiler, so a machine without one has no such test

    @pytest.mark.parametrize("shape", ENGINES)
    @pytest.mark.parametrize(("speed_rpm", "map_kpa"), [(700.0, 35.0), (2400.0, 60.0), (5600.0, 98.0)])
    def test_c_and_numba_agree(shape: str, speed_rpm: float, map_kpa: float) -> None:
        ours, theirs = both_ways(shape, speed_rpm, map_kpa)
        # What the energy balance leaves is a small difference of large numbers: hold it to the heat moved.
        gap = RESULTS.index("energy_gap_j")
        moved_j = np.abs(ours[:, RESULTS.index("work_j")]) + np.abs(ours[:, RESULTS.index("heat_j")])
        assert np.all(np.abs(ours[:, gap] - theirs[:, gap]) < 1e-9 * moved_j)
        np.testing.assert_allclose(np.delete(theirs, gap, 1), np.delete(ours, gap, 1), rtol=1e-9, atol=1e-9)
