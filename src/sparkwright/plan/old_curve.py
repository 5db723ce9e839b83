"""The old mechanical and vacuum advance as a map, held against the plan."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.result import OldCurve


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
    old_deg: FloatArray,
    plan_deg: FloatArray,
    knock_deg: FloatArray,
    rpm: FloatArray,
    kpa: FloatArray,
    met: NDArray[np.bool_] | None = None,
) -> OldCurve:
    """Say where the old system was late and where it risked knock.

    Parameters
    ----------
    old_deg, plan_deg : array, shape (loads, speeds)
        The old advance and the plan's [crank deg].
    knock_deg : array, shape (loads, speeds)
        The knock ceiling; nan where there is none, -inf where the charge knocks at any advance.
    rpm, kpa : array
        The axes.
    met : array of bool, optional
        Cells to speak of; all of them when not given.

    Returns
    -------
    OldCurve
        Degrees late, degrees over knock (inf where it knocks at any advance), and sentences.

    Examples
    --------
    >>> axes = np.array([1000.0, 2000.0]), np.array([40.0])
    >>> old, plan = np.array([[10.0, 20.0]]), np.array([[14.0, 18.0]])
    >>> compare_old(old, plan, np.array([[np.nan, 19.0]]), *axes).sentences[0]
    'The old curves were late by up to 4 deg, most at 1,000 rpm and 40 kPa.'
    """
    short = np.maximum(plan_deg - old_deg, 0.0)
    over = np.where(np.isnan(knock_deg), 0.0, np.maximum(old_deg - knock_deg, 0.0))
    all_short, all_over = short, over
    sentences = []
    if met is not None:  # what is said, is said of cells a running engine meets
        short, over = np.where(met, short, 0.0), np.where(met, over, 0.0)
    if short.max() >= 1.0:
        i, j = np.unravel_index(int(np.argmax(short)), short.shape)
        sentences.append(
            f"The old curves were late by up to {short[i, j]:.0f} deg, "
            f"most at {rpm[j]:,.0f} rpm and {kpa[i]:.0f} kPa."
        )
    hopeless = np.isinf(over)
    known = np.where(hopeless, 0.0, over)
    if known.max() >= 0.5:
        i, j = np.unravel_index(int(np.argmax(known)), known.shape)
        sentences.append(
            f"They stood up to {known[i, j]:.0f} deg over the knock ceiling, margin included, "
            f"most at {rpm[j]:,.0f} rpm and {kpa[i]:.0f} kPa."
        )
    if hopeless.any():
        i, j = np.argwhere(hopeless)[0]
        sentences.append(
            f"This fuel knocks at any advance in {int(hopeless.sum())} of {over.size} cells, "
            f"the first at {rpm[j]:,.0f} rpm and {kpa[i]:.0f} kPa."
        )
    if not sentences:
        sentences.append("The old curves lay close to the plan.")
    return OldCurve(old_deg, all_short, all_over, tuple(sentences))
