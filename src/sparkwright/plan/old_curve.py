"""The old mechanical and vacuum advance as a map, held against the plan."""

from __future__ import annotations

from typing import SupportsIndex

import numpy as np
from numpy.typing import NDArray

from sparkwright.findings import Finding, Value
from sparkwright.job import Job
from sparkwright.numeric import FloatArray
from sparkwright.plan.result import OldCurve


def old_map(job: Job, rpm: FloatArray, kpa: FloatArray, ambient_kpa: float) -> FloatArray | None:
    """Advance that the old distributor gave over speed and load, shape (loads, speeds) [crank deg].

    Initial, plus the mechanical curve at the speed, plus the vacuum curve at the manifold's vacuum;
    both straight between their points and held beyond the ends. None where the job states no curve.

    Parameters
    ----------
    job : Job
        The job, which may state the curve.
    rpm : array
        Speeds [rpm].
    kpa : array
        Loads [kPa absolute].
    ambient_kpa : float
        The site's air, from which vacuum counts [kPa absolute].
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
    pull_nm: FloatArray | None = None,
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
    pull_nm : array, optional
        Torque of each cell, 0 where the engine hardly pulls: being late weighs as much as the engine works
        there, a choice. All cells weigh the same when not given.

    Returns
    -------
    OldCurve
        Degrees late, degrees over knock (inf where it knocks at any advance), and findings.

    Examples
    --------
    >>> axes = np.array([1000.0, 2000.0]), np.array([40.0])
    >>> old, plan = np.array([[10.0, 20.0]]), np.array([[14.0, 18.0]])
    >>> compare_old(old, plan, np.array([[np.nan, 19.0]]), *axes).findings[0].numbers
    {'late_deg': 4.0, 'mean_deg': 2.0, 'rpm': 1000.0, 'kpa': 40.0}
    """
    short = np.maximum(plan_deg - old_deg, 0.0)
    over = np.where(np.isnan(knock_deg), 0.0, np.maximum(old_deg - knock_deg, 0.0))
    all_short, all_over = short, over
    found = []
    if met is not None:  # what is said, is said of cells a running engine meets
        short, over = np.where(met, short, 0.0), np.where(met, over, 0.0)

    def at(i: SupportsIndex, j: SupportsIndex) -> dict[str, Value]:
        return {"rpm": float(rpm[j]), "kpa": float(kpa[i])}

    weight = np.ones_like(short) if pull_nm is None else pull_nm
    weight = weight if met is None else np.where(met, weight, 0.0)
    if np.where(weight > 0.0, short, 0.0).max() >= 1.0:
        i, j = np.unravel_index(int(np.argmax(weight * short)), short.shape)
        numbers = {"late_deg": float(short[i, j]), "mean_deg": float(np.average(short, weights=weight))}
        found.append(Finding("old-curve.late", "look", {**numbers, **at(i, j)}))
    hopeless = np.isinf(over)
    known = np.where(hopeless, 0.0, over)
    if known.max() >= 0.5:
        i, j = np.unravel_index(int(np.argmax(known)), known.shape)
        found.append(Finding("old-curve.over-knock", "look", {"over_deg": float(known[i, j]), **at(i, j)}))
    if hopeless.any():
        i, j = np.argwhere(hopeless)[0]
        counted = {"cells": int(hopeless.sum()), "of_cells": int(over.size if met is None else met.sum())}
        found.append(Finding("old-curve.at-any-advance", "look", {**counted, **at(i, j)}))
    if not found:
        found.append(Finding("old-curve.close", "good"))
    return OldCurve(old_deg, all_short, all_over, tuple(found))
