"""The highest map under all ceilings: lowest ceiling, limited slopes, rounded down."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sparkwright.numeric import FloatArray

TELLABLE_DEG = 0.1
"""A tenth of a degree over a ceiling is far below what a light or a controller can tell apart."""


def limit_slopes(
    lowest_deg: FloatArray, rpm: FloatArray, kpa: FloatArray, per_rpm: float, per_kpa: float
) -> tuple[FloatArray, NDArray[np.intp]]:
    """Give the highest map under a ceiling whose slopes stay within limits.

    Each cell is the least, over all cells, of that cell's ceiling plus the slope allowed on the way from
    it; so a cell is only ever lowered.

    Parameters
    ----------
    lowest_deg : array, shape (loads, speeds)
        The lowest ceiling of each cell [deg].
    rpm, kpa : array
        The axes, rising.
    per_rpm, per_kpa : float
        Steepest slopes allowed [deg/rpm], [deg/kPa], above 0.

    Returns
    -------
    limited : array, shape (loads, speeds)
        The limited map, nowhere above ``lowest_deg``.
    source : array of int, shape (loads, speeds)
        Which cell's ceiling, counted along the rows, sets each value: its own where nothing was lowered.

    Examples
    --------
    >>> rpm, kpa = np.array([0.0, 1000.0, 2000.0]), np.array([50.0])
    >>> limited, source = limit_slopes(np.array([[10.0, 40.0, 40.0]]), rpm, kpa, 0.01, 1.0)
    >>> limited
    array([[10., 20., 30.]])
    >>> source
    array([[0, 0, 0]])
    """
    speed_way = per_rpm * np.abs(rpm[:, None] - rpm[None, :])
    load_way = per_kpa * np.abs(kpa[:, None] - kpa[None, :])
    shape = (kpa.size, rpm.size)
    reached = (
        load_way[:, None, :, None] + speed_way[None, :, None, :] + lowest_deg[None, None, :, :]
    ).reshape((*shape, -1))
    # Between equal ways a cell's own ceiling is the reason to give.
    own = np.take_along_axis(reached, np.arange(lowest_deg.size).reshape((*shape, 1)), axis=2)[..., 0]
    source = reached.argmin(axis=2)
    limited = reached.min(axis=2)
    source = np.where(own <= limited, np.arange(lowest_deg.size).reshape(shape), source)
    return limited, source


def round_down(advance_deg: FloatArray, step_deg: float) -> FloatArray:
    """Round to the controller's step without ever rising [deg].

    Parameters
    ----------
    advance_deg : array
        Advance [crank deg before top dead centre], in any shape; nan stays.
    step_deg : float
        Step of the controller [crank deg], above 0.

    Examples
    --------
    >>> round_down(np.array([23.9, 24.0]), 0.5)
    array([23.5, 24. ])
    """
    steps = np.floor(advance_deg / step_deg + 1e-9)
    return np.asarray(np.minimum(steps * step_deg, advance_deg))
