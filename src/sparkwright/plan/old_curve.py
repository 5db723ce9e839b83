"""The old mechanical and vacuum advance as a map, held against the plan."""

from __future__ import annotations

import numpy as np

from sparkwright.job import Job
from sparkwright.plan.result import FloatArray, OldCurve


def old_map(job: Job, rpm: FloatArray, kpa: FloatArray, ambient_kpa: float) -> FloatArray | None:
    """Advance that the old distributor gave over speed and load, shape (loads, speeds) [crank deg].

    Initial, plus the mechanical curve at the speed, plus the vacuum curve at the manifold's vacuum;
    both straight between their points and held beyond the ends. None where the job states no curve.
    """
    curve = job.old_curve
    if curve is None:
        return None
    speeds, mechanical = np.array(curve.mechanical, dtype=float).T
    by_speed = curve.initial_deg + np.interp(rpm, speeds, mechanical)
    by_load = np.zeros(kpa.size)
    if curve.vacuum:
        vacuum_kpa, vacuum_deg = np.array(curve.vacuum, dtype=float).T
        by_load = np.interp(np.maximum(ambient_kpa - kpa, 0.0), vacuum_kpa, vacuum_deg)
    return np.asarray(by_speed[None, :] + by_load[:, None])


def compare_old(
    old_deg: FloatArray, plan_deg: FloatArray, knock_deg: FloatArray, rpm: FloatArray, kpa: FloatArray
) -> OldCurve:
    """Say where the old system was late and where it risked knock."""
    short = np.maximum(plan_deg - old_deg, 0.0)
    over = np.nan_to_num(np.maximum(old_deg - knock_deg, 0.0))
    sentences = []
    if short.max() >= 1.0:
        i, j = np.unravel_index(int(np.argmax(short)), short.shape)
        sentences.append(
            f"The old curves were late by up to {short[i, j]:.0f} deg, "
            f"most at {rpm[j]:,.0f} rpm and {kpa[i]:.0f} kPa."
        )
    if over.max() >= 0.5:
        i, j = np.unravel_index(int(np.argmax(over)), over.shape)
        sentences.append(
            f"They stood up to {over[i, j]:.0f} deg over the knock ceiling, "
            f"most at {rpm[j]:,.0f} rpm and {kpa[i]:.0f} kPa."
        )
    if not sentences:
        sentences.append("The old curves lay close to the plan.")
    return OldCurve(old_deg, short, over, tuple(sentences))
