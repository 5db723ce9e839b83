"""A map by throttle, safe between its cells too.

A controller with loads by throttle interpolates over throttle and speed. What it makes of its table at a
speed and a pressure is what the table says at the throttle that gives that pressure there. Held under a
ceiling at each point of the plan's own fine grid, the table is lowered as little as will do, by the linear
programme that serves the plan itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from sparkwright.job import Between
from sparkwright.numeric import FloatArray
from sparkwright.plan.between import Pairs, lowered_under, nearest_weights
from sparkwright.plan.between_cells import Grid
from sparkwright.plan.support import straight_weights

if TYPE_CHECKING:
    from scipy.sparse import csr_array

FREE = Pairs(np.empty(0, np.intp), np.empty(0, np.intp), np.empty(0))
"""No slopes: those of the map are kept over pressure, not over throttle."""


@dataclass(frozen=True)
class Throttle:
    """What throttle gives what pressure at what speed, as the person knows of the engine.

    Straight lines between its points; at speeds beyond its own the nearest counts.
    """

    rpm: FloatArray
    percent: FloatArray
    kpa: FloatArray
    """Shape (throttle, speeds), rising with the throttle [kPa absolute]."""

    def kpa_at(self, rpm: float) -> FloatArray:
        """Give the pressure at each of its throttles at a speed [kPa absolute].

        Parameters
        ----------
        rpm : float
            Engine speed [rpm].
        """
        return np.array([float(np.interp(rpm, self.rpm, row)) for row in self.kpa])


def made_of_throttles(
    throttle: Throttle, rpm: FloatArray, grid: Grid, how: Between
) -> tuple[csr_array, FloatArray]:
    """Give of which cells of a table by throttle each point of a fine grid is made, and the ceiling there.

    Points at a pressure that no throttle of the table gives at that speed are left out.

    Parameters
    ----------
    throttle : Throttle
        Its throttles are the rows of the table.
    rpm : array
        Speeds of the table [rpm].
    grid : Grid
        The ceilings over pressure and speed.
    how : {"straight lines", "nearest cell"}
        What the controller does between cells.

    Returns
    -------
    csr_array, shape (points, cells), and array, shape (points,)
        Cells counted along the rows of the table; ceilings [crank deg]. Midway between cells either may be
        the nearest: then points come once for each way to settle it.
    """
    from scipy.sparse import csr_array, kron, vstack

    rows, ceilings = [], []
    for column, speed in enumerate(grid.rpm.tolist()):
        pressures, ceiling = throttle.kpa_at(speed), grid.lowest_deg[:, column]
        met = (grid.kpa >= pressures[0]) & (grid.kpa <= pressures[-1]) & np.isfinite(ceiling)
        percent, at = np.interp(grid.kpa[met], pressures, throttle.percent), np.array([speed])
        for down, across in product(_weights(how, throttle.percent, percent), _weights(how, rpm, at)):
            rows.append(kron(csr_array(down), csr_array(across)))
            ceilings.append(ceiling[met])
    return csr_array(vstack(rows)), np.concatenate(ceilings)


def _weights(how: Between, points: FloatArray, wanted: FloatArray) -> list[FloatArray]:
    """Give the weights along one axis, once for each way to settle what lies midway."""
    if how == "straight lines":
        return [straight_weights(points, wanted)]
    return [nearest_weights(points, wanted, later) for later in (False, True)]


def under_the_ceilings(
    cells_deg: FloatArray, throttle: Throttle, rpm: FloatArray, grid: Grid, how: Between, step_deg: float
) -> FloatArray:
    """Lower a table by throttle, as little as will do, until nothing it makes stands over a ceiling.

    Parameters
    ----------
    cells_deg : array, shape (throttles, speeds)
        The table, under its ceilings at its own cells, in whole steps [crank deg].
    throttle : Throttle
        Its rows.
    rpm : array
        Its speeds [rpm].
    grid : Grid
        The ceilings over pressure and speed.
    how : {"straight lines", "nearest cell"}
        What the controller does between cells.
    step_deg : float
        The controller's step [crank deg].

    Returns
    -------
    array, shape (throttles, speeds)
        The table, nowhere above what it was [crank deg].
    """
    weights, ceiling_deg = made_of_throttles(throttle, rpm, grid, how)
    use = np.ones(cells_deg.size)
    lowered = lowered_under(cells_deg.ravel(), weights, ceiling_deg, FREE, use, step_deg)
    return lowered.reshape(cells_deg.shape)
