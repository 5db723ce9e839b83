"""A map from elsewhere held against the plan's ceilings."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

import numpy as np

from sparkwright.errors import InputError
from sparkwright.job import Job
from sparkwright.plan.ceilings import TELLABLE_DEG
from sparkwright.plan.firmness import Mapper
from sparkwright.plan.hooks import LAST_DEG
from sparkwright.plan.planner import plan
from sparkwright.plan.result import WORST_FIRST, FloatArray, PlanResult
from sparkwright.plan.spark_map import SparkMap


@dataclass(frozen=True)
class CellOver:
    """One cell that stands over a ceiling."""

    rpm: float
    kpa: float
    advance_deg: float
    ceiling: str
    ceiling_deg: float
    over_deg: float
    by_hand: bool
    """Whether the job itself sets the cell to this value by hand."""


@dataclass(frozen=True)
class Comparison:
    """A map against the plan, on the map's own cells.

    ``plan_deg`` and ``difference_deg`` (map less plan) have the map's shape; nan where the cell lies
    outside the plan's speeds and loads.
    """

    job_name: str
    fingerprint: str
    spark_map: SparkMap
    plan_deg: FloatArray
    difference_deg: FloatArray
    over: tuple[CellOver, ...]
    headline: str
    action: str
    problems: tuple[str, ...]
    warnings: tuple[str, ...]


def planned_on_its_axes(job: Job, spark_map: SparkMap, *, run: Mapper = map) -> PlanResult:
    """Plan a job on the axes of a map, so that each of the map's cells meets its own ceilings.

    ``run`` is that of ``plan.planner.plan``.

    Raises
    ------
    InputError
        If the map's axes leave nothing to plan; the map is named, and not the job's controller.
    """
    try:
        own_axes = job.changed("controller", rpm=spark_map.rpm.tolist(), kpa=spark_map.kpa.tolist())
        return plan(own_axes, run=run)
    except InputError as refusal:
        section, _, axis = refusal.field.partition(".")
        if section != "controller":
            raise
        raise InputError(f"map.{axis}", refusal.value, refusal.must, refusal.do) from refusal


def _carried(grid: FloatArray, plan: PlanResult, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """Carry a grid of the plan's to other axes; nan outside them or where a cell used has no value."""
    own = plan.spark_map
    rows = np.array([np.interp(rpm, own.rpm, row, left=np.nan, right=np.nan) for row in grid])
    return np.array([np.interp(kpa, own.kpa, column, left=np.nan, right=np.nan) for column in rows.T]).T


def _ceiling(name: str, plan: PlanResult, rpm: FloatArray, kpa: FloatArray) -> FloatArray:
    """Carry a ceiling; between a cell that has it and one without, it counts as the last that was tested."""
    own = np.asarray(getattr(plan.ceilings, f"{name}_deg"))
    without = np.isnan(own)
    carried = _carried(np.where(without, LAST_DEG, own), plan, rpm, kpa)
    return np.where(_carried(without.astype(float), plan, rpm, kpa) == 1.0, np.nan, carried)


def _the_most(says: str, ceiling: str, over: list[CellOver], of: int) -> list[str]:
    """Say how many cells stand over a ceiling, and by how much and where the most; ``over`` has it first."""
    cells = [cell for cell in over if cell.ceiling == ceiling and isfinite(cell.over_deg)]
    if not cells:
        return []
    worst = cells[0]
    return [
        f"{says}: {len(cells)} of {of} cells, the most by {worst.over_deg:.1f} deg "
        f"at {worst.rpm:,.0f} rpm and {worst.kpa:.0f} kPa "
        f"({worst.advance_deg:g} deg, ceiling {worst.ceiling_deg:.1f})."
    ]


def compare_map(plan: PlanResult, spark_map: SparkMap) -> Comparison:
    """Hold a map against the plan: which cells stand over which ceiling, and by how much.

    Parameters
    ----------
    plan : PlanResult
        The plan of the job.
    spark_map : SparkMap
        The map to check, on axes of its own.

    Returns
    -------
    Comparison
        Every cell over knock, reach or a hand's ceiling is a problem; one that is over best and nothing
        else is told.
    """
    rpm, kpa, value = spark_map.rpm, spark_map.kpa, spark_map.advance_deg
    plan_deg = _carried(plan.spark_map.advance_deg, plan, rpm, kpa)
    set_by_hand = {
        (plan.spark_map.rpm[j], plan.spark_map.kpa[i], plan.spark_map.advance_deg[i, j])
        for i, j in np.argwhere(plan.by_hand)
    }
    over = []
    over_another = np.zeros(value.shape, dtype=bool)
    for name in WORST_FIRST:
        ceiling = _ceiling(name, plan, rpm, kpa)
        above = np.nan_to_num(value - ceiling, nan=0.0, posinf=np.inf)
        stands_over = above > TELLABLE_DEG
        if name == "best":  # past best only costs torque; that is never said of a cell over a worse ceiling
            stands_over &= ~over_another
        over_another |= stands_over
        for i, j in np.argwhere(stands_over):
            over.append(
                CellOver(
                    float(rpm[j]),
                    float(kpa[i]),
                    float(value[i, j]),
                    name,
                    float(ceiling[i, j]),
                    float(above[i, j]),
                    (rpm[j], kpa[i], value[i, j]) in set_by_hand,
                )
            )
    over.sort(key=lambda cell: (WORST_FIRST.index(cell.ceiling), -cell.over_deg))
    problems = []
    hopeless = [cell for cell in over if not isfinite(cell.over_deg)]
    if hopeless:
        problems.append(
            f"This fuel knocks at any advance in {len(hopeless)} of {value.size} cells, the first at "
            f"{hopeless[0].rpm:,.0f} rpm and {hopeless[0].kpa:.0f} kPa."
        )
    problems += _the_most("Over the knock ceiling", "knock", over, value.size)
    problems += _the_most("More than the rotor reaches", "reach", over, value.size)
    late_side = value < _carried(plan.ceilings.floor_deg, plan, rpm, kpa)
    if late_side.any():
        i, j = np.argwhere(late_side)[0]
        problems.append(
            f"Later than the rotor covers its post: {int(late_side.sum())} of {value.size} cells, the first "
            f"{value[i, j]:g} deg at {rpm[j]:,.0f} rpm and {kpa[i]:.0f} kPa; such a spark can go to the "
            "wrong cylinder."
        )
    problems += _the_most("Over a limit set by hand", "hand", over, value.size)
    warnings = []
    known = {(cell.rpm, cell.kpa) for cell in over if cell.by_hand and cell.ceiling != "best"}
    if known:
        warnings.append(
            f"Set by hand to just this value in the job: {len(known)} of the cells over a ceiling; the plan "
            "gives their reasons."
        )
    warnings += [
        f"{said[:-1]}; more advance there only costs torque."
        for said in _the_most("Past best", "best", over, value.size)
    ]
    outside = int(np.isnan(plan_deg).sum())
    if outside:
        warnings.append(
            f"Outside the plan's speeds and loads: {outside} of {value.size} cells; nothing is said of them."
        )
    return Comparison(
        job_name=plan.job_name,
        fingerprint=plan.fingerprint,
        spark_map=spark_map,
        plan_deg=plan_deg,
        difference_deg=value - plan_deg,
        over=tuple(over),
        headline=problems[0] if problems else "No cell stands over a ceiling of the plan.",
        action="Change those cells before the engine is loaded." if problems else "Prove it with the light.",
        problems=tuple(problems),
        warnings=tuple(warnings),
    )
