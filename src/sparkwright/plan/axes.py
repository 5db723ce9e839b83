"""The axes of a map: speeds and loads."""

from __future__ import annotations

from math import floor

import numpy as np

from sparkwright.check.demand import highest_rpm
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.load_terms import CELLS, loads_of
from sparkwright.plan.physics import Physics


def default_axes(job: Job, physics: Physics) -> tuple[FloatArray, FloatArray]:
    """Axes for a job that states none: 16 speeds and 16 loads.

    Speeds lie closer together at the bottom; loads stand on whole steps of the controller's own terms and end
    at what the site's air, and any boost, can give.

    Parameters
    ----------
    job : Job
        The job, for the highest speed that it names.
    physics : Physics
        The same as the cycle sees it, for idle and for the most that site and boost can give.
    """
    low = 50.0 * floor(0.75 * physics.idle_rpm / 50.0)
    share = np.linspace(0.0, 1.0, CELLS) ** 1.25
    rpm = 50.0 * np.round((low + share * (highest_rpm(job) - low)) / 50.0)
    for i in range(1, CELLS):
        rpm[i] = max(rpm[i], rpm[i - 1] + 50.0)
    return rpm, loads_of(job).usual_rows(physics)


def axes_of(job: Job, physics: Physics) -> tuple[FloatArray, FloatArray]:
    """Axes of a job's map: speeds [rpm] and loads [kPa], its own where it states them.

    Parameters
    ----------
    job : Job
        The job, with or without axes of its controller.
    physics : Physics
        The same as the cycle sees it.
    """
    rpm, kpa = default_axes(job, physics)
    if job.controller.speeds is not None:
        rpm = np.array(job.controller.speeds, dtype=float)
    if job.controller.loads is not None:
        kpa = np.array(job.controller.loads, dtype=float)
    return rpm, kpa
