"""The highest map under all ceilings: lowest ceiling, limited slopes, rounded down."""

from __future__ import annotations

import numpy as np

from sparkwright.plan.result import FloatArray


def limit_slopes(
    lowest_deg: FloatArray, rpm: FloatArray, kpa: FloatArray, per_rpm: float, per_kpa: float
) -> FloatArray:
    """Give the highest map under a ceiling whose slopes stay within limits.

    The least of every ceiling plus the slope allowed on the way to it, so a cell is only ever lowered.

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
    array, shape (loads, speeds)
        The limited map, nowhere above ``lowest_deg``.

    Examples
    --------
    >>> rpm, kpa = np.array([0.0, 1000.0, 2000.0]), np.array([50.0])
    >>> limit_slopes(np.array([[10.0, 40.0, 40.0]]), rpm, kpa, 0.01, 1.0)
    array([[10., 20., 30.]])
    """
    limited = lowest_deg.copy()
    speed_step, load_step = per_rpm * np.diff(rpm), (per_kpa * np.diff(kpa))[:, None]
    while True:
        before = limited.copy()
        for j in range(1, rpm.size):
            limited[:, j] = np.minimum(limited[:, j], limited[:, j - 1] + speed_step[j - 1])
        for j in range(rpm.size - 2, -1, -1):
            limited[:, j] = np.minimum(limited[:, j], limited[:, j + 1] + speed_step[j])
        for i in range(1, kpa.size):
            limited[i] = np.minimum(limited[i], limited[i - 1] + load_step[i - 1])
        for i in range(kpa.size - 2, -1, -1):
            limited[i] = np.minimum(limited[i], limited[i + 1] + load_step[i])
        if np.array_equal(before, limited):
            return limited


def round_down(advance_deg: FloatArray, step_deg: float) -> FloatArray:
    """Round to the controller's step without ever rising [deg].

    Examples
    --------
    >>> round_down(np.array([23.9, 24.0]), 0.5)
    array([23.5, 24. ])
    """
    steps = np.floor(advance_deg / step_deg + 1e-9)
    return np.asarray(np.minimum(steps * step_deg, advance_deg))
