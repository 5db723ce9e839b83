"""What findings of a drive are made from: the job's map and engine, and the windows with their cells."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from sparkwright.drive.chance import Heap
from sparkwright.drive.kernel import Cells
from sparkwright.drive.tally import Axes
from sparkwright.drive.windows import Windows
from sparkwright.findings import Value
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.hooks import FIRST_DEG, one_hook_at
from sparkwright.plan.physics import Physics, physics_of
from sparkwright.plan.result import PlanResult

MOST_PLACES = 12
"""Places that one finding names."""


@dataclass(frozen=True, eq=False)
class DriveSeen:
    """A drive as its findings see it."""

    job: Job
    plan: PlanResult
    axes: Axes
    windows: Windows
    ambient_kpa: float

    @cached_property
    def physics(self) -> Physics:
        """What the cycle is run with."""
        return physics_of(self.job)

    @cached_property
    def cells(self) -> Cells:
        """The cell of each window."""
        return self.axes.placed(self.windows.rpm, self.windows.kpa, 0.0)[0]

    @cached_property
    def asked_deg(self) -> FloatArray:
        """What the map asks at each window, between cells as a controller reads it [deg]."""
        return between_cells(self.plan, self.windows.rpm, self.windows.kpa)

    @cached_property
    def advance_deg(self) -> FloatArray | None:
        """What the engine got, or was told where only that is logged [deg]; None where neither is."""
        found = self.windows.mean("advance_deg")
        return self.windows.mean("commanded_deg") if found is None else found

    def places(self, heaps: list[Heap]) -> Value:
        """Give places with what was seen there: speed, load, events, windows.

        Parameters
        ----------
        heaps : list of Heap
            Windows gathered by where they lie close together in speed and load.
        """
        return tuple((*self.axes.place(each.cell), each.count, each.of) for each in heaps[:MOST_PLACES])

    def cost_percent(self, rpm: float, kpa: float, advance_deg: float, less_deg: float) -> float:
        """Say what a few degrees less cost in torque there [%]; nan where it isn't determined.

        Parameters
        ----------
        rpm : float
            Speed of the place [rpm].
        kpa : float
            Load of the place [kPa absolute].
        advance_deg : float
            Advance that the engine has there [deg before top dead centre].
        less_deg : float
            How much of it would be taken away [deg], above 0.
        """
        if not np.isfinite(advance_deg):
            return float("nan")
        hook = one_hook_at(self.physics, rpm, kpa)
        now, then = (hook.at(max(each, FIRST_DEG))[0] for each in (advance_deg, advance_deg - less_deg))
        return 100.0 * (1.0 - then / now) if now > 0.0 else float("nan")

    def advance_in(self, wanted: NDArray[np.bool_]) -> float:
        """Give the middle advance of some windows [deg]; nan where it isn't logged.

        Parameters
        ----------
        wanted : array of bool
            Which windows count, one for each window of the drive.
        """
        if self.advance_deg is None or not np.isfinite(self.advance_deg[wanted]).any():
            return float("nan")
        return float(np.nanmedian(self.advance_deg[wanted]))


def between_cells(plan: PlanResult, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """Read the map at many places, linear between cells and held at the edges [deg].

    Parameters
    ----------
    plan : PlanResult
        Plan whose map is read.
    rpm : array
        Speeds [rpm], one for each place.
    kpa : array
        Loads as manifold pressure [kPa absolute], one for each place.
    """
    axes, advance = (plan.cells.spark_map.kpa, plan.cells.spark_map.rpm), plan.cells.spark_map.advance_deg
    at: list[tuple[NDArray[np.int64], FloatArray]] = []
    for axis, values in zip(axes, (kpa, rpm), strict=True):
        place = np.clip(np.searchsorted(axis, values) - 1, 0, axis.size - 2)
        share = np.clip((values - axis[place]) / (axis[place + 1] - axis[place]), 0.0, 1.0)
        at.append((place, share))
    (i, x), (j, y) = at
    low = advance[i, j] * (1 - y) + advance[i, j + 1] * y
    high = advance[i + 1, j] * (1 - y) + advance[i + 1, j + 1] * y
    return np.asarray(low * (1 - x) + high * x)
